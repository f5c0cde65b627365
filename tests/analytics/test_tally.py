"""Hour tallies add up to the figures of any window of whole hours, and a margin of a day is wide enough."""

import datetime as dt

import numpy as np
import polars as pl
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from server.analytics.activity import MARGIN, Activity, Unfinished
from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from server.analytics.tally import TALLY_SCHEMA, hour_tallies
from server.store.schema import tally as tally_table
from server.store.tallies import GREATEST
from shared.events import CAUSES, MODES, REASONS
from shared.timers import Timers
from shared.zones import HOUR, SECOND, to_us
from tests.analytics.analytics_world import LONDON, Lost, Over, Refused, Rules, World, an_over

TICKS = 7200  # an hour
BASE = dt.datetime(2026, 10, 25, tzinfo=dt.UTC)


def columns_of(frame: pl.DataFrame, mode: str) -> dict[str, int | None]:
    """The sum over all hours of one mode's rows."""
    mine = frame.filter(pl.col("mode") == mode)
    return {
        name: mine[name].max() if name in GREATEST else mine[name].sum()
        for name in TALLY_SCHEMA
        if name not in ("hour", "mode")
    }


def assert_adds_up(activity: Activity, window: tuple[int, int], timers: Timers) -> None:
    found = figures(activity, window, timers, LONDON, "QB0BFR", LineCounts()).as_json()
    frame = hour_tallies(activity, *window, timers)
    for mode in MODES:
        ours, theirs = columns_of(frame, mode), found["modes"].get(mode, {})
        for name in ("overs", "timeouts", "timeouts_estimated", "near_timeouts"):
            assert ours[name] == theirs.get(name, 0)
        assert ours["shut_outs"] == theirs.get("shut_outs_suffered", 0)
        # Where a mode has nothing but unfinished overs its figures are not known; an hour's sum adds nothing there.
        assert ours["airtime_us"] / SECOND == (theirs.get("airtime_s") or 0)
        # A hold that runs into the window from an over before it makes no mode of the window, and is not told of a mode
        # whose overs in the window are of unknown or of no length (docs/definitions.md, From events to overs).
        if theirs and theirs["idle_hold_s"] is not None:
            assert ours["idle_hold_us"] / SECOND == theirs["idle_hold_s"]
    ours, theirs = columns_of(frame, ""), found["channel"]
    for name in ("airtime", "keyed", "idle_hold", "seen"):
        assert ours[f"{name}_us"] / SECOND == (theirs[f"{name}_s"] or 0)
    for name, width, share in zip(GREATEST, (360, 1800, 3600), ("6min", "30min", "60min"), strict=True):
        assert ours[name] / SECOND / width == (found["duty"][share]["share"] or 0)
    assert (ours["overs"], ours["unfinished"]) == (theirs["overs"], theirs["unfinished"])
    assert ours["shut_outs"] == sum(row["attempts"] for row in found["shut_outs"])
    assert frame.filter(pl.col("mode") == "")["hour"].to_list() == list(range(*window, HOUR))


def spread(over: Over, at: int) -> Over:
    """The same over near the turn of some hour."""
    return Over(**{**vars(over), "start": over.start + at * TICKS, "end": over.end + at * TICKS})


def an_instant(mode: str, at: int) -> Over:
    """An over that ended as it began."""
    return Over(at, at, mode, 0 if mode != "dmr" else 1, "air", "QA1AAA", "99901", "released")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.builds(spread, an_over(), st.integers(0, 4)), max_size=14),
    st.lists(
        st.builds(
            Refused,
            st.integers(-100, 4 * TICKS),
            st.sampled_from(["fm", "dmr", None]),
            reason=st.sampled_from([*REASONS, None]),
        ),
        max_size=6,
    ),
    st.lists(st.builds(Lost, st.integers(-100, 4 * TICKS)), max_size=3),
    st.integers(0, 60),
    st.integers(1, 4),
    st.lists(st.tuples(st.integers(-100, 4 * TICKS), st.integers(1, TICKS)), max_size=2),
)
@example([an_instant("dmr", 0), an_instant("dstar", 1), an_instant("dstar", 1)], [], [Lost(0)], 1, 1, [])
def test_the_sum_over_a_windows_hours_is_the_figure_of_the_window(
    overs: list[Over], refusals: list[Refused], lost: list[Lost], hold: int, hours: int, gone: list[tuple[int, int]]
) -> None:
    rules = Rules(timeout=60, hold={"default": hold}, tail={"default": 3})
    blind = [(at, at + length) for at, length in gone]
    world = World(overs, refusals, lost, blind, rules=rules, window=(0, hours * TICKS), base=BASE)
    if not len(world.activity().seen(world.window_us)):
        return  # no figure is known
    assert_adds_up(world.activity(), world.window_us, rules.timers())


def a_busy_fortnight() -> Activity:
    luck = np.random.default_rng(11)
    base = to_us(BASE) // SECOND
    overs = [
        Over(int(start), int(start + length), str(luck.choice(MODES)), cause=str(luck.choice(CAUSES)), station="QA1AAA")
        for start, length in zip(luck.integers(0, 14 * 86400 * 2, 3000), luck.gamma(2, 30, 3000), strict=True)
    ]
    refusals = [Refused(int(t), str(luck.choice(MODES))) for t in luck.integers(0, 14 * 86400 * 2, 800)]
    return World(overs, refusals, base=dt.datetime.fromtimestamp(base, dt.UTC)).activity()


def test_tallies_made_hour_by_hour_from_a_day_of_margin_add_up_over_a_fortnight() -> None:
    activity, timers = a_busy_fortnight(), Rules().timers()
    start = to_us(BASE) + 5 * 24 * HOUR
    whole = hour_tallies(activity, start, start + 48 * HOUR, timers)
    apart = [
        hour_tallies(
            within(activity, (start + hour * HOUR, start + (hour + 1) * HOUR)),
            start + hour * HOUR,
            start + (hour + 1) * HOUR,
            timers,
        )
        for hour in range(48)
    ]
    assert pl.concat(apart).equals(whole)
    assert_adds_up(activity, (start, start + 48 * HOUR), timers)


def test_figures_are_exact_when_the_activity_reaches_a_day_beyond_the_window() -> None:
    activity, timers = a_busy_fortnight(), Rules().timers()
    window = (to_us(BASE) + 5 * 24 * HOUR + 12345, to_us(BASE) + 8 * 24 * HOUR)
    assert figures(within(activity, window), window, timers, LONDON, "QB0BFR", LineCounts()) == figures(
        activity, window, timers, LONDON, "QB0BFR", LineCounts()
    )


def within(activity: Activity, window: tuple[int, int]) -> Activity:
    """What the store would give: whatever touches the window with its margin."""
    start, end = window[0] - MARGIN, window[1] + MARGIN
    inside = (activity.refusals.t >= start) & (activity.refusals.t < end)
    lost = activity.unfinished
    return Activity(
        activity.overs.where((activity.overs.end >= start) & (activity.overs.start < end)),
        Unfinished(lost.start, lost.until, lost.mode),
        activity.refusals.where(inside),
        activity.unlogged, activity.stations, activity.targets, activity.pages,
    )  # fmt: skip


def test_a_tally_has_the_columns_of_the_stores_table() -> None:
    frame = hour_tallies(World().activity(), 0, 2 * HOUR, Rules().timers())
    assert frame.columns == [column.name for column in tally_table.columns]
    assert frame.rows() == [(hour, "", *[0] * 10, HOUR, 0, 0, 0) for hour in (0, HOUR)]
