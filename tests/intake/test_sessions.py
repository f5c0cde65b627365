"""A session ties an end to its start (docs/definitions.md, From events to overs), against a walk through the events one
by one.
"""

import datetime as dt
import json
import random
from pathlib import Path

import polars as pl
import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from hypothesis import example, given, settings
from hypothesis import strategies as st

from server.intake.again import read_again
from server.intake.pairing import OPEN_SCHEMA, nothing_open, pair
from server.store import migrations, schema
from server.store.engine import open_store, reading
from shared.zones import DAY, SECOND
from tests.intake.conftest import T0, MakeFolder
from tests.intake.test_pairing import Row, end, events, start

DAY_S = DAY // SECOND


def named(t: float, session: str | None, **more: object) -> Row:
    """An end that names nothing but its session."""
    return {"t": t, "event": "over-end", "session": session, **more}


def spans(*rows: Row) -> list[tuple]:
    return sorted(pair(nothing_open(), events(*rows)).overs.select("start", "end", "mode", "slot").rows(), key=repr)


def test_an_end_that_names_only_its_session_closes_the_over_of_that_session() -> None:
    rows = [
        start(0, slot=1, session="a", side="air"),
        start(1, slot=2, session="b"),
        named(5, "a"),
        named(8, "b", cause="lost"),
    ]
    assert spans(*rows) == [(0, 5 * SECOND, "dmr", 1), (SECOND, 8 * SECOND, "dmr", 2)]


def test_two_sessions_of_one_key_are_both_closed_by_their_own_ends() -> None:
    rows = [start(0, session="a"), start(1, session="b"), named(5, "a"), named(8, "b")]
    assert spans(*rows) == [(0, 5 * SECOND, "dmr", None), (SECOND, 8 * SECOND, "dmr", None)]


def test_an_over_whose_sessions_end_is_missing_is_unfinished_until_the_next_start_of_its_key() -> None:
    result = pair(
        nothing_open(),
        events(start(0, session="a"), start(50, session="b"), named(60, "b"), start(90, session="a"), named(95, "a")),
    )
    assert result.overs.sort("start").select("start", "end", "until").rows() == [
        (0, None, 50 * SECOND), (50 * SECOND, 60 * SECOND, None), (90 * SECOND, 95 * SECOND, None),
    ]  # fmt: skip


def test_a_second_start_of_a_session_leaves_the_first_over_unfinished_wherever_it_is() -> None:
    result = pair(nothing_open(), events(start(0, session="a", slot=1), start(9, session="a", slot=2), named(12, "a")))
    assert result.overs.sort("start").select("start", "end", "until", "slot").rows() == [
        (0, None, 9 * SECOND, 1), (9 * SECOND, 12 * SECOND, None, 2),
    ]  # fmt: skip


def test_a_session_ends_with_its_over_so_that_a_second_end_of_it_is_an_orphan() -> None:
    result = pair(nothing_open(), events(start(0, session="a"), named(5, "a"), named(9, "a")))
    assert (result.overs.height, result.others["event"].to_list(), result.others["session"].to_list()) == (
        1,
        ["orphan"],
        ["a"],
    )


def test_an_end_of_an_unknown_session_closes_an_over_without_one_that_its_key_fits_and_no_other() -> None:
    assert spans(start(0), end(5, session="x")) == [(0, 5 * SECOND, "dmr", None)]
    result = pair(nothing_open(), events(start(0, session="a"), end(5, session="x")))
    assert (result.still_open.height, result.others["event"].to_list()) == (1, ["orphan"])


def test_an_end_without_a_session_closes_by_its_key_an_over_that_has_one() -> None:
    assert spans(start(0, session="a", slot=1), start(1, session="b", slot=2), end(5, slot=1)) == [
        (0, 5 * SECOND, "dmr", 1)
    ]


def test_an_end_of_an_unknown_session_with_a_duration_is_an_over_of_its_own() -> None:
    result = pair(nothing_open(), events(start(0, session="a"), end(30, session="x", seconds=4.0)))
    assert result.overs.select("start", "end", "whole").rows() == [(26 * SECOND, 30 * SECOND, True)]


def test_a_restart_of_the_host_ends_its_sessions() -> None:
    result = pair(nothing_open(), events(start(0, session="a"), {"t": 9, "event": "host-start"}, named(12, "a")))
    assert result.overs.select("start", "end", "until").rows() == [(0, None, 9 * SECOND)]
    assert result.others["event"].to_list() == ["host-start", "orphan"]


def test_a_session_on_other_events_means_nothing() -> None:
    rows = [
        start(0, session="a"),
        *({"t": 1, "event": kind, "session": "a"} for kind in ("refused", "link-up", "page")),
        named(5, "a"),
    ]
    result = pair(nothing_open(), events(*rows))
    assert (result.overs.height, result.overs["end"][0], result.others["session"].null_count()) == (1, 5 * SECOND, 3)


def test_a_displaced_over_is_waited_for_a_day_and_no_longer() -> None:
    late = [start(DAY_S + 1, session="c"), named(DAY_S + 2, "a", seconds=9.0)]
    result = pair(nothing_open(), events(start(0, session="a"), start(50, session="b"), named(60, "b"), *late))
    assert (0, None, 50 * SECOND) in result.overs.select("start", "end", "until").rows()
    assert result.still_open["session"].to_list() == ["c"]


KINDS = ["over-start"] * 6 + ["over-end"] * 6 + ["over", "host-start", "refused", "alive"]


@st.composite
def traffic(draw: st.DrawFn) -> list[Row]:
    """Events of a log in which all, some or no lines name one of a few sessions."""
    rows: list[Row] = []
    t = 0
    share = draw(st.sampled_from([0, 5, 10, 10]))
    jumps = draw(st.sampled_from([[0], [0, 0, DAY_S // 2, DAY_S + 1, -3 * 3600]]))
    for _ in range(draw(st.integers(0, 25))):
        t += draw(st.integers(0, 40)) + draw(st.sampled_from(jumps))
        kind = draw(st.sampled_from(KINDS))
        names_it = draw(st.integers(0, 9)) < share
        mode, slot = draw(st.sampled_from([("dmr", 1), ("dmr", 2), ("dstar", None), (None, None)]))
        session = draw(st.sampled_from("abcd")) if names_it else None
        seconds = draw(st.sampled_from([None, None, 1.25, 30.0])) if kind != "over" else 4.5
        side = draw(st.sampled_from([None, "air", "link"]))
        rows.append({"t": t, "event": kind, "mode": mode, "slot": slot, "side": side, "session": session,
                     "seconds": seconds if "over" in kind else None})  # fmt: skip
    return rows


def key_of(row: Row) -> tuple:
    return row["mode"], row["slot"], row["side"]


def walked(rows: list[Row]) -> tuple[list[tuple], list[tuple], int]:
    """The definition, one event at a time: overs (start, end, until, mode), what is open at the end (start, session,
    until), orphans.
    """
    opened: list[Row] = []
    overs: list[tuple] = []
    orphans = 0

    def lose(one: Row, t: int) -> None:
        opened.remove(one)
        overs.append((one["t"] * SECOND, None, one["until"] or t, one["mode"]))

    for number, row in enumerate(rows):
        t, session = row["t"] * SECOND, row["session"]
        if row["event"] == "host-start":
            for one in list(opened):
                lose(one, t)
        elif row["event"] == "over":
            overs.append((t, t + 4_500_000, None, row["mode"]))
        elif row["event"] == "over-start":
            for one in [one for one in opened if session is not None and one["session"] == session]:
                lose(one, t)
            for one in [one for one in opened if key_of(one) == key_of(row)]:
                if one["session"] is None or t > one["t"] * SECOND + DAY:
                    lose(one, t)
                elif one["until"] is None:
                    one["until"] = t
            opened.append({**row, "number": number, "until": None})
        elif row["event"] == "over-end":
            mine = [one for one in opened if session is not None and one["session"] == session]
            channel = [
                one
                for one in opened
                if (one["mode"], one["slot"]) == (row["mode"], row["slot"]) and one["until"] is None
            ]
            channel = [one for one in channel if session is None or one["session"] is None]
            fits = [one for one in channel if one["side"] == row["side"]] if row["side"] else channel
            fits = mine or fits or [one for one in channel if one["side"] is None]
            length = None if row["seconds"] is None else round(row["seconds"] * SECOND)
            if fits:
                opened.remove(fits[-1])
                begun = fits[-1]["t"] * SECOND
                lasted = t - begun if length is None else length
                known = length is not None or 0 <= lasted <= DAY
                overs.append(
                    (
                        begun,
                        begun + lasted if known else None,
                        t if (not known and lasted > 0) or (known and t > begun + lasted) else None,
                        row["mode"] or fits[-1]["mode"],
                    )
                )
            elif length is not None:
                overs.append((t - length, t, None, row["mode"]))
            else:
                orphans += 1
    return overs, [(one["t"] * SECOND, one["session"], one["until"]) for one in opened], orphans


def steady(rows: list[Row]) -> list[Row]:
    """The rows as a host with a steady clock would have stamped them."""
    latest = 0
    out = []
    for row in rows:
        latest = max(latest, row["t"])
        out.append({**row, "t": latest})
    return out


@settings(max_examples=400, deadline=None)
@given(traffic())
@example(
    [
        start(0, slot=None, side=None, session="a", seconds=None),
        start(1, slot=None, side=None, session=None, seconds=None),
    ]
)
def test_pairing_by_session_is_what_a_walk_through_the_events_gives(rows: list[Row]) -> None:
    result = pair(nothing_open(), events(*rows))
    overs, still_open, orphans = walked(rows)
    found = result.overs.select("start", "end", "until", "mode").rows()
    assert sorted(found, key=repr) == sorted(overs, key=repr)
    assert sorted(result.still_open.select("start", "session", "until").rows(), key=repr) == sorted(
        still_open, key=repr
    )
    assert (result.others["event"] == "orphan").sum() == orphans


@settings(max_examples=300, deadline=None)
@given(traffic(), st.integers(0, 1 << 30), st.booleans())
def test_where_a_log_with_sessions_is_cut_changes_nothing(rows: list[Row], seed: int, even: bool) -> None:
    rows = steady(rows) if even else rows
    whole = pair(nothing_open(), events(*rows))
    rng = random.Random(seed)
    cuts = sorted(rng.sample(range(len(rows) + 1), min(3, len(rows) + 1)))
    opened, overs, others = nothing_open(), [], []
    for low, high in zip([0, *cuts], [*cuts, len(rows)], strict=True):
        part = pair(opened, events(*rows[low:high]))
        opened = part.still_open
        overs += part.overs.rows()
        others += part.others.rows()
    assert sorted(overs, key=repr) == sorted(whole.overs.rows(), key=repr)
    assert sorted(others, key=repr) == sorted(whole.others.rows(), key=repr)
    assert sorted(opened.rows(), key=repr) == sorted(whole.still_open.rows(), key=repr)
    assert opened.schema == pl.Schema(OPEN_SCHEMA)


def line(t: int, event: str, **more: object) -> bytes:
    return (
        json.dumps({"t": dt.datetime.fromtimestamp(T0 + t, dt.UTC).isoformat(), "event": event, **more}).encode()
        + b"\n"
    )


def test_an_over_is_closed_by_its_session_after_a_restart_and_by_nothing_else(folder: MakeFolder) -> None:
    one = folder()
    one.write(
        "host.log", line(0, "over-start", mode="dmr", session=17) + line(1, "over-start", mode="dmr", session="18")
    )
    one.catch_up()
    assert one.rows(schema.open_over, "session", "until") == [("17", (T0 + 1) * SECOND), ("18", None)]
    one.restart()
    one.write("host.log", line(5, "over-end", session="17") + line(7, "over-end", session="18", cause="timeout"))
    one.catch_up()
    assert one.rows(schema.over, "start", "end", "cause", "session") == [
        (T0 * SECOND, (T0 + 5) * SECOND, None, "17"), ((T0 + 1) * SECOND, (T0 + 7) * SECOND, "timeout", "18"),
    ]  # fmt: skip
    assert one.rows(schema.open_over, "id") == []


def test_an_over_from_a_file_that_is_gone_is_closed_by_its_session_when_the_other_is_read_again(
    folder: MakeFolder,
) -> None:
    one = folder()
    one.write("host.log.1", line(0, "over-start", mode="dmr", session="a"))
    one.write("host.log", line(5, "over-end", session="a") + line(6, "alive"))
    one.catch_up()
    (one.path / "host.log.1").unlink()
    read_again(one.engine, one.station)
    assert one.rows(schema.over, "start", "end", "mode", "session") == [(T0 * SECOND, (T0 + 5) * SECOND, "dmr", "a")]
    assert one.rows(schema.event, "event") == []


def test_a_page_is_stored_with_its_bit_rate_code_words_and_characters(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", line(0, "page", mode="pocsag", bit_rate=1200, code_words=34, characters=80, session="x"))
    one.catch_up()
    assert one.rows(schema.event, "event", "bit_rate", "code_words", "characters", "session") == [
        ("page", 1200, 34, 80, None)
    ]


@pytest.mark.parametrize(
    "wrong",
    [
        {"bit_rate": 0},
        {"code_words": 2.5},
        {"characters": -1},
        {"bit_rate": "1200"},
        {"session": True},
        {"session": 1.5},
    ],
)
def test_a_page_with_a_count_that_cannot_be_is_unread(folder: MakeFolder, wrong: dict) -> None:
    one = folder()
    one.write("host.log", line(0, "page", mode="pocsag", **wrong))
    assert one.catch_up().unread == 1


def test_a_store_of_the_first_schema_is_brought_up_to_date_with_its_rows(tmp_path: Path) -> None:
    engine = sa.create_engine(f"sqlite:///{tmp_path / 'airtally.db'}")
    config = Config()
    config.set_main_option("script_location", str(Path(migrations.__file__).parent))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(sa.text("INSERT INTO open_over (log_id, start, mode) VALUES (1, 5, 'dmr')"))
    engine.dispose()
    now = open_store(f"sqlite:///{tmp_path / 'airtally.db'}")
    with reading(now) as connection:
        assert connection.execute(sa.select(schema.open_over.c.start, schema.open_over.c.session)).all() == [(5, None)]
        for table in schema.metadata.sorted_tables:
            assert {column["name"] for column in sa.inspect(connection).get_columns(table.name)} == set(table.c.keys())
