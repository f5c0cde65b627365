"""Commands about timers: replay, timers."""

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click
from tqdm import tqdm

from server.analytics.activity import Activity
from server.analytics.intervals import Interval, bootstrap_count
from server.analytics.replay import Demand, demand, replay
from server.analytics.replay_curves import Curve, cuts, modes_of
from server.analytics.replay_curves import curve as hold_curve
from server.analytics.replay_days import Floats
from server.analytics.replay_result import Compared, Replay, replay_result
from server.analytics.suggestion import suggest
from server.cli.common import ChosenWindow, echo_json, json_option, load, station_option, window_options
from server.cli.show import columns, label, window_words
from server.config import Station
from server.source import StoreSource
from server.store.engine import open_store
from server.store.timers import add_timer_change, remove_timer_change, timer_changes
from server.telling.caution import TIMERS_LINE
from server.telling.numbers import duration
from shared.errors import AirtallyError, UnusableError
from shared.events import MODE_LABELS, MODES
from shared.numbers import grouped
from shared.zones import from_us, instant

LONGEST_S = 3600.0


@click.command("replay", epilog=TIMERS_LINE)
@window_options
@click.option(
    "--hold",
    "hold_words",
    multiple=True,
    metavar="MODE=S",
    help="A hold to try, such as dmr=5; `default` for every mode not named.",
)
@click.option("--timeout", "timeout_s", type=float, metavar="S", help="A time-out to try, seconds.")
@json_option
@station_option
def replay_command(
    chosen: ChosenWindow,
    hold_words: tuple[str, ...],
    timeout_s: float | None,
    as_json: bool,
    station_path: Path,
) -> None:
    """What other hold and time-out settings would have done in a window.

    Without --hold and --timeout it tries every hold from 0 to 60 s, mode by mode, and a range of time-outs; with them,
    just those.
    What is not named stays as the station file has it.

    \b
    Examples:
      airtally replay --month 2026-10
      airtally replay --week 2026-W47 --hold dmr=5 --hold default=10 --timeout 120
      airtally replay --from 2026-11-02 --to 2026-11-16 --hold dstar=8 --json
    """
    station = load(station_path)
    window = chosen.of(station.zone)
    given = _holds(hold_words)
    _require_timeout(timeout_s)
    engine = open_store(station.store_url())
    activity, timers = StoreSource(engine, station).activity(*window), station.timers_for_figures()
    found = replay_result(activity, window, timers, station.zone, given, timeout_s)
    if any(window[0] < change.at_us < window[1] for change in timer_changes(engine)):
        found = found.assuming(
            "A change of timers lies in this window; the settings of the station file are taken for all of it."
        )
    lines: list[str] = []
    if not given and timeout_s is None:
        found, lines = _searched(found, demand(activity, window, timers), activity, station)
    elif found.compared:
        lines = [*_beside(found, found.compared), ""]
    if not found.compared:
        lines = ["Nothing of this window was seen, so nothing is known of it under any timers.", ""]
    if as_json:
        echo_json(found.as_json())
        return
    taken = ["What this takes for granted:", *(f"  {line}" for line in found.assumptions), ""]
    head = f"{station.repeater.callsign}, {window_words(found.window)}"
    click.echo("\n".join([head, "", *lines, *taken, TIMERS_LINE]))


def _require_timeout(seconds: float | None) -> None:
    if seconds is not None and not 0 < seconds <= LONGEST_S:
        raise UnusableError(f"--timeout {seconds:g}: seconds above 0 and up to {LONGEST_S:g} were expected.")


def _searched(found: Replay, asked: Demand, activity: Activity, station: Station) -> tuple[Replay, list[str]]:
    """With what is suggested after every hold was tried, and all that was tried in lines."""
    curves = _curves(asked, activity, station)
    advice = suggest(curves)
    rows = [[f"{cut.timeout_s:g} s", cut.overs, duration(cut.seconds)] for cut in cuts(asked)]
    lines = [line for curve in curves for line in (*_curve_lines(curve), "")]
    lines += ["Time-outs:", *columns(["time-out", "overs cut", "time cut"], rows), ""]
    lines += [advice.says, *(f"  {reason}" for reason in advice.reasons), ""]
    return replace(found, suggestion=advice), lines


def _curves(asked: Demand, activity: Activity, station: Station) -> tuple[Curve, ...]:
    """Mode by mode, with progress on a terminal."""
    now = replay(asked, asked.timers.hold_s, asked.timers.timeout_s)
    modes = tqdm(modes_of(asked), desc="replaying", unit="mode", leave=False, disable=not sys.stderr.isatty())
    return tuple(hold_curve(asked, now, activity, station.zone, mode) for mode in modes)


def _holds(words: tuple[str, ...]) -> dict[str, float]:
    """`dmr=5` and the like. Raises UnusableError."""
    given: dict[str, float] = {}
    for word in words:
        mode, _, text = word.partition("=")
        try:
            seconds = float(text)
        except ValueError:
            seconds = -1.0
        if mode not in (*MODES, "default") or not 0 <= seconds <= LONGEST_S:
            raise UnusableError(
                f"--hold {word}: MODE=SECONDS was expected, with one of {', '.join(MODES)} or default, and 0 to "
                f"{LONGEST_S:g}."
            )
        if mode in given:
            raise UnusableError(f"--hold {word}: {mode} is given twice.")
        given[mode] = seconds
    return given


def _beside(found: Replay, compared: Compared) -> list[str]:
    now, then, interval, effects = compared.now, compared.then, compared.interval, compared.effects
    holds = ", ".join(f"{label(mode)} {seconds:g} s" for mode, seconds in found.hold_s.items())

    def span(ends: Interval | None, tell: Callable[[float], str]) -> str:
        return "not known" if ends is None else f"{tell(ends.low)} to {tell(ends.high)}"

    rows: list[list[object]] = [
        ["shut-outs", now.shut_outs, then.shut_outs, span(interval.shut_outs, grouped)],
        ["idle hold", duration(now.idle_hold_s), duration(then.idle_hold_s), span(interval.idle_hold_s, duration)],
        ["open gaps", now.open_gaps, then.open_gaps, ""],
        ["break-ins", now.break_ins, then.break_ins, ""],
        ["overs cut", now.overs_cut, then.overs_cut, ""],
        ["time cut", duration(now.seconds_cut), duration(then.seconds_cut), ""],
    ]
    return [
        f"Hold: {holds}; time-out {found.timeout_s:g} s.",
        *columns(["", "now", "then", "95 %"], rows),
        f"Counted: {grouped(effects.attempts_spared)} attempts spared, {grouped(effects.attempts_kept)} kept.",
        f"Simulated: {grouped(effects.displaced_air_overs)} air overs displaced (among the shut-outs), "
        f"{grouped(effects.displaced_link_overs)} link overs displaced (apart).",
        f"Attempts that no hold explains: {grouped(compared.unexplained_attempts)}."
        + (
            " A replay has one holder at a time; figures may name a holder of some."
            if compared.unexplained_attempts
            else ""
        ),
    ]


def _curve_lines(curve: Curve) -> list[str]:
    now = float(curve.in_force.idle_s.sum())
    rows = [
        [
            f"{point.hold_s:g} s" + (" *" if point is curve.in_force else ""),
            grouped(point.shut_outs.sum()),
            _ends(point.shut_outs),
            point.spared,
            point.displaced,
            grouped(point.unheard.sum()),
            ("-" if point.idle_s.sum() > now else "") + duration(abs(now - float(point.idle_s.sum()))),
            point.own_open,
            grouped(point.break_ins.sum()),
        ]
        for point in curve.points
    ]
    heads = ["hold", "shut-outs", "95 %", "spared", "displaced", "(links)", "idle freed", "open gaps", "break-ins"]
    return [
        f"{MODE_LABELS[MODES[curve.mode]]} (* in force; {grouped(curve.gaps)} turnaround gaps):",
        *columns(heads, rows),
    ]


def _ends(daily: Floats) -> str:
    interval = bootstrap_count(daily)
    return "-" if interval is None else f"{grouped(interval.low)} to {grouped(interval.high)}"


@click.command("timers", epilog=TIMERS_LINE)
@click.option(
    "--changed-on", "on", metavar="D", help="Enter a change that was made: a date or date-time; --note says what."
)
@click.option("--note", help="What was changed, such as `hold of DMR from 20 s to 10 s`.")
@click.option("--remove", "number", type=int, metavar="N", help="Take the change of this number back.")
@station_option
def timers_command(on: str | None, note: str | None, number: int | None, station_path: Path) -> None:
    """List confirmed changes of the repeater's timers, enter one, or take one back.

    From the entered date on, the Sharing pages compare before and after. Change the station file's [timers] too.

    \b
    Examples:
      airtally timers
      airtally timers --changed-on 2026-11-02 --note "hold of DMR from 20 s to 10 s"
      airtally timers --remove 1
    """
    station = load(station_path)
    _one_change(on, note, number)
    engine = open_store(station.store_url())
    if on and note:
        try:
            add_timer_change(engine, _when(on, station), note)
        except ValueError as error:
            raise UnusableError(f"--note: {error}") from error
    if number is not None and not remove_timer_change(engine, number):
        raise AirtallyError(f"There is no change of number {number}; `airtally timers` lists them.")
    known = timer_changes(engine)
    lines = [f"{change.id}  {from_us(change.at_us, station.zone):%Y-%m-%d %H:%M}  {change.note}" for change in known]
    click.echo("\n".join([*(lines or ["No change of timers was entered."]), TIMERS_LINE]))


def _one_change(on: str | None, note: str | None, number: int | None) -> None:
    """Raises UnusableError where the options name half of a change, or two things to do."""
    if (on and note and number is None) or (not on and not note):
        return
    missing = ""
    if not on or not note:
        missing = "--note TEXT is missing. " if on else "--changed-on D is missing. "
    raise UnusableError(f"{missing}Enter a change with --changed-on D --note TEXT, or take one back with --remove N.")


def _when(text: str, station: Station) -> int:
    try:
        return instant(text, station.zone)
    except (ValueError, OverflowError) as error:
        raise UnusableError(f"--changed-on {text}: a date such as 2026-11-02 or a date-time was expected.") from error
