"""The Moment page: the answer first, the half hour below it, by mode, slot and side only."""

import html
import re

import numpy as np
import pytest

from server.analytics.activity import Activity, Overs, Pages, Refusals, Unfinished
from server.analytics.moment_strip import half_hour
from server.analytics.moment_types import Down, Moment
from server.config.schema import Target
from server.telling.addresses import moment_path
from server.telling.moment_sentences import Logged, moment_sentences, plain
from server.telling.targets import TargetNames
from server.web.moment.charts import LEFT, WIDTH, moment_strip
from shared import spans as sp
from shared.timers import Timers
from shared.zones import HOUR, SECOND, instant
from tests.web.conftest import Opened
from tests.web.web_fakes import ZONE, FakeSource, FakeStation, empty_source, hostile_source

TALK = "/moment?day=2026-11-18&time=19:01&mode=dmr"


def said(text: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\u00a0", " ")


def test_the_answer_stands_before_the_form_and_the_picture(open_pages: Opened) -> None:
    page = open_pages().get(TALK).text
    places = [page.index(part) for part in ("On Wed 18 Nov 2026 at 19:01:00", "<form", '<svg class="map moment"')]
    assert places == sorted(places)
    assert "C4FM held the repeater" in said(page) and "A DMR caller would have waited" in said(page)
    assert 'value="2026-11-18"' in page and 'value="19:01"' in page and 'value="dmr" selected' in page


def test_a_page_without_a_moment_asks_for_one(open_pages: Opened) -> None:
    answer = open_pages().get("/moment")
    assert answer.status_code == 200 and "Give the day, the time and their mode." in answer.text
    assert "The half hour" not in answer.text


@pytest.mark.parametrize(
    "query, sentence",
    [
        ("day=2026-03-29&time=01:30", "01:30 does not exist on that day: the clocks go forward over it."),
        ("day=soon&time=20:15", "Give a day and a time, such as 2026-11-17 and 20:15."),
        ("day=2026-11-18&time=", "Give a day and a time"),
        ("at=2026-11-18", "Give a day and a time"),
        ("at=9999-12-31T23:59:59Z", "Give a day and a time"),
        ("day=2026-11-18&time=19:01&mode=ax", "The mode is none of those that the pages know"),
        ("day=%3Cb%3E&time=%00", "Give a day and a time"),
    ],
)
def test_what_is_no_moment_is_said_above_the_form(open_pages: Opened, query: str, sentence: str) -> None:
    answer = open_pages().get(f"/moment?{query}")
    assert answer.status_code == 400 and sentence in said(answer.text) and "<b>" not in answer.text.split("<form")[1]


def test_of_a_local_time_that_comes_twice_the_other_is_a_link(open_pages: Opened) -> None:
    client = open_pages()
    first = client.get("/moment?day=2026-10-25&time=01:30").text
    assert "this is the first of the two (BST)" in said(first) and "The other one: 01:30:00 GMT" in first
    (other,) = re.findall(r'href="(/moment\?at=[^"]+)"', first)
    assert "this is the second of the two (GMT)" in said(client.get(html.unescape(other)).text)


def test_a_step_of_fifteen_minutes_moves_the_moment_and_nothing_else_does(open_pages: Opened) -> None:
    client = open_pages()
    assert "2026 at 19:16:00" in said(client.get(f"{TALK}&move=15").text)
    assert "2026 at 18:46:00" in said(client.get(f"{TALK}&move=-15").text)
    assert "2026 at 19:01:00" in said(client.get(f"{TALK}&move=9999").text)


@pytest.mark.parametrize(
    "time, sentence, step",
    [
        ("2026-08-01T12:00:00Z", "The log begins on Mon 31 Aug 2026, 00:04.", "Choose a moment between"),
        (
            "2026-11-24T21:40:30Z",
            "The last line that was read is of Tue 24 Nov 2026, 21:40.",
            "Choose a moment between",
        ),
        ("2027-01-01T12:00:00Z", "lies ahead", "Choose a moment between"),
    ],
)
def test_what_nobody_saw_is_not_known_and_says_what_to_do(
    open_pages: Opened, time: str, sentence: str, step: str
) -> None:
    page = said(open_pages().get(f"/moment?at={time}&mode=fm").text)
    assert sentence in page and step in page
    assert "was free" not in page and "could have gone ahead" not in page


def test_an_empty_store_says_what_to_do(open_pages: Opened) -> None:
    page = open_pages(empty_source()).get(TALK).text
    assert "<code>airtally ingest</code> reads them" in page and "<code>airtally check</code>" in page


def test_no_station_stands_on_the_page_and_hostile_names_are_text(open_pages: Opened) -> None:
    page = open_pages(hostile_source()).get(TALK).text
    assert "QA1A" not in page and "<script" not in page and "\x1b" not in page and "\u202e" not in page


def half(**columns: object) -> Activity:
    none = np.empty(0, dtype=np.int64)
    found = {"overs": Overs(*([none] * 8), none.astype(bool)), "refusals": Refusals(*([none] * 5))}
    found |= {"unfinished": Unfinished(none, none, none), "pages": Pages(none, none, none, none)}
    return Activity(**{**found, **columns})  # type: ignore[arg-type]


AT = instant("2026-11-18T19:00", ZONE)
TIMERS = Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0)


def ints(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int64)


def test_the_strip_has_a_lane_for_each_mode_and_slot_with_its_overs_holds_calls_and_starts() -> None:
    minutes = [AT + 60 * SECOND * n for n in range(20)]
    overs = Overs(
        ints(*minutes[:3]), ints(*(at + 30 * SECOND for at in minutes[:3])), ints(1, 1, 3), ints(1, 2, 0),
        ints(0, 1, -1), ints(4, 5, 6), ints(-1, -1, -1), ints(-1, -1, -1), np.zeros(3, dtype=bool),
    )  # fmt: skip
    refusals = Refusals(ints(minutes[2]), ints(1), ints(0), ints(7), ints(0))
    unfinished = Unfinished(ints(minutes[5]), ints(minutes[6]), ints(6))
    unlogged = sp.spans([minutes[10]], [minutes[19]])
    found = half_hour(half(overs=overs, refusals=refusals, unfinished=unfinished, unlogged=unlogged), AT, TIMERS)
    assert [(lane.mode, lane.slot) for lane in found.lanes] == [("dmr", 1), ("dmr", 2), ("fm", None), ("p25", None)]
    assert [len(lane.sent) for lane in found.lanes] == [1, 1, 1, 0]
    assert [len(lane.attempts) for lane in found.lanes] == [1, 0, 0, 0] and found.lanes[3].begun == (minutes[5],)
    assert found.unseen == ((minutes[10], AT + 900 * SECOND),)
    drawn = moment_strip(found, ZONE)
    assert drawn.at == (LEFT + WIDTH) / 2 and [lane.name for lane in drawn.lanes][:2] == ["DMR slot 1", "DMR slot 2"]
    dmr, fm = drawn.lanes[0], drawn.lanes[2]
    assert dmr.air == ((drawn.at, pytest.approx(30 / 1800 * (WIDTH - LEFT), abs=0.11)),) and dmr.other == ()
    assert len(fm.other) == 1 and fm.held[0][1] == pytest.approx(50 / 1800 * (WIDTH - LEFT), abs=0.11)


def test_a_moment_has_one_address_whatever_the_clocks_do() -> None:
    assert moment_path(instant("2026-10-25T01:30", ZONE), "fm") == "/moment?at=2026-10-25T00:30:00Z&mode=fm"
    assert moment_path(instant("2026-10-25T01:30+00:00", ZONE)) == "/moment?at=2026-10-25T01:30:00Z"


def test_links_are_told_by_their_label(open_pages: Opened) -> None:
    chat = Target(mode="dmr", name="99901", label="Chat", reach="local")
    source = FakeSource(place=FakeStation(names=TargetNames([chat])))
    page = said(open_pages(source).get(TALK).text)
    assert "DMR Chat was down from 18:53:30 and has not come back." in page and "99901" not in page


def test_a_half_hour_that_nobody_saw_is_not_told_to_have_been_quiet() -> None:
    at = instant("2026-11-17T20:15", ZONE)
    lost = (Down(("moorland", "dmr", None), at - HOUR, None),)
    blind = Moment(at, ZONE, None, False, None, 0.0, None, None, None, None, None, None, None, lost, None)
    told = " ".join(map(plain, moment_sentences(blind, Logged((at - HOUR, at - HOUR), at + HOUR), TargetNames(()))))
    assert "All of the half hour around it was not seen, so of anything else in it nothing is known." in told
    assert "no refused call" not in told and "30 min was not seen" not in told
