"""`airtally dialect`: check and try dialect files."""

from pathlib import Path
from zoneinfo import ZoneInfo

import click
import polars as pl

from parsers.reading import Reader, Reading
from server.cli.common import complete_dialect, load, station_option
from server.intake.batches import split_lines
from server.intake.unpacking import open_log
from shared.errors import AirtallyError, UnusableError
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.numbers import grouped

TRY_BYTES = 4 << 20
LOOKED_AT = 4000  # lines, for events that lie over several of them


@click.group("dialect")
def dialect_command() -> None:
    """Check dialect files, and try them on a log."""


@dialect_command.command("check")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
def check_dialects(files: tuple[Path, ...]) -> None:
    """Run each dialect's own samples. Exit 1 where one does not give what it says, 2 where a file is not there.

    \b
    Example:
      airtally dialect check my-host.toml
    """
    absent = [path for path in files if not path.is_file()]
    if absent:
        raise UnusableError(f"{absent[0]}: there is no such dialect file.")
    if not all([_is_good(path) for path in files]):  # all of them, so that each is told
        raise SystemExit(1)


def _is_good(path: Path) -> bool:
    """Whether a dialect's samples give what they say; says what is wrong with it."""
    from parsers.dialect import load_dialect
    from parsers.samples import check_samples

    try:
        problems = check_samples(load_dialect(path))
    except AirtallyError as error:
        click.echo(str(error), err=True)
        return False
    for problem in problems:
        click.echo(f"{path}:{problem.line}: {'note: ' if problem.warning else ''}{problem.says}.", err=True)
    good = all(problem.warning for problem in problems)
    if good:
        click.echo(f"{path}: good.")
    return good


@dialect_command.command("try", short_help="What a log yields in a dialect.")
@click.argument("dialect_name", metavar="FILE", shell_complete=complete_dialect)
@click.argument("log", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@station_option
def try_dialect(dialect_name: str, log: Path, station_path: Path) -> None:
    """What a log yields in a dialect: how many lines are understood, the overs beside the lines that they came from,
    other events, and unread lines, the first 20 of each. Stores nothing. One line is one event.

    FILE is a dialect file, or the name of a shipped one.
    """
    from parsers.dialect import find_dialect
    from server.cli.trying import yield_of
    from server.intake.years import carry_into
    from server.source import clock

    reader = find_dialect(dialect_name, station_path.resolve().parent)
    lines, whole = _first_lines(log)
    around_us = clock()
    read = reader.read(lines, carry_into(log, reader, around_us), around_us)
    unread = int((read.verdicts == UNREAD).sum())
    counts = ", ".join(
        f"{grouped((read.verdicts == code).sum())} {kind}"
        for kind, code in (("understood", UNDERSTOOD), ("ignored", IGNORED), ("unread", UNREAD))
    )
    part = "" if whole else f" (the first {TRY_BYTES >> 20} MB)"
    click.echo(f"{log}{part}: {grouped(len(lines))} lines, {counts}.")
    zone = _local_zone(reader, station_path)
    for sentence in (*yield_of(lines, read, zone), *_warnings(reader, read, lines, zone, around_us)):
        click.echo(sentence)
    if unread:
        raise SystemExit(1)


def _first_lines(log: Path) -> tuple[pl.Series, bool]:
    """The lines of the log, or its first ones; whether they are all. Raises UnusableError where there is none."""
    with open_log(log) as stream:
        data = stream.read(TRY_BYTES)
    whole = len(data) < TRY_BYTES
    lines = split_lines(data if whole else data[: data.rfind(b"\n") + 1])
    if not len(lines):
        raise UnusableError(f"{log}: is empty.")
    return lines, whole


def _warnings(reader: Reader, read: Reading, lines: pl.Series, zone: ZoneInfo, around_us: int) -> list[str]:
    """What may be wrong with the dialect or the log although lines were understood."""
    from parsers.adopt.oneline import over_several_lines
    from parsers.engine import DialectReader
    from parsers.timeofday import SAYS
    from server.intake.clock_changes import steps_back, zone_words

    wrong: str | None = None
    if isinstance(reader, DialectReader):
        wrong = zone_words(steps_back(read.stamps[read.stamped]), reader.zone, zone)
    several = over_several_lines(lines.head(LOOKED_AT).to_list(), around_us)
    return [sentence for sentence in (wrong, SAYS if reader.dayless else None, several) if sentence]


def _local_zone(reader: Reader, station_path: Path) -> ZoneInfo:
    """The station's zone; without a station file the dialect's."""
    from parsers.engine import DialectReader

    if station_path.is_file():
        return load(station_path).zone
    return reader.zone if isinstance(reader, DialectReader) else ZoneInfo("UTC")
