"""Options that several commands share."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import click
from click.shell_completion import CompletionItem

from server.config import Station, load_station
from shared.windows import named_window

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


@dataclass(frozen=True)
class ChosenWindow:
    """The window that the options name."""

    from_text: str | None
    to_text: str | None
    week: str | None
    month: str | None

    @property
    def given(self) -> bool:
        """Whether any of the options is there."""
        return any((self.from_text, self.to_text, self.week, self.month))

    def of(self, zone: ZoneInfo) -> tuple[int, int]:
        """[start, end) in microseconds UTC. Raises UnusableError."""
        return named_window(zone, self.from_text, self.to_text, self.week, self.month)


def window_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """--from and --to, or --week, or --month; the command gets them as `chosen`."""

    @wraps(command)
    def with_chosen(
        *args: Any, from_text: str | None, to_text: str | None, week: str | None, month: str | None, **others: Any
    ) -> Any:
        return command(*args, chosen=ChosenWindow(from_text, to_text, week, month), **others)

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
        with_chosen = option(with_chosen)
    return with_chosen


json_option: Callable[..., Any] = click.option(
    "--json", "as_json", is_flag=True, help="The whole object as JSON (docs/contract.md)."
)


def echo_json(document: Any) -> None:
    """A document on standard output, as docs/contract.md has it."""
    click.echo(json.dumps(document, indent=2, ensure_ascii=False))


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
