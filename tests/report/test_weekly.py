"""The week's verdict on Monday morning: once, in no quiet hour, and not of a week that nobody saw."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from server.alerts.channels import Trouble, channels_of
from server.alerts.outbox import Outbox
from server.alerts.repository import Channel
from server.alerts.states import State
from server.config import Station
from server.report.weekly import WeeklyNews
from server.source import StoreSource
from server.store import schema
from server.store.engine import close_store, open_store
from server.telling.notices import notice_body
from server.telling.sentences import Finding, Verdict, say
from server.telling.week_notice import week_body, week_title
from server.web.week.notice import week_notice
from server.web.weeks import Week
from shared.zones import instant
from tests.alerts.hill import Clock, append, station_in
from tests.cli.test_commands import airtally

ZONE = ZoneInfo("Europe/London")


class House:
    """A station with one place for the week; `restart` is a new process, as far as the store can tell."""

    def __init__(self, folder: Path, more: str = "") -> None:
        self.folder = folder
        self.station: Station = station_in(
            folder, [], f'quiet_hours = "23:00-07:00"\n[report]\nweek = ["json://127.0.0.1:9/"]\n{more}'
        )
        self.clock, self.sent, self.seen = Clock(0), [], True
        self.trouble: Trouble | None = None
        self.engine = open_store(self.station.store_url())
        self.restart()

    def restart(self) -> None:
        channels = channels_of(self.station.report.week)[0]
        self.outbox = Outbox(self.engine, channels, self.clock, self.deliver)
        self.news = WeeklyNews(self.engine, self.station, channels, self.clock, self.tell)
        self.outbox.take_up()

    def tell(self, monday: dt.date) -> tuple[str, str] | None:
        return (str(monday), "the verdict") if self.seen else None

    def deliver(self, _channel: Channel, title: str, _body: str, weight: str) -> None:
        assert weight == "info"
        self.sent.append(title)
        if self.trouble:
            raise self.trouble

    def at(self, text: str) -> list[str]:
        self.clock.now = instant(text, self.station.zone)
        self.news.look()
        while self.outbox.send_next():
            pass
        return self.sent


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    made = House(tmp_path)
    yield made
    close_store(made.engine)


def test_it_goes_out_after_the_quiet_hours_of_monday_and_not_again(house: House) -> None:
    assert house.at("2026-11-18T12:00") == []
    assert house.at("2026-11-23T05:59") == [] and house.at("2026-11-23T06:59") == []  # quiet until 7
    assert house.at("2026-11-23T07:00") == ["2026-11-16"]
    for later in ("2026-11-23T07:01", "2026-11-24T09:00", "2026-11-29T23:59", "2026-11-30T03:00"):
        house.restart()
        assert house.at(later) == ["2026-11-16"]
    assert house.at("2026-11-30T08:00") == ["2026-11-16", "2026-11-23"]


def test_the_week_before_the_first_look_is_told_on_a_monday_only(house: House) -> None:
    assert house.at("2026-11-24T09:00") == []
    assert house.at("2026-11-30T07:00") == ["2026-11-23"]


def test_a_first_look_on_monday_tells_the_week_that_is_over(house: House) -> None:
    assert house.at("2026-11-23T09:00") == ["2026-11-16"]


def test_of_weeks_that_went_by_only_the_last_is_told(house: House) -> None:
    house.at("2026-11-02T12:00")
    assert house.at("2026-11-25T12:00") == ["2026-10-26", "2026-11-16"]


def test_a_week_that_nobody_saw_is_passed_over_in_silence(house: House) -> None:
    house.seen = False
    assert house.at("2026-11-23T12:00") == []
    house.seen = True
    assert house.at("2026-11-24T12:00") == [] and house.at("2026-11-30T12:00") == ["2026-11-23"]


def test_killed_while_it_is_sent_it_is_not_sent_again(house: House) -> None:
    house.at("2026-11-23T12:00")
    with house.engine.begin() as connection:
        connection.execute(sa.update(schema.delivery).values(state="sending", sent=None))
    house.restart()
    assert house.at("2026-11-23T13:00") == ["2026-11-16"]
    with house.engine.begin() as connection:
        state, trouble = connection.execute(sa.select(schema.delivery.c.state, schema.delivery.c.trouble)).one()
    assert state == "failed" and "It is not sent twice." in trouble


def test_what_may_have_come_is_not_sent_twice_and_what_has_not_is_tried_again(house: House) -> None:
    house.trouble = Trouble("no answer", permanent=False, unsure=True)
    assert house.at("2026-11-23T12:00") == ["2026-11-16"]
    house.restart()
    assert house.at("2026-11-23T18:00") == ["2026-11-16"]
    house.trouble = Trouble("refused", permanent=False)
    house.at("2026-11-30T12:00")
    house.trouble = None
    assert house.at("2026-11-30T12:10") == ["2026-11-16", "2026-11-23", "2026-11-23"]


def test_two_airtallies_tell_a_week_once(house: House) -> None:
    other = WeeklyNews(house.engine, house.station, channels_of(house.station.report.week)[0], house.clock, house.tell)
    house.at("2026-11-23T12:00")
    other.look()
    assert house.at("2026-11-23T12:01") == ["2026-11-16"]


def test_the_notice_is_the_verdict_with_its_address() -> None:
    moved = Finding("change", "note", say("DMR up by half."))
    found = Verdict(say("A normal week."), (moved,), "A caution.")
    assert week_title("QB0BFR", "Week 47", "16 to 22 November 2026") == "QB0BFR: week 47, 16 to 22 November 2026"
    told = week_body(found, "/week/2026-W47", "https://hill.example/airtally/")
    assert told == (
        "A normal week.\n- DMR up by half.\n\nAll of it: https://hill.example/airtally/week/2026-W47\n\nA caution."
    )
    assert "All of it is on the Week page: /week/2026-W47" in week_body(found, "/week/2026-W47", "")


def test_the_notice_of_a_real_week_is_the_week_pages_verdict_and_is_shown_without_sending(house: House) -> None:
    append(house.folder, *(
        f'{{"t":"2026-11-{day}T19:00:00Z","event":"over","mode":"fm","side":"air","seconds":60}}\n'
        for day in range(16, 23)
    ))  # fmt: skip
    assert airtally("ingest", cwd=house.folder).returncode == 0
    source = StoreSource(house.engine, house.station)
    notice = week_notice(source, Week(dt.date(2026, 11, 16), house.station.zone), "")
    assert notice is not None and notice[0] == "QB0BFR: week 47, 16 to 22 November 2026"
    shown = airtally("alerts", "week", "--week", "2026-W47", cwd=house.folder)
    assert shown.stdout == f"{notice[0]}\n\n{notice[1]}\n\nNothing was sent.\n"
    unseen = airtally("alerts", "week", "--week", "2026-W40", cwd=house.folder).stdout
    assert unseen == "Nothing of that week was seen, so nothing is told of it.\n"
    assert week_notice(source, Week(dt.date(2026, 9, 28), house.station.zone), "") is None


def test_a_notice_of_an_incident_leads_to_its_moment_where_the_pages_address_is_known() -> None:
    raised = instant("2026-11-18T03:13:10+00:00", ZONE)
    stuck = State(3, "over-runs-on", "dstar", raised, None, True, "A D-STAR over ran on.")
    told = notice_body(stuck, raised + 60_000_000, ZONE, "https://hill.example/airtally")
    assert "That moment: https://hill.example/airtally/moment?at=2026-11-18T03:13:10Z" in told.splitlines()
    assert "moment?" not in notice_body(stuck, raised + 60_000_000, ZONE)
