"""A run is reproducible, obeys the machine it models, and holds the incidents that it says it planted."""

import datetime as dt
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from server.demo.simulate import PAGE_SECONDS, Simulated, simulate
from server.demo.world import HOLD_S
from shared.columns import EVENT_SCHEMA
from tests.demo.brute import read

LONDON = ZoneInfo("Europe/London")


def us(text: str) -> int:
    return int(dt.datetime.fromisoformat(text).timestamp() * 1_000_000)


def incident(run: Simulated, kind: str) -> tuple[int, int]:
    found = next(one for one in run.truth["incidents"] if one["kind"] == kind)
    return us(found["from"]), us(found["to"])


def between(frame: pl.DataFrame, start: int, end: int) -> pl.DataFrame:
    return frame.filter((pl.col("t") >= start) & (pl.col("t") < end))


def test_the_same_seed_gives_the_same_run_and_another_seed_another() -> None:
    first, again, other = (simulate(seed=seed, weeks=1) for seed in (3, 3, 4))
    assert first.events.equals(again.events)
    assert first.truth == again.truth
    assert not first.events.equals(other.events)


def test_events_have_the_shared_columns_and_whole_milliseconds_in_order(autumn: Simulated) -> None:
    for log in autumn.logs.values():
        assert log.schema == pl.Schema(EVENT_SCHEMA)
        assert (log["t"] % 1000 == 0).all()
        assert log["t"].is_sorted()
        assert log["t"].min() >= autumn.start
        assert log["t"].max() < autumn.end


def test_each_over_that_starts_ends_once_unless_the_power_failed(autumn: Simulated) -> None:
    begun: dict[tuple, int] = {}
    unfinished = 0
    for row in autumn.logs["host"].iter_rows(named=True):
        key = row["mode"], row["slot"], row["side"]
        if row["event"] == "over-start":
            assert key not in begun
            begun[key] = row["t"]
        elif row["event"] == "over-end":
            assert round(row["seconds"] * 1_000_000) == row["t"] - begun.pop(key) > 0
        elif row["event"] == "host-start":
            unfinished += len(begun)
            begun.clear()
    assert not begun
    assert unfinished == autumn.truth["whole"]["channel"]["unfinished"] == 1


def test_overs_of_two_modes_never_overlap_and_no_mode_comes_up_while_another_holds(autumn: Simulated) -> None:
    lets_go, holder, changes = 0, "", 0
    for over in read(autumn.events).overs:
        assert over["mode"] == holder or over["start"] >= lets_go
        changes += over["mode"] != holder
        reach = over["end"] + HOLD_S.get(over["mode"], HOLD_S["default"]) * 1_000_000
        lets_go = max(reach, lets_go if over["mode"] == holder else 0)
        holder = over["mode"]
    assert changes > 100


def test_who_is_refused_for_another_mode_is_refused_inside_its_hold(autumn: Simulated) -> None:
    for one in autumn.truth["weeks"]:
        assert all(cell["held_by"] not in ("unknown", cell["wanted"]) for cell in one["shut_outs"])
    assert autumn.truth["waited_and_came_up"] > 20


def test_dmr_uses_both_slots_at_once_and_no_other_mode_has_slots(autumn: Simulated) -> None:
    modes = autumn.truth["whole"]["modes"]
    assert modes["dmr"]["both_slots_s"] > 60
    assert all(not figures["slot_s"] for mode, figures in modes.items() if mode != "dmr")
    assert set(modes) >= {"dmr", "dstar", "c4fm", "fm"}


def test_the_tuesday_net_runs_on_dmr_at_eight_local_before_and_after_the_clocks_change(autumn: Simulated) -> None:
    overs = pl.DataFrame(read(autumn.events).overs).filter(pl.col("target") == "99901")
    for day in ("2026-10-20T20:10:00+01:00", "2026-10-27T20:10:00+00:00"):
        hour = between(overs, us(day), us(day) + 3_000_000_000)
        assert hour["seconds"].sum() > 1500


@pytest.mark.parametrize(("first", "changed", "hours"), [
    (dt.date(2026, 10, 19), "2026-10-25T01:00:00+00:00", 169),  # IANA tz database: back at 01:00 UTC on 25 October 2026
    (dt.date(2026, 3, 23), "2026-03-29T01:00:00+00:00", 167),  # and forward at 01:00 UTC on 29 March 2026
])  # fmt: skip
def test_the_week_of_a_clock_change_is_an_hour_longer_or_shorter(first: dt.date, changed: str, hours: int) -> None:
    run = simulate(seed=2, first_day=first, weeks=1, incidents=False)
    window = run.truth["weeks"][0]["window"]
    assert window["seconds"] == hours * 3600
    assert us(window["from"]) < us(changed) < us(window["to"])
    assert window["from"][-6:] != window["to"][-6:]
    assert dt.datetime.fromisoformat(window["to"]).astimezone(LONDON).hour == 0


def test_the_stuck_transmitter_runs_for_hours_and_is_lost_at_the_end(autumn: Simulated) -> None:
    start, end = incident(autumn, "stuck-transmitter")
    local = dt.datetime.fromtimestamp(start / 1e6, LONDON)
    assert (local.weekday(), local.hour) == (2, 3)
    (stuck,) = [one for one in read(autumn.events).overs if one["end"] - one["start"] > 3_600_000_000]
    assert (stuck["mode"], stuck["side"], stuck["cause"]) == ("dstar", "air", "lost")
    assert (stuck["start"], stuck["end"]) == (start, end)


def test_the_link_outage_is_logged_and_brings_no_dmr_over_the_link(autumn: Simulated) -> None:
    start, end = incident(autumn, "link-outage")
    links = autumn.events.filter(pl.col("network") == "fellnet")
    assert links.filter((pl.col("t") == start) & (pl.col("event") == "link-down")).height == 1
    assert links.filter((pl.col("t") == end) & (pl.col("event") == "link-up")).height == 1
    linked = autumn.events.filter(
        (pl.col("mode") == "dmr") & (pl.col("side") == "link") & (pl.col("event") == "over-start")
    )
    assert between(linked, start, end).is_empty()
    assert not between(linked, start - (end - start), start).is_empty()


def test_interference_comes_at_night_and_carries_no_station(autumn: Simulated) -> None:
    start, end = incident(autumn, "interference")
    bursts = autumn.events.filter(pl.col("event") == "carrier-up")
    during, before = between(bursts, start, end).height, between(bursts, start - (end - start), start).height
    assert during > 5 * before > 0
    keyed = between(autumn.events.filter((pl.col("mode") == "fm") & (pl.col("event") == "over-end")), start, end)
    short = keyed.filter(pl.col("seconds") < 0.9)
    assert short.height > 100
    assert short["station"].null_count() == short.height


def test_each_carrier_that_comes_up_goes_down_again(autumn: Simulated) -> None:
    kinds = autumn.events.filter(pl.col("event").is_in(["carrier-up", "carrier-down"]))["event"].to_list()
    assert kinds == ["carrier-up", "carrier-down"] * (len(kinds) // 2)


def test_the_antenna_fault_costs_every_air_station_twelve_decibels_for_ten_days() -> None:
    run = simulate(seed=7, weeks=4)
    start, end = incident(run, "antenna-fault")
    assert end - start == 10 * 86_400 * 1_000_000
    ends = run.events.filter((pl.col("event") == "over-end") & (pl.col("side") == "air") & (pl.col("mode") != "fm"))
    faulty, well = between(ends, start, end), ends.filter((pl.col("t") < start) | (pl.col("t") > end + 200_000_000))
    means = [part.group_by("station").agg(pl.col("rssi_dbm", "ber_pct").mean(), pl.len()) for part in (faulty, well)]
    both = means[0].join(means[1], on="station").filter((pl.col("len") > 5) & (pl.col("len_right") > 5))
    assert both.height > 20
    assert (both["rssi_dbm_right"] - both["rssi_dbm"]).mean() == pytest.approx(12, abs=1)
    assert (both["ber_pct"] > both["ber_pct_right"]).all()


def test_the_source_of_noise_makes_errors_at_night_and_no_level_lower(autumn: Simulated) -> None:
    start, end = incident(autumn, "night-noise")
    ends = autumn.events.filter((pl.col("event") == "over-end") & (pl.col("side") == "air") & (pl.col("mode") != "fm"))
    local = pl.from_epoch("t", time_unit="us").dt.replace_time_zone("UTC").dt.convert_time_zone("Europe/London")
    ends = ends.with_columns(night=(local.dt.hour() >= 22) | (local.dt.hour() < 4))
    noisy = between(ends.filter("night"), start, end)
    quiet = pl.concat([between(ends.filter(~pl.col("night")), start, end), ends.filter(pl.col("t") < start)])
    assert noisy.height > 30
    assert noisy["ber_pct"].quantile(0.05) > 1.8 > quiet["ber_pct"].median() + 1


def test_one_station_alone_buys_a_radio() -> None:
    run = simulate(seed=7, weeks=8)
    start, _ = incident(run, "new-radio")
    ends = run.events.filter((pl.col("event") == "over-end") & (pl.col("side") == "air") & (pl.col("mode") != "fm"))
    mended = incident(run, "antenna-fault")[1]
    sides = [ends.filter((pl.col("t") > mended) & (pl.col("t") < start)), ends.filter(pl.col("t") > start)]
    means = [part.group_by("station", "mode").agg(pl.col("rssi_dbm").mean(), pl.len()) for part in sides]
    both = means[0].join(means[1], on=["station", "mode"]).filter((pl.col("len") > 8) & (pl.col("len_right") > 8))
    gained = (both["rssi_dbm_right"] - both["rssi_dbm"]).to_list()
    assert sum(gain > 6 for gain in gained) >= 1 and sum(gain > 4 for gain in gained) <= 3  # one station's modes
    assert both.height > 40


def test_the_power_cut_is_a_silence_without_a_stop_and_leaves_an_over_unfinished(autumn: Simulated) -> None:
    start, end = incident(autumn, "power-cut")
    assert between(autumn.events, start, end).is_empty()
    last = between(autumn.events, start - 300_000_000, start)
    assert "host-stop" not in last["event"].to_list()
    assert "over-start" in last["event"].to_list()
    assert "over-end" not in last.filter(pl.col("t") > start - 60_000_000)["event"].to_list()
    assert autumn.logs["host"].filter(pl.col("t") >= end)["event"][0] == "host-start"
    gap = autumn.logs["host"].filter(pl.col("t") >= end)["t"][0] - autumn.events.filter(pl.col("t") < start)["t"].max()
    hosts = autumn.events.filter(pl.col("t") >= end)["t"].min() - autumn.events.filter(pl.col("t") < start)["t"].max()
    assert gap == hosts
    telling = pl.concat([autumn.logs["host"], autumn.logs["pager"]])["t"]  # the box of the links carries no overs
    dark = telling.filter(telling >= end).min() - telling.filter(telling < start).max()
    edges = (telling.min() - autumn.start) + (autumn.end - telling.max())
    assert autumn.truth["whole"]["window"]["blind_s"] == pytest.approx(
        (dark + edges) / 1e6
    )  # not the restart: the pager tells


def test_the_planned_restart_says_so(autumn: Simulated) -> None:
    start, end = incident(autumn, "planned-restart")
    host = between(autumn.logs["host"], start, end + 2000)
    assert host["event"][0] == "host-stop"
    assert host["event"][-1] == "host-start"
    assert between(host, start + 1_000_000, end).is_empty()


def test_pages_last_as_long_as_their_batches_take() -> None:
    # ITU-R M.584-2 annex 1: 576 bits of preamble, batches of 544 bits (seen); 1,200 bit/s (memory); worked out here.
    assert [(576 + batches * 544) / 1200 for batches in (1, 2, 3)] == pytest.approx(PAGE_SECONDS, abs=0.0005)


def test_every_kind_of_event_and_every_cause_and_reason_occurs(autumn: Simulated) -> None:
    kinds = set(autumn.events["event"].unique().to_list())
    assert kinds == set(autumn.events.schema["event"].categories) - {"over"}
    assert set(autumn.events["cause"].drop_nulls().unique().to_list()) == {"released", "timeout", "lost"}
    assert set(autumn.events["reason"].drop_nulls().unique().to_list()) == {"other-mode", "busy", "lockout"}
