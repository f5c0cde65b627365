"""Options that several commands share."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import click
from click.shell_completion import CompletionItem

from server.config import Station, load_station
from shared.errors import UnusableError
from shared.zones import instant, month_window, to_us, week_window

#: Beyond these there is nothing to look for, and calendars of local days end.
EARLIEST, LATEST = (to_us(dt.datetime(year, 1, 1, tzinfo=dt.UTC)) for year in (1900, 2201))

station_option = click.option(
    "--station",
    "station_path",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("station.toml"),
    show_default=True,
    help="The station file.",
)


own_station_option: Callable[..., Any] = click.option(
    "--station", "station_path", type=click.Path(path_type=Path, dir_okay=False), default=None, help="The station file."
)


def station_of(context: click.Context, station_path: Path | None) -> Station:
    """Of a subcommand: `--station` may stand before or after its name. Raises StationFileError."""
    assert context.parent is not None
    return load(station_path or context.parent.params["station_path"])


def window_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """--from and --to, or --week, or --month."""
    for option in (
        click.option("--month", help="A whole month, such as 2026-10."),
        click.option("--week", help="A whole week, such as 2026-W47."),
        click.option("--to", "to_text", metavar="D", help="Where the window ends; the instant itself is outside."),
        click.option(
            "--from",
            "from_text",
            metavar="D",
            help="Where the window begins: a date (its local midnight) or date-time, local or with offset.",
        ),
    ):
        command = option(command)
    return command


def chosen_window(
    zone: ZoneInfo, from_text: str | None, to_text: str | None, week: str | None, month: str | None
) -> tuple[int, int]:
    """The window that the options name, [start, end) in microseconds UTC. Raises UnusableError."""
    given = [bool(from_text or to_text), bool(week), bool(month)]
    if sum(given) != 1 or bool(from_text) != bool(to_text):
        raise UnusableError("Name one window: --from D --to D, or --week 2026-W47, or --month 2026-10.")
    try:
        if week:
            return week_window(week.upper(), zone)
        if month:
            return month_window(month, zone)
        start, end = instant(from_text or "", zone), instant(to_text or "", zone)
    except (ValueError, OverflowError) as error:
        looks = (
            "weeks look like 2026-W47"
            if week
            else "months look like 2026-10"
            if month
            else "dates look like 2026-11-16 or 2026-11-16T18:00"
        )
        raise UnusableError(f"That is no window: {error}; {looks}.") from error
    if end <= start:
        raise UnusableError(f"The window ends ({to_text}) before it begins ({from_text}).")
    if start < EARLIEST or end > LATEST:
        raise UnusableError(
            "That is no window: no log reaches beyond the years 1900 to 2200; dates look like 2026-11-16 or "
            "2026-11-16T18:00."
        )
    return start, end


def complete_zone(_context: click.Context, _option: click.Parameter, incomplete: str) -> list[str]:
    """The names of time zones that begin so, for a shell."""
    return sorted(name for name in available_timezones() if name.lower().startswith(incomplete.lower()))


def complete_dialect(_context: click.Context, _option: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """The shipped dialects that begin so, and the files of the folder, for a shell."""
    from parsers.dialect import shipped_dialects

    named = [CompletionItem(name) for name in ("activity", *shipped_dialects()) if name.startswith(incomplete)]
    return [*named, CompletionItem(incomplete, type="file")]


def load(station_path: Path) -> Station:
    """The station file. Raises StationFileError."""
    return load_station(station_path)
