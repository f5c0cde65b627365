"""Commands about timers: replay, timers."""

import sys
from dataclasses import replace
from pathlib import Path

import click
from tqdm import tqdm

from server.analytics.activity import Activity
from server.analytics.intervals import bootstrap_count
from server.analytics.replay import Demand, demand, replay
from server.analytics.replay_curves import Curve, cuts, modes_of
from server.analytics.replay_curves import curve as hold_curve
from server.analytics.replay_result import Compared, Replay, replay_result
from server.analytics.suggestion import suggest
from server.cli.common import ChosenWindow, echo_json, json_option, load, station_option, window_options
from server.cli.show import drawn, facts, window_words
from server.config import Station
from server.source import StoreSource
from server.store.engine import open_store
from server.store.timers import add_timer_change, remove_timer_change, timer_changes
from server.telling.caution import TIMERS_LINE
from server.telling.moments import listed_instant
from server.telling.numbers import plain, seconds_set
from server.telling.replay_tables import (
    beside_table,
    counted_facts,
    curve_table,
    cut_table,
    holds_words,
    simulated_facts,
)
from server.telling.replay_texts import WINDOW_CROSSED, replay_texts
from server.telling.suggestion import suggestion_reasons, suggestion_sentence
from shared.errors import AirtallyError, UnusableError
from shared.events import MODES
from shared.zones import instant

LONGEST_S = 3600.0


@click.command("replay", epilog=TIMERS_LINE)
@window_options
@click.option(
    "--hold",
    "held",
    multiple=True,
    metavar="MODE=S",
    help="A hold to try, such as dmr=5; `default` for every mode not named.",
)
@click.option("--timeout", "timeout_s", type=float, metavar="S", help="A time-out to try, seconds.")
@json_option
@station_option
def replay_command(
    chosen: ChosenWindow,
    held: tuple[str, ...],
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
    given = _holds(held)
    _require_timeout(timeout_s)
    engine = open_store(station.store_url())
    activity, timers = StoreSource(engine, station).activity(*window), station.timers_for_figures()
    found = replay_result(activity, window, timers, station.zone, given, timeout_s)
    crossed = any(window[0] < change.at_us < window[1] for change in timer_changes(engine))
    lines: list[str] = []
    if not given and timeout_s is None:
        found, lines = _searched(found, demand(activity, window, timers), activity, station)
    elif found.compared:
        lines = [*_beside(found, found.compared), ""]
    if not found.compared:
        lines = ["Nothing of this window was seen, so nothing is known of it under any timers.", ""]
    texts = replay_texts(found, *([WINDOW_CROSSED] if crossed else []))
    if as_json:
        echo_json(found.as_json(texts))
        return
    taken = ["What this takes for granted:", *(f"  {line}" for line in texts.assumptions), ""]
    head = f"{station.repeater.callsign}, {window_words(found.window)}"
    click.echo(plain("\n".join([head, "", *lines, *taken, TIMERS_LINE])))


def _require_timeout(seconds: float | None) -> None:
    if seconds is not None and not 0 < seconds <= LONGEST_S:
        raise UnusableError(f"--timeout {seconds:g}: seconds above 0 and up to {LONGEST_S:g} were expected.")


def _searched(found: Replay, asked: Demand, activity: Activity, station: Station) -> tuple[Replay, list[str]]:
    """With what is suggested after every hold was tried, and all that was tried in lines."""
    curves = _curves(asked, activity, station)
    advice = suggest(curves)
    tables = [curve_table(one, [bootstrap_count(point.shut_outs) for point in one.points]) for one in curves]
    tables.append(cut_table(cuts(asked), asked.timers.timeout_s, seen=True))
    lines = [line for table in tables for line in (*drawn(table), "")]
    lines += [suggestion_sentence(advice), *(f"  {reason}" for reason in suggestion_reasons(advice)), ""]
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
    return [
        f"Hold: {holds_words(found.hold_s)}; time-out {seconds_set(found.timeout_s)}.",
        "",
        *drawn(beside_table(compared)),
        "",
        "Counted:",
        *facts(counted_facts(compared)),
        "",
        "Simulated:",
        *facts(simulated_facts(compared)),
    ]


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
    lines = [f"{change.id}  {listed_instant(change.at_us, station.zone)}  {change.note}" for change in known]
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
