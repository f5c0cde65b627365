"""Tables for the keeper's own analysis, read back by pandas, polars and Python's csv."""

import csv
import datetime as dt
import io
import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import polars as pl
import pytest

from server.analytics.figure_rows import figure_frame, figure_rows
from server.analytics.local_spans import BY, local_spans
from server.cli.exporting import csv_text
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import close_stores, open_store
from shared.zones import HOUR, instant
from tests.cli.test_commands import airtally, refused

LONDON = ZoneInfo("Europe/London")
#: Figures whose sum over the hours of a day is the day's own.
ADDITIVE = (
    "window.seconds", "window.blind_s", "channel.seen_s", "channel.airtime_s", "channel.keyed_s", "channel.idle_hold_s",
    "channel.overs", "channel.pages", "channel.overruns", "channel.unfinished", "channel.unfinished_longest_s",
    "shut_outs.attempts", "likely_waiters_estimated", "talk.conversations", "talk.local_on_wide_s",
    "talk.local_on_wide", "intake.lines", "intake.understood", "intake.ignored", "intake.unread", "intake.orphans",
    "intake.doubtful",
)  # fmt: skip
OF_MODES = (
    "airtime_s", "slot_s.1", "slot_s.2", "both_slots_s", "idle_hold_s", "pages", "overs", "air_overs", "link_overs",
    "timeouts", "timeouts_estimated", "overruns", "near_timeouts", "timeout_lockouts", "kerchunks",
    "shut_outs_suffered", "shut_outs_caused", "doublings",
)  # fmt: skip


@pytest.fixture(scope="module")
def hill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The folder of a demo of two weeks with the clock change of October in them."""
    folder = tmp_path_factory.mktemp("hill")
    write_demo(folder, weeks=2, first_day=dt.date(2026, 10, 19))
    station = load_station(folder / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    yield folder
    close_stores()


@pytest.fixture(scope="module")
def source(hill: Path) -> StoreSource:
    station = load_station(hill / "station.toml")
    return StoreSource(open_store(station.store_url()), station)


def table(source: StoreSource, start: str, end: str, by: str) -> pd.DataFrame:
    window = instant(start, LONDON), instant(end, LONDON)
    return figure_frame(figure_rows(source.figures_by(*window, by)), LONDON).to_pandas()  # type: ignore[arg-type]


@pytest.mark.parametrize("day, hours", [("2026-10-25", 25), ("2026-10-26", 24)])
def test_the_hours_of_a_day_add_up_to_the_day_with_its_clock_change(source: StoreSource, day: str, hours: int) -> None:
    after = str(dt.date.fromisoformat(day) + dt.timedelta(days=1))
    each, whole = table(source, day, after, "hour"), table(source, day, after, "day")
    assert (len(each), len(whole)) == (hours, 1)
    modes = {name.split(".")[1] for name in whole.columns if name.startswith("modes.")}
    wanted = [*ADDITIVE, *(f"modes.{mode}.{name}" for mode in modes for name in OF_MODES)]
    summed = [name for name in wanted if name in whole.columns]
    assert len(summed) > 60
    for name in summed:
        assert np.isclose(each[name].sum(), whole[name].fillna(0).iloc[0], atol=1e-6), name


def test_a_day_that_loses_an_hour_has_23() -> None:
    start, end = instant("2026-03-29", LONDON), instant("2026-03-30", LONDON)
    assert len(local_spans(start, end, "hour", LONDON)) == 23


@pytest.mark.parametrize(
    "zone", ["Europe/London", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Apia", "America/Havana"]
)
@pytest.mark.parametrize("by, freq", [("hour", "h"), ("day", "D"), ("week", "W-MON"), ("month", "MS")])
def test_windows_are_cut_where_pandas_cuts_the_calendar(zone: str, by: str, freq: str) -> None:
    # pandas.date_range of local wall times, made instants of by zoneinfo.
    where = ZoneInfo(zone)
    start, end = instant("2011-03-10T05:17+00:00", where), instant("2012-01-20T11:00+00:00", where)
    spans = local_spans(start, end, by, where)  # type: ignore[arg-type]
    assert spans[0][0] == start and spans[-1][1] == end
    assert all(before[1] == after[0] and before[0] < before[1] for before, after in pairwise(spans))
    if by == "hour":
        cut = [pd.Timestamp(at, unit="us", tz=zone) for at, _ in spans[1:]]
        assert all((one.minute, one.second) == (0, 0) for one in cut)
        assert max(after - at for at, after in spans) <= 1.5 * HOUR  # Lord Howe's clocks change by half an hour
        return
    first = pd.Timestamp(start, unit="us", tz=zone).tz_localize(None).normalize()
    walls = pd.date_range(first, pd.Timestamp(end, unit="us", tz=zone).tz_localize(None), freq=freq)
    edges = sorted({instant(f"{wall:%Y-%m-%d}", where) for wall in walls})
    assert [at for at, _ in spans[1:]] == [edge for edge in edges if start < edge < end]


def test_a_row_is_the_figures_of_its_window_under_the_names_that_pandas_gives_them(source: StoreSource) -> None:
    window = instant("2026-10-24T11:30", LONDON), instant("2026-10-27", LONDON)
    for by in BY:
        rows = figure_rows(source.figures_by(*window, by))
        for row, span in zip(rows, local_spans(*window, by, LONDON), strict=True):
            told = pd.json_normalize(source.figures(*span).as_json()).drop(columns="shut_outs").iloc[0].to_dict()
            for name, value in told.items():
                assert row[name] == value or (value is None and row[name] in (None, 0)), (by, name)
            beside = {name: value for name, value in row.items() if name not in told}
            assert beside.pop("shut_outs.attempts") == source.figures(*span).attempts_shut_out
            assert set(beside.values()) <= {None, 0}  # modes and slots that this window has not


def test_what_nobody_saw_is_empty(hill: Path) -> None:
    window = ("--from", "2026-10-17", "--to", "2026-10-21", "--by", "day")
    text = airtally("figures", *window, "--csv", cwd=hill).stdout
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["channel.overs"] == "" for row in rows] == [True, True, False, False]
    unseen = {name: value for name, value in rows[0].items() if value}
    assert unseen.keys() == {
        "repeater", "window.from", "window.to", "window.zone", "window.seconds", "window.blind_s", "channel.seen_s",
        *(name for name in rows[0] if name.startswith("intake.")),
    }  # fmt: skip
    assert unseen["channel.seen_s"] == "0.0" and {rows[0][name] for name in unseen if name.startswith("intake.")} == {
        "0"
    }
    airtally("figures", *window, "--parquet", "days.parquet", cwd=hill)
    frame = pl.read_parquet(hill / "days.parquet")
    assert frame["modes.dmr.overs"].to_list()[:2] == [None, None] and frame["modes.dmr.overs"].dtype == pl.Int64
    assert frame["window.from"].dtype == pl.Datetime("us", "Europe/London")


def test_csv_and_parquet_hold_the_same(hill: Path) -> None:
    window = ("--week", "2026-W43", "--by", "day")
    done = airtally("figures", *window, "--csv", "days.csv", cwd=hill)
    assert done.stdout == "days.csv: 7 days.\n"
    airtally("figures", *window, "--parquet", "days.parquet", cwd=hill)
    text, columns = pd.read_csv(hill / "days.csv"), pd.read_parquet(hill / "days.parquet")
    assert list(text.columns) == list(columns.columns)
    for name in columns.columns:
        if pd.api.types.is_numeric_dtype(columns[name]):
            assert np.allclose(text[name].astype(float), columns[name].astype(float), equal_nan=True), name
    assert all((hill / name).stat().st_mode & 0o777 == 0o600 for name in ("days.csv", "days.parquet"))


def test_nothing_in_a_cell_is_a_formula() -> None:
    # OWASP, CSV injection (from memory): a cell that begins with = + - @ tab or carriage return.
    rows = [{"a": text, "b": -1.5} for text in ("=1+1", "+1", "-1", "@x", "\tx", "\rx", "a,b", 'a"b', "a\nb", "a\r=1")]
    read = list(csv.DictReader(io.StringIO(csv_text(rows), newline="")))
    assert [row["a"][0] for row in read[:6]] == ["'"] * 6
    assert [row["a"] for row in read[6:]] == ["a,b", 'a"b', "a\nb", "a\\r=1"]
    assert {row["b"] for row in read} == {"-1.5"}  # a number is no text


def test_overs_as_parquet_name_nobody_unless_asked(hill: Path) -> None:
    lines = [json.loads(line) for line in airtally("overs", "--week", "2026-W43", cwd=hill).stdout.splitlines()]
    people = {row["station"] for row in lines} - {None}
    assert airtally("overs", "--week", "2026-W43", "--parquet", "o.parquet", cwd=hill).stdout.endswith("overs.\n")
    bare = pl.read_parquet(hill / "o.parquet")
    assert "station" not in bare.columns and bare.height == len(lines)
    raw = (hill / "o.parquet").read_bytes()
    assert people and not any(one.encode() in raw for one in people)
    airtally("overs", "--week", "2026-W43", "--parquet", "n.parquet", "--with-names", cwd=hill)
    named = pl.read_parquet(hill / "n.parquet")
    assert named["station"].to_list() == [row["station"] for row in lines]
    assert named.columns == list(lines[0]) and named["target"].to_list() == [row["target"] for row in lines]
    assert [one.isoformat() for one in named["start"]] == [row["start"] for row in lines]
    assert (hill / "n.parquet").stat().st_mode & 0o777 == 0o600


def test_a_target_that_may_be_somebody_is_withheld_with_the_stations(tmp_path: Path) -> None:
    over = '{"t":"2026-11-16T19:00:0%dZ","event":"over","mode":"dmr","seconds":1,"station":"QA1XYZ","target":"%s"}\n'
    (tmp_path / "host.log").write_text("".join(over % (n, to) for n, to in enumerate(("99901", "QA1ABC", "9990123"))))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\n'
    )
    airtally("ingest", cwd=tmp_path)
    airtally("overs", "--week", "2026-W47", "--parquet", "o.parquet", cwd=tmp_path)
    assert pl.read_parquet(tmp_path / "o.parquet")["target"].to_list() == ["99901", "withheld", "withheld"]


@pytest.mark.parametrize(
    "arguments, says",
    [
        (("figures", "--csv"), "add --by"),
        (("figures", "--parquet", "x"), "add --by"),
        (("figures", "--by", "day"), "name one form"),
        (("figures", "--by", "day", "--json"), "--json is for one window"),
        (("figures", "--by", "day", "--csv", "a", "--parquet", "b"), "name one form"),
        (("figures", "--by", "year", "--csv"), "is not one of"),
        (("figures", "--by", "day", "--csv", "none/a.csv"), "there is no folder none"),
        (("overs", "--csv", "--parquet", "a"), "Name one of"),
        (("overs", "--parquet", "none/a"), "there is no folder none"),
    ],
)
def test_unusable_forms_are_refused_with_a_sentence(hill: Path, arguments: tuple[str, ...], says: str) -> None:
    assert says in refused(*arguments, "--week", "2026-W43", cwd=hill)
