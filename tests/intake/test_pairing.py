"""Events to overs, as docs/definitions.md has it, against a walk through the events one by one."""

import random

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.intake.pairing import OPEN_SCHEMA, leave_unfinished, nothing_open, pair
from shared.columns import EVENT_SCHEMA
from shared.zones import DAY, SECOND

Row = dict


def events(*rows: Row) -> pl.DataFrame:
    """A batch of events; `t` in seconds."""
    filled = [
        {**dict.fromkeys(EVENT_SCHEMA), "line": i, **row, "t": round(row["t"] * SECOND)} for i, row in enumerate(rows)
    ]
    return pl.DataFrame(filled, schema=EVENT_SCHEMA)


def start(t: float, **more: object) -> Row:
    return {"t": t, "event": "over-start", "mode": "dmr", **more}


def end(t: float, **more: object) -> Row:
    return {"t": t, "event": "over-end", "mode": "dmr", **more}


def paired(*rows: Row) -> list[Row]:
    return pair(nothing_open(), events(*rows)).overs.sort("start").to_dicts()


def test_a_start_and_the_next_end_of_its_key_are_one_over() -> None:
    over = paired(
        start(10, slot=1, side="air", station="QA1XYZ"),
        start(11, slot=2),
        end(14, slot=1, cause="released", ber_pct=0.4),
    )[0]
    assert (over["start"], over["end"]) == (10 * SECOND, 14 * SECOND)
    assert (over["station"], over["cause"], over["ber_pct"], over["side"]) == ("QA1XYZ", "released", 0.4, "air")


def test_an_end_line_that_came_after_the_end_by_the_hosts_duration_is_kept() -> None:
    result = pair(
        nothing_open(), events(start(0), end(10, seconds=8.0), start(20), end(30), start(40), end(50, seconds=11.0))
    )
    assert result.overs.sort("start")["until"].to_list() == [10 * SECOND, None, None]


def test_the_duration_of_the_host_stands_and_doubt_begins_beyond_two_seconds() -> None:
    sure, doubtful = paired(start(0), end(10, seconds=8.0), start(20), end(30, seconds=7.9))
    assert (sure["end"], sure["doubtful"]) == (8 * SECOND, False)
    assert (doubtful["end"], doubtful["doubtful"]) == (27_900_000, True)


def test_an_end_with_a_duration_and_no_start_is_an_over_and_one_with_neither_an_orphan() -> None:
    result = pair(nothing_open(), events(end(30, seconds=12.5), end(40)))
    assert result.overs.select("start", "end").rows() == [(17_500_000, 30 * SECOND)]
    assert result.others.select("event", "t").rows() == [("orphan", 40 * SECOND)]


def test_a_later_value_wins_over_an_earlier_one() -> None:
    over = paired(start(0, station="9990001", target="1"), end(5, station="qa1xyz/p"))[0]
    assert (over["station"], over["target"]) == ("QA1XYZ", "1")


def test_another_start_on_the_key_leaves_an_over_unfinished_until_that_start() -> None:
    first, second = paired(start(0), start(50), end(60))
    assert (first["end"], first["until"]) == (None, 50 * SECOND)
    assert second["end"] == 60 * SECOND


def test_how_an_over_ended_is_what_its_end_says() -> None:
    unfinished, closed = paired(start(0, cause="lost"), start(50, cause="lost"), end(60, cause="released"))
    assert (unfinished["cause"], closed["cause"]) == (None, "released")


def test_a_restart_of_the_host_leaves_every_open_over_unfinished() -> None:
    result = pair(
        nothing_open(), events(start(0, slot=1), start(5, slot=2), {"t": 9, "event": "host-start"}, end(12, slot=1))
    )
    assert result.overs.sort("start").select("end", "until").rows() == [(None, 9 * SECOND), (None, 9 * SECOND)]
    assert result.others["event"].to_list() == ["host-start", "orphan"]
    assert result.still_open.height == 0


def test_a_clock_that_jumped_back_or_far_ahead_inside_an_over_leaves_its_length_unknown() -> None:
    back, ahead = paired(start(1000), end(400), start(2000), end(2000 + 8 * DAY / SECOND))
    assert (back["end"], back["doubtful"], ahead["end"], ahead["doubtful"]) == (None, True, None, True)


def test_a_whole_over_on_one_line_does_not_touch_an_open_one() -> None:
    whole, closed = sorted(
        paired(start(0), {"t": 2, "event": "over", "mode": "dmr", "seconds": 1.5}, end(9)), key=lambda over: over["end"]
    )
    assert (whole["start"], whole["end"]) == (2 * SECOND, 3_500_000)
    assert (closed["start"], closed["end"]) == (0, 9 * SECOND)


def test_an_end_without_a_side_closes_the_over_that_was_opened_last() -> None:
    result = pair(nothing_open(), events(start(0, side="air"), start(1, side="link"), end(5), end(8)))
    assert sorted(result.overs.select("side", "start", "end").rows()) == [
        ("air", 0, 8 * SECOND),
        ("link", SECOND, 5 * SECOND),
    ]


def test_sides_that_are_given_keep_overs_apart() -> None:
    result = pair(
        nothing_open(), events(start(0, side="air"), start(1, side="link"), end(5, side="air"), end(8, side="link"))
    )
    assert sorted(result.overs.select("side", "end").rows()) == [("air", 5 * SECOND), ("link", 8 * SECOND)]


@pytest.mark.parametrize(
    "station, identity",
    [("qa1xyz", "QA1XYZ"), (" QA1XYZ /M", "QA1XYZ"), ("QA1XYZ-7", "QA1XYZ"), ("/x", None), ("", None)],
)
def test_a_station_is_stored_by_its_identity(station: str, identity: str | None) -> None:
    assert paired(start(0, station=station), end(1))[0]["station"] == identity


def test_what_is_open_when_a_log_ends_is_left_unfinished() -> None:
    left = leave_unfinished(pair(nothing_open(), events(start(3, station="QA1XYZ"))).still_open)
    assert left.select("start", "end", "until", "station").rows() == [(3 * SECOND, None, None, "QA1XYZ")]


SIDES = st.sampled_from([None, "air", "link"])


@st.composite
def traffic(draw: st.DrawFn) -> list[Row]:
    rows: list[Row] = []
    t = 0
    for _ in range(draw(st.integers(0, 25))):
        t += draw(st.integers(0, 40))
        kind = draw(st.sampled_from(["over-start"] * 6 + ["over-end"] * 6 + ["over", "host-start", "refused", "alive"]))
        mode, slot = draw(st.sampled_from([("dmr", 1), ("dmr", 2), ("dstar", None), (None, None)]))
        seconds = draw(st.sampled_from([None, None, 1.25, 30.0])) if kind != "over" else 4.5
        rows.append(
            {
                "t": t,
                "event": kind,
                "mode": mode,
                "slot": slot,
                "side": draw(SIDES),
                "seconds": seconds if "over" in kind else None,
            }
        )
    return rows


def walked(rows: list[Row]) -> tuple[list[tuple], int, int]:
    """The definition, one event at a time: finished and unfinished overs, what is open at the end, orphans."""
    opened: list[Row] = []
    overs: list[tuple] = []
    orphans = 0
    for row in rows:
        t = row["t"] * SECOND
        if row["event"] == "host-start":
            overs += [(one["t"] * SECOND, None, t, one["mode"], False) for one in opened]
            opened = []
        elif row["event"] == "over":
            overs.append((t, t + 4_500_000, None, row["mode"], False))
        elif row["event"] == "over-start":
            for other in [
                one
                for one in opened
                if (one["mode"], one["slot"], one["side"]) == (row["mode"], row["slot"], row["side"])
            ]:
                overs.append((other["t"] * SECOND, None, t, other["mode"], False))
                opened.remove(other)
            opened.append(row)
        elif row["event"] == "over-end":
            channel = [one for one in opened if (one["mode"], one["slot"]) == (row["mode"], row["slot"])]
            fits = [one for one in channel if one["side"] == row["side"]] if row["side"] else channel
            fits = fits or [one for one in channel if one["side"] is None]
            length = None if row["seconds"] is None else round(row["seconds"] * SECOND)
            if fits:
                begun = fits[-1]["t"] * SECOND
                opened.remove(fits[-1])
                doubtful = length is not None and abs(t - begun - length) > 2 * SECOND
                ended = begun + (t - begun if length is None else length)
                overs.append((begun, ended, t if t > ended else None, row["mode"], doubtful))
            elif length is not None:
                overs.append((t - length, t, None, row["mode"], False))
            else:
                orphans += 1
    return overs, len(opened), orphans


@settings(max_examples=200, deadline=None)
@given(traffic())
def test_pairing_is_what_a_walk_through_the_events_gives(rows: list[Row]) -> None:
    result = pair(nothing_open(), events(*rows))
    overs, still_open, orphans = walked(rows)
    found = result.overs.select("start", "end", "until", "mode", "doubtful").rows()
    assert sorted(found, key=repr) == sorted(overs, key=repr)
    assert result.still_open.height == still_open
    assert (result.others["event"] == "orphan").sum() == orphans


@settings(max_examples=100, deadline=None)
@given(traffic(), st.integers(0, 1 << 30))
def test_where_a_log_is_cut_into_batches_changes_nothing(rows: list[Row], seed: int) -> None:
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
    assert opened.equals(whole.still_open)
    assert opened.schema == pl.Schema(OPEN_SCHEMA)
