"""The Sharing pages: what they say, what they refuse, and how a change is entered."""

import re
from dataclasses import replace

import numpy as np
import pytest

from server.analytics.replay_result import replay_result
from server.config.schema import Target
from server.store.timers import TimerChange
from server.telling import caution
from server.telling.replay_texts import assumptions, replay_texts
from server.telling.targets import TargetNames
from shared import spans as sp
from shared.zones import instant
from tests.web.conftest import Opened
from tests.web.test_access import sign_in
from tests.web.test_pages import Page
from tests.web.web_fakes import (
    HOSTILE,
    START,
    TIMERS,
    ZONE,
    FakeSource,
    FakeStation,
    activity_of,
    empty_source,
    hostile_source,
)

DAYS = "first=2026-11-02&last=2026-11-15"
WINDOW = (instant("2026-11-02", ZONE), instant("2026-11-16", ZONE))


def text(client, path: str) -> str:  # type: ignore[no-untyped-def]
    answer = client.get(path)
    assert answer.status_code == 200, (path, answer.status_code)
    return re.sub(r"\s+", " ", Page(answer.text).text.replace("\xa0", " "))


def test_the_usual_days_are_the_four_weeks_up_to_the_last_whole_one(open_pages: Opened) -> None:
    assert "26 October to 22 November 2026" in text(open_pages(), "/sharing")


def test_a_young_log_is_shown_from_its_first_week_on_and_said_to_begin_within(open_pages: Opened) -> None:
    source = FakeSource()
    assert "The log" not in text(open_pages(source), "/sharing").split("Who was shut out by whom")[0]
    source.span = (instant("2026-11-11T14:00", ZONE), source.span[1])
    source.state = "young"
    said = text(open_pages(source), "/sharing")
    assert "9 to 22 November 2026" in said
    assert (
        "The log begins on Wed 11 Nov, 14:00: the rest counts as blind time and is left out of the percentages." in said
    )


def test_sharing_has_every_part_that_it_is_for(open_pages: Opened) -> None:
    said = text(open_pages(), f"/sharing?{DAYS}")
    for part in (
        "Who was shut out by whom",
        "Held, and silent",
        "Idle hold",
        "Ran out",
        "The chance of finding it held",
        "95 %",
        "The slots of DMR",
        "The second slot saves",
        "estimated",
        "Carried traffic",
        "Erlang B",
        "Busy hour, month by month",
        "October 2026",
        "Kerchunks",
        "Short gaps",
        "Local on wide",
        "by target",
        "by local hour",
    ):
        assert part in said, part
    assert "QA1" not in said  # trends by target and hour, never by person


def test_a_target_of_few_stations_may_be_a_person_and_is_not_named(open_pages: Opened) -> None:
    source = FakeSource()
    activity = activity_of(*WINDOW, source.targets)
    source.activity = lambda start, end: activity  # type: ignore[method-assign]
    assert "9990123" in text(open_pages(source), f"/sharing?{DAYS}")  # used by many
    lonely = activity.overs.target == 2
    activity.overs.station[lonely] = np.arange(lonely.sum()) % 2  # and now by two
    source.state = "2"
    said = text(open_pages(source), f"/sharing?{DAYS}")
    assert (
        all(word in said for word in ("99901", "BFR A", "All others"))
        and "9990123" not in open_pages(source).get(f"/sharing?{DAYS}").text
    )


def test_a_target_is_called_by_its_label(open_pages: Opened) -> None:
    named = TargetNames([Target(name="BFR A", label="Brackenfell chat")])
    said = text(open_pages(FakeSource(place=FakeStation(names=named))), f"/sharing?{DAYS}")
    assert "Brackenfell chat" in said and "BFR A" not in said


def test_the_replay_page_says_what_the_replay_says(open_pages: Opened) -> None:
    said = text(open_pages(), f"/sharing/replay?{DAYS}&hold_dmr=2&timeout=20")
    activity = activity_of(*WINDOW, ("99901", "BFR A", "9990123"))
    found = replay_result(activity, WINDOW, TIMERS, ZONE, {"dmr": 2.0}, 20.0)
    then, effects = found.compared.then, found.compared.effects
    assert f"{effects.attempts_spared} of the refused calls would have found it free" in said
    assert effects.attempts_spared > 0 and then.overs_cut > 0
    assert f"{then.overs_cut} overs cut (0 now)" in said
    assert "Counted in the log" in said and "Simulated, estimated" in said
    for line in assumptions(found):
        assert line in said


def test_the_replay_page_has_a_curve_with_its_numbers_for_each_mode(open_pages: Opened) -> None:
    page = Page(open_pages().get(f"/sharing/replay?{DAYS}").text)
    curves = [attrs for tag, attrs in page.elements if tag == "svg" and attrs.get("role") == "img"]
    assert len(curves) == 3 * 3
    assert page.text.count(", the others as they are") >= 3


def test_a_paragraph_for_a_mail_is_plain_text(open_pages: Opened) -> None:
    answer = open_pages().get(f"/sharing/replay?{DAYS}&hold_dmr=2").text
    letter = re.search(r'<p class="letter">(.*?)</p>', answer, re.S)
    assert (
        letter
        and "<" not in letter[1]
        and "\xa0" not in letter[1]
        and letter[1].startswith("QB0BFR Brackenfell, 2 to 15 November 2026: ")
    )
    assert "come back as they did" in letter[1]


def test_planning_says_who_loses_what_and_hides_a_handful(open_pages: Opened) -> None:
    said = text(open_pages(), f"/sharing/planning?{DAYS}&mode=dmr&begin=20&end=6")
    assert "If DMR had been on from 20:00 to 06:00 only" in said and "Calls spared" in said
    assert "Stations 0" not in said
    assert "fewer than 5" in text(open_pages(), "/sharing/planning?first=2026-11-02&last=2026-11-02&mode=c4fm")


@pytest.mark.parametrize(
    "path",
    [
        "/sharing?first=2026-11-02",
        "/sharing?first=x&last=y",
        "/sharing?first=2026-11-15&last=2026-11-02",
        "/sharing?first=2020-01-01&last=2026-11-02",
        "/sharing?first=2027-11-02&last=2027-11-03",
        "/sharing/replay?hold_dmr=x",
        "/sharing/replay?hold_dmr=-1",
        "/sharing/replay?hold_dmr=nan",
        "/sharing/replay?timeout=0",
        "/sharing/replay?timeout=1e9",
        "/sharing/planning?mode=cb",
        "/sharing/planning?mode=dmr&begin=25&end=2",
        "/sharing/planning?mode=dmr&begin=2&end=",
        "/sharing?first=0001-01-01&last=0001-01-02",
    ],
)
def test_what_can_not_be_shown_is_a_sentence(open_pages: Opened, path: str) -> None:
    answer = open_pages().get(path)
    assert answer.status_code == 400 and "Traceback" not in answer.text
    assert Page(answer.text).text.count("No such") >= 1


@pytest.mark.parametrize("path", ["/sharing", "/sharing/replay", "/sharing/planning", "/sharing/changes"])
def test_where_nothing_is_known_the_pages_say_so(open_pages: Opened, path: str) -> None:
    assert open_pages(empty_source()).get(path).status_code == 200


def enter(client, on: str, note: str):  # type: ignore[no-untyped-def]
    page = Page(client.get("/sharing/changes").text)
    token = next(attrs["value"] for tag, attrs in page.elements if tag == "input" and attrs.get("name") == "token")
    return client.post(
        "/sharing/changes", data={"on": on, "note": note, "token": token}, headers={"sec-fetch-site": "same-origin"}
    )


def test_a_change_is_entered_and_compared_from_then_on(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    answer = enter(client, "2026-10-19", "hold of DMR from 20 s to 10 s")
    assert answer.status_code == 303 and answer.headers["location"] == "/sharing/changes"
    assert source.changes[0].at_us == instant("2026-10-19", ZONE)
    said = text(client, "/sharing/changes")
    assert "19 October 2026: hold of DMR from 20 s to 10 s" in said
    assert "Refused calls before" in said and "same weekdays, trend taken out" in said and "95 % interval" in said


def test_a_change_of_last_week_is_too_young_to_compare(open_pages: Opened) -> None:
    source = FakeSource(changes=(TimerChange(1, instant("2026-11-20", ZONE), "time-out 180 s to 120 s"),))
    assert "not yet two whole weeks" in text(open_pages(source), "/sharing/changes")


@pytest.mark.parametrize(
    ("on", "note"), [("", "x"), ("soon", "x"), ("2027-01-01", "x"), ("2026-10-19", "  "), ("2026-10-19", "x" * 200)]
)
def test_an_entry_that_can_not_be_kept_comes_back_with_the_reason(open_pages: Opened, on: str, note: str) -> None:
    source = FakeSource()
    answer = enter(open_pages(source), on, note)
    assert answer.status_code == 400 and 'role="alert"' in answer.text and not source.changes


def test_nobody_enters_a_change_from_another_site_or_without_the_form(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    form = {"on": "2026-10-19", "note": "x"}
    assert client.post("/sharing/changes", data=form).status_code == 400
    assert client.post("/sharing/changes", data=form, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert not source.changes


def test_a_stranger_neither_sees_nor_enters(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    assert client.get("/sharing").status_code == 303
    assert client.post("/sharing/changes", data={"on": "2026-10-19", "note": "x"}).status_code == 403
    assert sign_in(client).status_code == 303
    assert client.get("/sharing").status_code == 200


def test_what_came_from_outside_stays_text(open_pages: Opened) -> None:
    client = open_pages(hostile_source())
    for path in ("/sharing", "/sharing/changes", "/sharing/replay"):
        answer = client.get(path).text
        assert HOSTILE not in answer and "\u202e" not in answer.replace("&#", ""), path


def test_replays_over_a_change_say_so(open_pages: Opened) -> None:
    source = FakeSource(changes=(TimerChange(1, START, "x"),))
    assert "A change of timers lies in these days" in text(open_pages(source), "/sharing/replay")


@pytest.mark.parametrize("path", [f"/sharing/replay?{DAYS}", "/sharing/changes"])
def test_pages_that_speak_of_changing_timers_say_what_comes_first(open_pages: Opened, path: str) -> None:
    assert caution.TIMERS in text(open_pages(), path)


@pytest.mark.parametrize("path", ["/sharing/replay?hold_dmr=5&timeout=20", "/sharing/planning?mode=dmr&begin=20&end=6"])
def test_days_that_nobody_saw_have_no_figures_of_a_replay_or_a_plan(open_pages: Opened, path: str) -> None:
    source = FakeSource()
    nothing = replace(activity_of(0, 0, source.targets), unlogged=sp.spans([0], [2 * source.now()]))
    source.activity = lambda start, end: nothing  # type: ignore[method-assign]
    page = open_pages(source).get(path).text
    assert "Nothing is known of these days: no log tells of them." in page
    assert "0 calls" not in page.replace("\xa0", " ") and "<dd" not in page and "For a mail" not in page
    timers, zone = source.station().timers, source.station().zone
    found = replay_result(nothing, WINDOW, timers, zone, {"dmr": 5.0})  # whoever asks, page or command
    told = found.as_json(replay_texts(found))
    assert found.compared is None
    assert set(told["then"].values()) == set(told["effects"].values()) == {None} == {told["unexplained_attempts"]}
