"""The truth that a run tells, against literal twins of the definitions and against a reference library for spans
(`portion`).
"""

import datetime as dt
from collections import Counter, defaultdict
from itertools import pairwise
from statistics import median

import polars as pl
import portion
import pytest

from server.demo.simulate import Simulated
from server.demo.unseen import unseen
from server.demo.world import QUIET_LOG_S
from shared.zones import to_us
from tests.demo.brute import Elementary, attempts, blind_seconds, read


def covered(overs: list[dict]) -> portion.Interval:
    every = portion.empty()
    for start in range(0, len(overs), 200):  # in parts, as its unions grow slow
        every |= portion.Interval(*[portion.closedopen(one["start"], one["end"]) for one in overs[start : start + 200]])
    return every


def seconds(spans: portion.Interval) -> float:
    return sum(one.upper - one.lower for one in spans if not one.empty) / 1e6


def test_airtime_is_what_the_reference_library_makes_of_the_spans(week: Simulated) -> None:
    log, truth = read(week.events), week.truth["whole"]
    assert truth["channel"]["airtime_s"] == pytest.approx(seconds(covered(log.transmissions)), abs=1e-6)
    for mode, figures in truth["modes"].items():
        overs = [one for one in log.transmissions if one["mode"] == mode]
        assert figures["airtime_s"] == pytest.approx(seconds(covered(overs)), abs=1e-6), mode
    slots = [covered([one for one in log.overs if one["mode"] == "dmr" and one["slot"] == slot]) for slot in (1, 2)]
    assert truth["modes"]["dmr"]["slot_s"] == pytest.approx({"1": seconds(slots[0]), "2": seconds(slots[1])}, abs=1e-6)
    assert truth["modes"]["dmr"]["both_slots_s"] == pytest.approx(seconds(slots[0] & slots[1]), abs=1e-6)
    assert truth["modes"]["dmr"]["both_slots_s"] > 0


def test_keyed_time_adds_the_tail_of_dmr(week: Simulated) -> None:
    overs = read(week.events).transmissions
    longer = [{**one, "end": one["end"] + (2_000_000 if one["mode"] == "dmr" else 0)} for one in overs]
    assert week.truth["whole"]["channel"]["keyed_s"] == pytest.approx(seconds(covered(longer)), abs=1e-6)


def test_idle_hold_and_shut_outs_are_what_a_literal_reading_gives(week: Simulated) -> None:
    log, truth = read(week.events), week.truth["whole"]
    slow = Elementary(log, week.start, week.end)
    idle = {mode: slow.seconds(slow.holding[mode] & ~slow.busy) for mode in slow.modes}
    assert {mode: one["idle_hold_s"] for mode, one in truth["modes"].items() if mode in idle} == pytest.approx(
        idle, abs=1e-6
    )
    waits = defaultdict(list)
    for one in attempts(log):
        if one["reason"] == "other-mode":
            holder, wait = slow.holder(one["mode"], one["t"])
            waits[holder, one["mode"]].append(wait)
    assert len(waits) > 5
    told = {(one["held_by"], one["wanted"]): (one["attempts"], one["mean_wait_s"]) for one in truth["shut_outs"]}
    assert {cell: count for cell, (count, _) in told.items()} == {cell: len(those) for cell, those in waits.items()}
    for cell, (_, mean) in told.items():
        assert mean == pytest.approx(sum(waits[cell]) / len(waits[cell]), abs=1e-6)


def test_counts_are_what_the_rows_say(autumn: Simulated) -> None:
    log, modes = read(autumn.events), autumn.truth["whole"]["modes"]
    for name, kept in (
        ("overs", lambda one: True),
        ("air_overs", lambda one: one["side"] == "air"),
        ("link_overs", lambda one: one["side"] == "link"),
        ("timeouts", lambda one: one["cause"] == "timeout"),
        (
            "near_timeouts",
            lambda one: one["cause"] != "timeout" and 162_000_000 <= one["end"] - one["start"] <= 190_000_000,
        ),
    ):
        counted = Counter(one["mode"] for one in log.overs if kept(one))
        assert {mode: one[name] for mode, one in modes.items() if one[name]} == dict(counted), name
        assert counted, name
    busy = Counter(one["mode"] for one in attempts(log) if one["reason"] == "busy")
    for place, one in enumerate(log.overs):
        for other in log.overs[max(0, place - 60) : place]:  # no over lasts through sixty others on its mode and slot
            same = other["mode"] == one["mode"] and other["slot"] == one["slot"] and one["station"] and other["station"]
            if same and other["station"] != one["station"]:
                busy[one["mode"]] += min(one["end"], other["end"]) - one["start"] >= 500_000
    assert {mode: one["doublings"] for mode, one in modes.items() if one["doublings"]} == dict(+busy)
    assert {mode: one["pages"] for mode, one in modes.items() if one["pages"]} == {"pocsag": len(log.pages)}
    locked = Counter(one["mode"] for one in attempts(log) if one["reason"] == "lockout")
    assert {mode: one["timeout_lockouts"] for mode, one in modes.items() if one["timeout_lockouts"]} == dict(locked)
    assert locked


def test_conversations_and_kerchunks_are_what_grouping_by_hand_gives(week: Simulated) -> None:
    overs, truth = read(week.events).overs, week.truth["whole"]
    groups: dict[tuple, list[list[dict]]] = defaultdict(list)
    for one in overs:
        chains = groups[one["mode"], one["slot"], one["target"]]
        if chains and one["start"] <= max(before["end"] for before in chains[-1]) + 30_000_000:
            chains[-1].append(one)
        else:
            chains.append([one])
    chains = [chain for those in groups.values() for chain in those]
    talks = [chain for chain in chains if len({one["station"] for one in chain if one["station"]}) > 1]
    assert truth["talk"]["conversations"] == len(talks) > 50
    gaps = [
        after["start"] - before["end"]
        for chain in talks
        for before, after in pairwise(chain)
        if after["station"] != before["station"] and after["start"] >= before["end"]
    ]
    assert truth["talk"]["turnaround_median_s"] == pytest.approx(median(gaps) / 1e6)
    assert truth["talk"]["short_gap_share"] == pytest.approx(sum(gap < 1_000_000 for gap in gaps) / len(gaps))
    short = Counter(
        one["mode"]
        for chain in chains
        if chain not in talks
        for one in chain
        if one["side"] == "air" and one["end"] - one["start"] < 1_500_000
    )
    assert {mode: one["kerchunks"] for mode, one in truth["modes"].items() if one["kerchunks"]} == dict(short)
    wide = [
        c
        for c in talks
        if c[0]["target"] in ("99950", "FELLS C", "GreatMoot") and all(one["side"] == "air" for one in c)
    ]
    assert truth["talk"]["local_on_wide"] == len(wide)
    assert truth["talk"]["local_on_wide_s"] == pytest.approx(sum(seconds(covered(chain)) for chain in wide), abs=1e-6)


def test_the_weeks_sum_to_the_whole(autumn: Simulated) -> None:
    whole, weeks = autumn.truth["whole"], autumn.truth["weeks"]
    for name in ("airtime_s", "keyed_s", "idle_hold_s", "overs", "unfinished"):
        assert sum(one["channel"][name] for one in weeks) == pytest.approx(whole["channel"][name]), name
    for mode, figures in whole["modes"].items():
        for name, value in figures.items():
            parts = [one["modes"][mode][name] for one in weeks if mode in one["modes"]]
            if name == "stations" and value is not None:
                assert max(parts) <= value <= sum(parts)
            elif isinstance(value, (int, float)):
                assert sum(part or 0 for part in parts) == pytest.approx(value), (mode, name)
    assert sum(one["window"]["seconds"] for one in weeks) == whole["window"]["seconds"]
    assert sum(one["talk"]["conversations"] for one in weeks) == whole["talk"]["conversations"]


def test_blind_time_is_what_each_stretch_says_when_it_is_asked(autumn: Simulated) -> None:
    on_air = read(autumn.events).transmissions
    for window in [*autumn.truth["weeks"], autumn.truth["whole"]]:
        first, after = (to_us(dt.datetime.fromisoformat(window["window"][edge])) for edge in ("from", "to"))
        found = blind_seconds(autumn.logs, on_air, first, after, QUIET_LOG_S)
        assert window["window"]["blind_s"] == pytest.approx(found, abs=1e-6)
    assert autumn.truth["whole"]["window"]["blind_s"] > 8000  # the power cut


def test_a_restart_of_the_host_is_not_blind_where_the_pager_tells_and_is_where_it_does_not() -> None:
    host = pl.DataFrame(
        {"t": [0, 60_000_000, 90_000_000, 120_000_000], "event": ["over-start", "host-stop", "host-start", "alive"]}
    )
    pager = pl.DataFrame({"t": [0, 120_000_000], "event": ["page", "alive"]})
    assert unseen([host], [], 900, 0, 120_000) == [(60_000, 90_000)]
    assert unseen([host, pager], [], 900, 0, 120_000) == []
    assert unseen([host, pager], [], 100, 0, 120_000) == [(60_000, 90_000)]  # the pager was silent for too long
    assert unseen([host], [(70_000, 80_000)], 900, 0, 130_000) == [
        (60_000, 70_000),
        (80_000, 90_000),
        (120_000, 130_000),
    ]
