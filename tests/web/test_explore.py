"""Explore: its numbers are those of `figures`, its calendar is pandas', its page works without its script."""

import csv
import datetime as dt
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from random import Random
from urllib.parse import parse_qsl
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import polars as pl
import portion as P
import pytest
from polars.testing import assert_frame_equal
from starlette.testclient import TestClient

from server.analytics.by_target import by_target
from server.analytics.channel_share import channel_share
from server.analytics.explored import CHANNEL, MOST_STEPS, shifted, step_of, year_before
from server.analytics.figure_types import Figures
from server.analytics.local_spans import local_spans
from server.analytics.over_rows import over_rows
from server.cli.exporting import write_overs
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import close_stores, open_store, reading
from server.telling.explored import MEASURES
from server.web.app import create_app
from server.web.explore.asked import Asked, asked_of
from server.web.listening import WebOptions
from shared.events import MODES
from shared.zones import DAY, HOUR, instant
from tests.web.conftest import Opened
from tests.web.web_fakes import FakeSource, empty_source, hostile_source

LONDON = ZoneInfo("Europe/London")
STRETCH = "from=2026-10-22T00:00&to=2026-10-29T00:00"


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Iterator[StoreSource]:
    """A demo of three weeks with the clock change of October in them."""
    folder = tmp_path_factory.mktemp("hill")
    write_demo(folder, weeks=3, first_day=dt.date(2026, 10, 12))
    station = load_station(folder / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    yield StoreSource(open_store(station.store_url()), station)
    close_stores()


@pytest.fixture(scope="module")
def desk(source: StoreSource, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(source, WebOptions(folder=tmp_path_factory.mktemp("web")))
    with TestClient(app, base_url="http://127.0.0.1:8087", follow_redirects=False) as client:
        yield client


def parsed(query: str) -> dict[str, str]:
    return dict(parse_qsl(query))


def told_by_figures(found: Figures) -> dict[tuple[str, str], float | None]:
    """By mode and column what `figures` says of a window."""
    channel = found.channel
    told: dict[tuple[str, str], float | None] = {
        (CHANNEL, "airtime_us"): channel.airtime_s, (CHANNEL, "keyed_us"): channel.keyed_s,
        (CHANNEL, "idle_hold_us"): channel.idle_hold_s, (CHANNEL, "overs"): channel.overs,
        (CHANNEL, "shut_outs"): found.attempts_shut_out, (CHANNEL, "unfinished"): channel.unfinished,
        (CHANNEL, "seen_us"): channel.seen_s,
        (CHANNEL, "duty_6_us"): found.duty.six.share, (CHANNEL, "duty_30_us"): found.duty.thirty.share,
        (CHANNEL, "duty_60_us"): found.duty.sixty.share,
    }  # fmt: skip
    for mode, its in found.modes.items():
        told |= {
            (mode, "airtime_us"): its.airtime_s, (mode, "idle_hold_us"): its.idle_hold_s, (mode, "overs"): its.overs,
            (mode, "timeouts"): its.timeouts, (mode, "timeouts_estimated"): its.timeouts_estimated,
            (mode, "near_timeouts"): its.near_timeouts, (mode, "shut_outs"): its.shut_outs_suffered,
        }  # fmt: skip
    return told


def test_three_hundred_brushed_stretches_say_what_figures_says(source: StoreSource) -> None:
    rng, known = Random(14), source.first_and_last()
    assert known is not None
    first, last = known[0] // HOUR * HOUR - 2 * DAY, known[1] // HOUR * HOUR + 2 * DAY
    compared = unknown = 0
    for _ in range(300):
        start = rng.randrange(first, last, HOUR)
        end = start + HOUR * rng.choice((1, 1, 2, 3, 5, 12, 24, 25, 72, 168, 500))
        found = source.explored(local_spans(start, end, step_of((start, end)), LONDON))
        for (mode, column), value in told_by_figures(source.figures(start, end)).items():
            got = found.total(mode, column)
            assert (got is None) == (value is None), (start, end, mode, column, got, value)
            assert value is None or np.isclose(got, value, atol=1e-6), (start, end, mode, column, got, value)
            compared, unknown = compared + 1, unknown + (value is None)
    assert compared > 5000 and unknown > 100


def test_what_modes_hold_is_what_sharing_says_of_brushed_stretches(source: StoreSource) -> None:
    rng, compared = Random(15), 0
    timers = source.station().timers
    for _ in range(40):
        start = instant("2026-10-12", LONDON) + HOUR * rng.randrange(400)
        window = start, start + HOUR * rng.choice((1, 3, 24, 72))
        found = source.explored(local_spans(*window, step_of(window), LONDON))
        shared = channel_share(source.activity(*window), window, timers, LONDON)
        for its in shared.held:
            got = found.total(MODES[its.mode], "held_us")
            if got is not None:
                assert got == pytest.approx(its.held_s) and got >= its.airtime_s
                compared += 1
        held = [found.total(MODES[its.mode], "held_us") or 0.0 for its in shared.held]
        assert (found.total(CHANNEL, "held_us") or 0.0) <= sum(held) + 1e-6
    assert compared > 60


def test_the_hours_of_the_week_of_a_duty_are_the_greatest(source: StoreSource) -> None:
    window = instant("2026-10-12", LONDON), instant("2026-10-26", LONDON)
    found = source.explored(local_spans(*window, "hour", LONDON))
    want = np.full((7, 24), np.nan)
    for (start, _), value in zip(found.spans, found.values(CHANNEL, "duty_30_us"), strict=True):
        at = pd.Timestamp(start, unit="us", tz="Europe/London")
        if value is not None:
            want[at.day_of_week, at.hour] = np.fmax(want[at.day_of_week, at.hour], value)
    got = source.hour_of_week(*window, "duty_30_us") / (1800 * 1e6)
    assert np.allclose(got, want, equal_nan=True)


def test_each_step_says_what_figures_says_of_it(source: StoreSource) -> None:
    window = instant("2026-10-17", LONDON), instant("2026-10-28", LONDON)
    found = source.explored(local_spans(*window, "day", LONDON))
    assert len(found.spans) == 11 and 25 * HOUR in {end - start for start, end in found.spans}
    for place, span in enumerate(found.spans):
        for (mode, column), value in told_by_figures(source.figures(*span)).items():
            got = found.values(mode, column)[place]
            assert (got is None) == (value is None) and (value is None or np.isclose(got, value, atol=1e-6))


def test_hours_of_the_week_are_means_over_the_hours_that_were_seen(source: StoreSource) -> None:
    window = instant("2026-10-12", LONDON), instant("2026-11-02", LONDON)
    rows = []
    for start, end in local_spans(*window, "hour", LONDON):
        channel = source.figures(start, end).channel
        rows.append((pd.Timestamp(start, unit="us", tz="Europe/London"), channel.airtime_s or 0.0, channel.seen_s))
    frame = pd.DataFrame(rows, columns=["at", "airtime", "seen"])
    sums = frame.groupby([frame["at"].dt.day_of_week, frame["at"].dt.hour])[["airtime", "seen"]].sum()
    want = (sums["airtime"] / (sums["seen"] / 3600)).unstack().to_numpy()
    got = source.hour_of_week(*window, "airtime_us") / 1e6
    assert got.shape == (7, 24) and np.allclose(got, want, equal_nan=True)


@pytest.mark.parametrize("back", [1, 4, 13, 52])
@pytest.mark.parametrize("zone", ["Europe/London", "America/St_Johns", "Australia/Lord_Howe"])
def test_the_stretch_before_has_the_same_days_of_the_week_and_times_of_day(zone: str, back: int) -> None:
    # zoneinfo tells the wall clock of each edge; but for times that a clock change skipped they agree.
    where = ZoneInfo(zone)
    start, end = instant("2026-03-20", where), instant("2026-04-10", where)
    spans = local_spans(start, end, "day", where)
    before = shifted(spans, back, where)
    assert len(before) == len(spans) and all(one[1] == two[0] for one, two in pairwise(before))
    for (at, _), (then, _) in zip(spans, before, strict=True):
        now, past = (pd.Timestamp(us, unit="us", tz=zone) for us in (at, then))
        assert (now.day_of_week, now.time()) == (past.day_of_week, past.time())
        assert (now.tz_localize(None) - past.tz_localize(None)).days == 7 * back


def test_an_hour_that_the_clocks_skipped_has_no_length_and_nothing_is_known_of_it(source: StoreSource) -> None:
    start = instant("2026-04-05T00:00", LONDON)
    spans = local_spans(start, start + 4 * HOUR, "hour", LONDON)
    before = shifted(spans, 1, LONDON)  # the clocks went forward at 01:00 on 29 March
    assert [end - begin for begin, end in before] == [HOUR, 0, HOUR, HOUR]
    assert source.explored(before).values(CHANNEL, "airtime_us")[1] is None


def test_a_second_stretch_stands_beside_in_the_steps_of_the_first(desk: TestClient, source: StoreSource) -> None:
    second = "from2=2026-10-13T00:00&to2=2026-10-18T00:00"  # two days shorter, and from a Tuesday on
    told = desk.get(f"/explore/data?{STRETCH}&measure=overs&{second}").json()
    days = local_spans(instant("2026-10-13", LONDON), instant("2026-10-18", LONDON), "day", LONDON)
    assert told["before"][:5] == [source.figures(*day).channel.overs for day in days]
    assert told["before"][5:] == [None, None] and told["before_label"] == "Second stretch"
    page = desk.get(f"/explore?{STRETCH}&measure=overs&{second}").text
    assert "it begins on a Tuesday at 00:00, this stretch on a Thursday at 00:00" in page
    assert "It is 2 days shorter." in page


def test_a_longer_second_stretch_is_told_whole(desk: TestClient, source: StoreSource) -> None:
    query = "from=2026-10-26T00:00&to=2026-10-29T00:00&measure=overs&from2=2026-10-12T00:00&to2=2026-10-22T00:00"
    page = desk.get(f"/explore?{query}").text
    window = instant("2026-10-12", LONDON), instant("2026-10-22", LONDON)
    table = page.partition("<caption>Second stretch")[2].partition("</table>")[0]
    assert f">{source.figures(*window).channel.overs:,}</td>" in table
    assert "It is 7 days longer." in page and "days of the week differ" not in page


def test_a_clock_change_makes_the_second_stretch_longer_but_not_other_days(desk: TestClient) -> None:
    query = "from=2026-10-19T00:00&to=2026-10-21T00:00&from2=2026-10-24T00:00&to2=2026-10-26T00:00"
    page = desk.get(f"/explore?{query}").text
    assert "It is 1 h longer, as the clocks changed in one of the two." in page
    assert "days of the week differ" in page


def test_half_a_second_stretch_is_none(desk: TestClient) -> None:
    assert desk.get(f"/explore?{STRETCH}&from2=2026-10-13").status_code == 400
    assert desk.get(f"/explore?{STRETCH}&from2=&to2=").status_code == 200


def test_looking_into_a_step_takes_the_second_stretch_along(source: StoreSource) -> None:
    asked = asked_of(parsed(f"{STRETCH}&from2=2026-10-14T00:00&to2=2026-10-21T00:00"), source)
    into = asked_of(parsed(asked.query(asked.spans[2])), source)
    assert into.second == (instant("2026-10-16", LONDON), instant("2026-10-17", LONDON))
    assert asked_of(parsed(asked.query()), source) == asked


@pytest.mark.parametrize("day", ["2026-11-23", "2021-01-04", "2020-12-31", "2027-01-03", "2016-02-29"])
def test_the_same_week_a_year_before_has_its_iso_number(day: str) -> None:
    # datetime's isocalendar is ISO 8601's calendar; a week 53 that the year before has not is the only exception.
    at = instant(day, LONDON)
    then = pd.Timestamp(at, unit="us", tz="Europe/London") - pd.DateOffset(weeks=year_before(at, LONDON))
    year, week, weekday = pd.Timestamp(day).isocalendar()
    if week != 53:
        assert tuple(then.isocalendar()) == (year - 1, week, weekday)
    assert then.isocalendar().weekday == weekday


@pytest.mark.parametrize("days", [0.04, 1, 5, 6, 130, 131, 900, 901, 3660])
def test_a_stretch_has_a_bearable_number_of_steps(days: float) -> None:
    start = instant("2016-01-04", LONDON)
    window = start, start + round(days * 24) * HOUR
    assert 1 <= len(local_spans(*window, step_of(window), LONDON)) <= MOST_STEPS


def test_the_numbers_of_the_script_are_those_of_figures(desk: TestClient, source: StoreSource) -> None:
    told = desk.get(f"/explore/data?{STRETCH}&measure=airtime&back=1").json()
    window = instant("2026-10-22", LONDON), instant("2026-10-29", LONDON)
    figures = source.figures(*window)
    assert sum(told["channel"]) == pytest.approx(figures.channel.airtime_s)
    totals = {one["mode"]: sum(value or 0 for value in one["values"]) for one in told["modes"]}
    assert totals == pytest.approx({mode: its.airtime_s or 0 for mode, its in figures.modes.items()})
    assert len(told["before"]) == len(told["spans"]) == 7 and told["by"] == "day"
    week_before = source.figures(*shifted([window], 1, LONDON)[0])
    assert sum(value or 0 for value in told["before"]) == pytest.approx(week_before.channel.airtime_s)


@pytest.mark.parametrize("measure", MEASURES)
def test_every_measure_has_a_page_numbers_and_rows(desk: TestClient, measure: str) -> None:
    query = f"{STRETCH}&measure={measure}&back=1"
    assert desk.get(f"/explore?{query}").status_code == 200
    assert desk.get(f"/explore/data?{query}").json()["measure"] == MEASURES[measure].label.text


def test_rows_as_csv_and_parquet_hold_the_same_and_sum_to_figures(desk: TestClient, source: StoreSource) -> None:
    text = desk.get(f"/explore/rows.csv?{STRETCH}")
    assert text.headers["content-disposition"] == 'attachment; filename="stretch.csv"'
    rows = list(csv.DictReader(io.StringIO(text.text)))
    frame = pl.read_parquet(io.BytesIO(desk.get(f"/explore/rows.parquet?{STRETCH}").content))
    assert frame.columns == list(rows[0]) and frame.height == len(rows)
    figures = source.figures(instant("2026-10-22", LONDON), instant("2026-10-29", LONDON))
    for mode in ("channel", *figures.modes):
        its = figures.channel if mode == "channel" else figures.modes[mode]
        own = frame.filter(pl.col("mode") == mode)
        assert own["airtime_s"].sum() == pytest.approx(its.airtime_s or 0)
        assert sum(float(row["overs"]) for row in rows if row["mode"] == mode) == its.overs
    assert frame["from"].dtype == pl.Datetime("us", "Europe/London") and not text.text.count("QA")


def test_the_overs_of_a_stretch_are_those_of_the_command_without_names(
    desk: TestClient, source: StoreSource, tmp_path: Path
) -> None:
    answer = desk.get(f"/explore/overs.parquet?{STRETCH}")
    assert answer.headers["content-disposition"] == 'attachment; filename="overs.parquet"'
    frame = pl.read_parquet(io.BytesIO(answer.content))
    window = instant("2026-10-22", LONDON), instant("2026-10-29", LONDON)
    assert frame.height == source.figures(*window).channel.overs > 100 and "station" not in frame.columns
    station = source._station
    with reading(source._engine) as connection:
        rows = list(over_rows(connection, *window, station.names_of_ids()))
    write_overs(tmp_path / "overs.parquet", rows, station, with_names=False)
    assert_frame_equal(pl.read_parquet(tmp_path / "overs.parquet"), frame)
    text = desk.get(f"/explore/overs.csv?{STRETCH}").text
    told = list(csv.DictReader(io.StringIO(text)))
    assert [instant(row["start"], LONDON) for row in told] == frame["start"].dt.epoch("us").to_list()
    assert list(told[0]) == frame.columns and not any(row["station"] in text for row in rows if row["station"])


def test_targets_and_reaches_are_those_of_the_overs(source: StoreSource) -> None:
    window = instant("2026-10-14", LONDON), instant("2026-10-21", LONDON)
    names = source.station().names
    found = by_target(source.activity(*window), window, names.reach_of)
    assert sum(row[3].overs for row in found.rows) == source.figures(*window).channel.overs
    assert sum(its.overs for its in found.reaches.values()) == source.figures(*window).channel.overs
    with reading(source._engine) as connection:
        every = list(over_rows(connection, *window, source._ids))
    told = {(mode, target): its for mode, target, is_target, its in found.rows if is_target}
    used = {(row["mode"], row["target"]) for row in every if row["target"]}
    for mode, target in used:
        mine = [row for row in every if (row["mode"], row["target"]) == (mode, target)]
        many = len({row["station"] for row in mine} - {None})
        assert ((mode, target) in told) == (many >= 5 or names.reach_of(mode, target) is not None)
        if (mode, target) in told:
            assert told[mode, target].overs == len(mine)
            inside = P.empty()
            for row in mine:
                inside |= P.closedopen(row["start"], min(row["end"], window[1]))
            assert told[mode, target].airtime_s == pytest.approx(
                sum(part.upper - part.lower for part in inside) / 1e6, abs=200
            )  # an over that was on the air at the beginning is not among the rows
    assert len(told) >= 3 and {"local", "wide"} & set(found.reaches)


def test_a_page_tells_targets_of_short_stretches_and_says_where_it_does_not(desk: TestClient) -> None:
    page = desk.get(f"/explore?{STRETCH}").text
    assert "<caption>By target" in page and "<caption>By reach" in page
    long = desk.get("/explore?from=2026-09-01&to=2026-11-01").text
    assert "<caption>By target" not in long and "Targets are told of stretches of 35 days at most" in long


def test_overs_of_years_are_asked_of_the_command(desk: TestClient) -> None:
    query = "from=2024-10-22T00:00&to=2026-10-29T00:00"
    answer = desk.get(f"/explore/overs.csv?{query}")
    assert answer.status_code == 400 and "400 days at most" in answer.text
    assert "overs.csv" not in desk.get(f"/explore?{query}").text


def test_what_nobody_saw_is_null_empty_and_not_known(desk: TestClient) -> None:
    query = "from=2026-10-10&to=2026-10-14"  # the log begins on the 12th
    hours = desk.get(f"/explore/data?{query}").json()
    assert hours["by"] == "hour" and hours["channel"][:48] == [None] * 48 and None not in hours["channel"][49:]
    rows = list(csv.DictReader(io.StringIO(desk.get(f"/explore/rows.csv?{query}").text)))
    early = [row for row in rows if row["from"].startswith("2026-10-11")]
    assert early and {row["overs"] for row in early} == {""}
    assert "not known" in desk.get(f"/explore?{query}").text


def test_an_address_shows_the_same_again(desk: TestClient) -> None:
    page = desk.get(f"/explore?{STRETCH}&measure=overs&back=2").text
    again = page.partition("This stretch, to keep")[0].rpartition('href="')[2].partition('"')[0]
    assert desk.get(again.replace("&amp;", "&")).text == page


def test_an_evening_and_five_years_can_be_asked_for(source: StoreSource) -> None:
    evening = asked_of({"from": "2026-10-22T18:10", "to": "2026-10-22T22:50"}, source)
    assert evening.by == "hour" and len(evening.spans) == 5  # whole clock hours
    years = asked_of({"from": "2021-11-01", "to": "2026-11-01"}, source)
    assert years.by == "month" and len(years.spans) == 60


@pytest.mark.parametrize(
    "query, says",
    [
        ("from=2026-10-22&to=2026-10-21", "ends before it begins"),
        ("from=2026-10-22", "That is no moment"),
        ("from=x&to=y", "That is no moment"),
        ("from=1950-01-01&to=2026-01-01", "more than 3,660 days"),
        ("measure=people", "Choose what to look at"),
        ("back=-1", "0 to 520 weeks"),
        ("back=1e3", "0 to 520 weeks"),
        ("from=2190-01-01&to=2199-01-01&back=520", "Nothing of this stretch was seen"),
    ],
)
def test_what_cannot_be_shown_is_said_in_a_sentence(desk: TestClient, query: str, says: str) -> None:
    answer = desk.get(f"/explore?{query}")
    assert answer.status_code in (200, 400) and says in answer.text


def test_only_explore_has_a_script_and_none_of_it_is_inline(open_pages: Opened) -> None:
    client = open_pages(hostile_source())
    policy = client.get("/explore").headers["content-security-policy"]
    assert "script-src 'self'" in policy and "default-src 'none'" in policy and "unsafe-eval" not in policy
    assert "script-src 'self' 'unsafe-inline'" not in policy
    page = client.get("/explore").text
    scripts = [part.partition(">")[0] for part in page.split("<script")[1:]]
    assert len(scripts) == 2 and all(' src="/' in part for part in scripts) and "<script>alert" not in page
    for path in ("/", "/week", "/month", "/intake", "/explore/data", "/definitions"):
        assert "script-src" not in client.get(path).headers["content-security-policy"]
    for part in scripts:
        answer = client.get(part.partition('src="')[2].partition('"')[0])
        assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/javascript")
        assert "immutable" in answer.headers["cache-control"]
    assert client.get("/explore/plotly.0.js").status_code == 404


def test_the_library_is_not_given_to_strangers(open_pages: Opened, password: str) -> None:
    for path in ("/explore", "/explore/data", "/explore/rows.csv", "/explore/overs.csv", "/explore/plotly.0.js"):
        assert open_pages().get(path).status_code == 303


def test_an_empty_store_says_what_to_do_next(open_pages: Opened) -> None:
    page = open_pages(empty_source()).get("/explore").text
    assert "Nothing of this stretch was seen" in page and 'href="/intake"' in page and "<script" not in page


def test_the_numbers_stand_in_tables_for_whoever_sees_no_picture(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    page, told = client.get("/explore").text, client.get("/explore/data").json()
    measure = MEASURES["airtime"]
    assert all(f">{measure.words(value)}<" in page for value in told["channel"])
    assert json.dumps(told)  # and nothing that JSON has not


def test_earlier_and_later_go_by_local_days_over_a_clock_change() -> None:
    # The clocks of London went forward on 29 March and go back on 25 October 2026 (IANA time zone database).
    for start, end, before in (("08-24", "11-23", "05-25"), ("10-25", "10-26", "10-24"), ("03-29", "04-05", "03-22")):
        window = tuple(instant(f"2026-{day}", LONDON) for day in (start, end))
        asked = Asked((window[0], window[1]), MEASURES["airtime"], 0, LONDON)
        assert asked.moved(-1) == (instant(f"2026-{before}", LONDON), window[0])
        assert replace(asked, window=asked.moved(-1)).moved(1) == window


def test_hours_go_by_their_length_where_an_hour_comes_twice() -> None:
    midnight = instant("2026-10-25", LONDON)
    asked = Asked((midnight + HOUR, midnight + 2 * HOUR), MEASURES["airtime"], 0, LONDON)
    assert asked.moved(1) == (midnight + 2 * HOUR, midnight + 3 * HOUR)


def test_the_usual_stretch_begins_no_earlier_than_the_first_day_of_the_log(source: StoreSource) -> None:
    assert asked_of({}, source).window == (instant("2026-10-12", LONDON), instant("2026-11-02", LONDON))
