"""The Transmitter page: what it says, draws and asks; taking note of an incident."""

import re
from dataclasses import replace

import pytest

from server.analytics.exposure import Radiator
from server.telling.caution import CAUTION, SCREENING
from server.web.transmitter import charts as charts
from server.web.transmitter.view import Question, TransmitterView, transmitter_view
from shared import spans as sp
from shared.zones import HOUR, SECOND
from tests.web.conftest import Opened
from tests.web.desk_fakes import NIGHT, NOTED, REPLAYED, STANDING, STUCK, FakeDesk, empty_desk
from tests.web.test_access import sign_in
from tests.web.web_fakes import FakeSource, empty_source, figures_of_a_week, nothing


def test_what_stands_raised_comes_first_and_the_caution_with_it(open_pages: Opened) -> None:
    page = open_pages().get("/transmitter").text
    assert '<p class="headline">Open now: a link is down (fellnet).</p>' in page
    assert page.count("no safety device") >= 2 and "competent persons" in page


def test_incidents_are_drawn_with_their_evidence_the_latest_first(open_pages: Opened) -> None:
    page = open_pages().get("/transmitter").text
    assert page.index("A link is down") < page.index("An over runs on") < page.index("Short keyings")
    assert page.count('<svg class="strip"') == 4
    assert "found in the log, not sent" in page and "noted Wed 18 Nov" in page
    assert re.search(
        "Keyed time of finished overs from Wed 18 Nov, 02:43 to Wed 18 Nov, 06:10; 100\u00a0% keyed "
        "while it stood raised",
        page,
    )


def test_notices_that_have_not_got_through_are_shown(open_pages: Opened) -> None:
    page = open_pages().get("/transmitter").text
    assert "has not got through to mailto://hill.example/k...r (3\u00a0tries): Connection refused." in page
    assert "No notice is sent" in open_pages(FakeSource(desk=empty_desk())).get("/transmitter").text


def test_thresholds_stand_on_the_charts_and_in_the_table(open_pages: Opened) -> None:
    page = open_pages().get("/transmitter").text
    assert page.count('class="limit day" d="M34') == 3 and page.count('class="limit quiet" d="M34') == 3
    assert page.count('class="limit rating" d="M34') == 1  # the rating is of an hour
    assert "rated for 50" in page


@pytest.mark.parametrize(
    "query, said",
    [("", "as it is set"), ("?width=60min&hours=day&limit=50", "With a limit of 50"), ("?limit=100", "0\u00a0alerts")],
)
def test_the_form_says_how_many_alerts_another_limit_would_have_raised(
    open_pages: Opened, query: str, said: str
) -> None:
    assert said in open_pages().get(f"/transmitter{query}").text


@pytest.mark.parametrize(
    "query", ["width=7min", "hours=never", "limit=0", "limit=101", "limit=%3Cscript%3E", "limit=9%CC%81"]
)
def test_a_limit_that_is_none_is_refused_with_a_sentence(open_pages: Opened, query: str) -> None:
    answer = open_pages().get(f"/transmitter?{query}")
    assert answer.status_code == 400 and "No such limit" in answer.text


def test_the_keeper_takes_note_and_is_led_back(open_pages: Opened, password: str) -> None:
    source = FakeSource()
    client = open_pages(source, base_url="http://hill.example")
    sign_in(client)
    form = client.get(f"/transmitter/note/{STANDING.id}")
    token = re.search(r'name="token" value="([^"]+)"', form.text)
    assert token and form.headers["cache-control"] == "no-store"
    answer = client.post(f"/transmitter/note/{STANDING.id}", data={"token": token[1]})
    assert (answer.status_code, answer.headers["location"]) == (303, "/transmitter")
    assert source.desk.noted == [STANDING.id]


@pytest.mark.parametrize("token", ["", "forged"])
def test_without_the_forms_token_nothing_is_noted(open_pages: Opened, token: str) -> None:
    source = FakeSource()
    assert open_pages(source).post(f"/transmitter/note/{STANDING.id}", data={"token": token}).status_code == 400
    assert source.desk.noted == []


def test_another_sites_form_is_refused(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    token = re.search(r'name="token" value="([^"]+)"', client.get("/transmitter/note/4").text)
    assert token is not None
    answer = client.post("/transmitter/note/4", data={"token": token[1]}, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403 and source.desk.noted == []


def test_an_incident_that_nobody_raised_is_not_there(open_pages: Opened) -> None:
    assert open_pages().get("/transmitter/note/99").status_code == 404


def test_what_has_been_noted_shows_on_the_page_at_once(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    before = client.get("/transmitter").text
    source.desk.kept = (STANDING,)
    source.desk.acknowledge(4, NIGHT)
    assert client.get("/transmitter").text != before


def test_the_strip_lies_where_the_incident_was() -> None:
    drawn = charts.strip(
        charts.Evidence(sp.spans([NIGHT], [NIGHT + HOUR]), sp.NONE, ()),
        NIGHT,
        NIGHT + HOUR,
        NIGHT + 5 * HOUR,
        FakeDesk().limits().zone,
    )
    # From half an hour before to its end: the raised instant lies a third across.
    assert drawn.raised_x == pytest.approx(drawn.width / 3, abs=0.1)
    assert drawn.keyed == ((drawn.raised_x, pytest.approx(drawn.width * 2 / 3, abs=0.1)),)


def view_of(source: FakeSource) -> TransmitterView:
    return transmitter_view(source, Question(), source.now(), source.frame())


def test_radiated_power_is_power_gain_and_loss_in_decibels() -> None:
    # 25 W is 13.979 dBW; + 8.15 dBi − 2.0 dB = 20.129 dBW = 103.0 W (worked out by hand).
    power, six, thirty, *_ = view_of(FakeSource()).exposure
    assert power.value == "103\u00a0W"
    shares = figures_of_a_week().duty
    assert (six.value, thirty.value) == tuple(
        f"{103.02437977 * (share.share or 0):.3g}\u00a0W" for share in (shares.six, shares.thirty)
    )
    assert all("licence" in fact.note for fact in (six, thirty))


def test_the_sheet_of_exposure_stands_below_what_it_is_not_with_full_duty_beside(open_pages: Opened) -> None:
    page = open_pages().get("/transmitter").text
    section = page[page.index('<section id="limits"') :]
    assert section.index(SCREENING.partition(".")[0]) < section.index("<table")
    view = view_of(FakeSource())
    assert [label.text for label in view.exposure_limits.head][-2:] == [
        "Distance at that share",
        "Distance at full duty",
    ]
    rows = {row.head.text: row.cells for row in view.exposure_limits.rows}
    # d = √(EIRP / (4πL)): √(103.024 / (4π × 2.175)) = 1.9415 m, rounded up (worked out by hand; the limit from memory).
    assert rows["ICNIRP 2020, public, whole body"][-1] == "1.95\u00a0m"
    assert "Health Physics 118" in section and "OET Bulletin 65" in section
    assert "Near field" in page and "0.11\u00a0m" in page


def test_the_reflection_of_the_ground_is_told_as_it_is_set() -> None:
    grounded = view_of(FakeSource(radiator=Radiator(435.0, 25.0, 2.0, 8.15, ground_reflection=True)))
    assert (grounded.exposure[-1].value, grounded.exposure[-1].note[:4]) == ("counted", "2.56")
    plain = view_of(FakeSource())
    assert plain.exposure[-1].value == "not counted" and "ground_reflection = true" in plain.exposure[-1].note
    # √2.56 = 1.6 times as far.
    assert grounded.exposure_limits.rows[0].cells[-1] == "3.11\u00a0m"


def test_the_page_is_light_and_has_no_script(open_pages: Opened) -> None:
    answer = open_pages().get("/transmitter")
    assert "<script" not in answer.text and len(answer.content) < 200_000


def test_the_page_of_a_single_incident_carries_the_caution(open_pages: Opened) -> None:
    assert CAUTION in open_pages().get("/transmitter/note/3").text


def test_a_week_that_nobody_saw_is_hatched_and_not_zero(open_pages: Opened) -> None:
    unseen = sp.spans([NIGHT - 100 * 24 * HOUR], [NIGHT - 30 * 24 * HOUR])
    page = open_pages(FakeSource(desk=FakeDesk(blind=unseen))).get("/transmitter").text
    hatched = re.findall(r'<rect fill="url\(#m-unseen\)"', page)
    assert len(hatched) == 3 * 7 and page.count("Of 7\u00a0weeks nothing is known.") == 3


def test_where_no_log_tells_of_these_weeks_the_worst_stretch_and_the_power_are_not_known(open_pages: Opened) -> None:
    desk = FakeDesk(keyed=sp.NONE, blind=sp.spans([0], [NIGHT + 1000 * 24 * HOUR]))
    source = FakeSource(desk=desk, week=nothing(NIGHT - 91 * 24 * HOUR, NIGHT))
    page = open_pages(source).get("/transmitter").text
    assert "the worst of all not known" in page and page.count("no log tells of these weeks") == 1  # the form
    assert page.count("the keyed share of this time is not known") == 2
    assert "only the distances at full duty can be told" in page


def test_where_nothing_is_watched_no_alert_is_said_not_to_be_open(open_pages: Opened) -> None:
    desk = FakeDesk(kept=(), replayed=(REPLAYED,), since=None)
    page = open_pages(FakeSource(desk=desk)).get("/transmitter").text
    assert "Nothing is watched, so no alert can be open. There was one incident in these weeks, not urgent." in page


def test_an_over_without_an_end_has_a_mark_and_words_and_no_bar() -> None:
    blind = sp.spans([NIGHT + HOUR // 2], [NIGHT + 2 * HOUR])
    drawn = charts.strip(
        charts.Evidence(sp.NONE, blind, (NIGHT - 190 * SECOND,)),
        NIGHT,
        NIGHT + HOUR,
        NIGHT + 5 * HOUR,
        FakeDesk().limits().zone,
    )
    assert drawn.keyed == () and len(drawn.unfinished) == 1 and len(drawn.unseen) == 1
    assert "Wed 18 Nov, 03:06 is the start of an over without an end in the log" in drawn.open_says
    assert "0\u00a0% keyed" in drawn.says


def test_where_nothing_was_seen_while_it_stood_raised_its_keyed_share_is_not_known() -> None:
    blind = sp.spans([NIGHT - HOUR], [NIGHT + 5 * HOUR])
    evidence = charts.Evidence(sp.NONE, blind, ())
    drawn = charts.strip(evidence, NIGHT, NIGHT + HOUR, NIGHT + 5 * HOUR, FakeDesk().limits().zone)
    assert "not known keyed" not in drawn.says and "keyed share while it stood raised is not known" in drawn.says


def test_the_page_tells_of_the_mark_of_an_over_without_an_end(open_pages: Opened) -> None:
    page = open_pages(FakeSource(desk=FakeDesk(unfinished=(NIGHT,)))).get("/transmitter").text
    assert "start of an over without an end in the log" in page and 'class="begun"' in page


def test_radiated_power_is_not_known_where_gain_or_loss_is_not_set() -> None:
    view = view_of(FakeSource(radiator=Radiator(power_w=20.0)))
    assert (view.exposure[0].value, view.exposure[0].note) == (
        "not known",
        "set feeder_loss_db and antenna_gain_dbi under [transmitter]",
    )
    assert [fact.value for fact in view.exposure[:5]] == ["not known"] * 5
    assert view.exposure_notes[0] == (
        "Not set, so not known: frequency_mhz, feeder_loss_db, antenna_gain_dbi. Set them under [transmitter]."
    )
    assert {cell for row in view.exposure_limits.rows for cell in row.cells[-2:]} == {"not known"}


def test_without_a_frequency_power_is_told_and_no_distance() -> None:
    view = view_of(FakeSource(radiator=Radiator(None, 25.0, 2.0, 8.15)))
    assert view.exposure[0].value == "103\u00a0W" and view.exposure[3].note == "set frequency_mhz under [transmitter]"
    assert {cell for row in view.exposure_limits.rows for cell in row.cells[-2:]} == {"not known"}


def test_incidents_of_the_rating_are_counted_and_stand_in_one_row(open_pages: Opened) -> None:
    rating = [
        replace(REPLAYED, rule="duty", subject="transmitter/rating", raised=at, cleared=at + HOUR)
        for at in range(NIGHT - 50 * 5 * HOUR, NIGHT, 5 * HOUR)
    ]
    view = open_pages(FakeSource(desk=FakeDesk(kept=(NOTED,), replayed=tuple(rating)))).get("/transmitter").text
    assert "There were 51\u00a0incidents in these weeks. 1 was urgent." in view
    assert view.count("The transmitter is keyed beyond its rating</a>") == 1


def test_what_followed_from_an_incident_is_counted_apart(open_pages: Opened) -> None:
    duty = replace(STUCK, id=8, rule="duty", subject="transmitter", raised=STUCK.raised + HOUR)
    page = open_pages(FakeSource(desk=FakeDesk(kept=(NOTED, STUCK, duty), replayed=()))).get("/transmitter").text
    assert "There were 2\u00a0incidents, and 1\u00a0more alert with them, in these weeks." in page


def test_no_incident_is_said_as_far_as_the_log_was_seen(open_pages: Opened) -> None:
    unseen = sp.spans([0], [NIGHT - 14 * 24 * HOUR])
    page = open_pages(FakeSource(desk=FakeDesk(kept=(), replayed=(), blind=unseen))).get("/transmitter").text
    assert "There was no incident in these weeks, as far as the log was seen (" in page


def test_weeks_of_overs_without_an_end_have_no_duty_of_zero() -> None:
    desk = FakeDesk(keyed=sp.NONE, unfinished=range(NIGHT - 100 * HOUR, NIGHT, HOUR))
    source = FakeSource(desk=desk)
    view = transmitter_view(source, Question(), source.now(), source.frame())
    assert {row.cells[0] for row in view.worst_table.rows} == {"not known"}


def test_an_empty_store_is_not_said_to_have_raised_nothing(open_pages: Opened) -> None:
    page = open_pages(empty_source()).get("/transmitter").text
    assert "raised nothing" not in page and "Nothing is known of these weeks: no log line is in the store." in page
