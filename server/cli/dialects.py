"""`airtally dialect`: check and try dialect files."""

from pathlib import Path
from zoneinfo import ZoneInfo

import click

from parsers.reading import Reader
from server.cli.common import complete_dialect, load, station_option
from server.intake.batches import split_lines
from server.intake.unpacking import open_log
from shared.errors import AirtallyError, UnusableError
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.numbers import grouped

TRY_BYTES = 4 << 20


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
    from parsers.dialect import load_dialect
    from parsers.samples import check_samples

    absent = [path for path in files if not path.is_file()]
    if absent:
        raise UnusableError(f"{absent[0]}: there is no such dialect file.")
    failed = False
    for path in files:
        try:
            dialect = load_dialect(path)
        except AirtallyError as error:
            failed = True
            click.echo(str(error), err=True)
            continue
        problems = check_samples(dialect)
        wrong = any(not problem.warning for problem in problems)
        failed |= wrong
        for problem in problems:
            click.echo(f"{path}:{problem.line}: {'note: ' if problem.warning else ''}{problem.says}.", err=True)
        if not wrong:
            click.echo(f"{path}: good.")
    if failed:
        raise SystemExit(1)


@dialect_command.command("try", short_help="What a log yields in a dialect.")
@click.argument("dialect_name", metavar="FILE", shell_complete=complete_dialect)
@click.argument("log", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@station_option
def try_dialect(dialect_name: str, log: Path, station_path: Path) -> None:
    """What a log yields in a dialect: how many lines are understood, the overs beside the lines that they came from,
    other events, and unread lines, the first 20 of each. Stores nothing. One line is one event.

    FILE is a dialect file, or the name of a shipped one.
    """
    from parsers.adopt.oneline import over_several_lines
    from parsers.dialect import find_dialect
    from parsers.engine import DialectReader
    from parsers.timeofday import SAYS
    from server.cli.trying import told
    from server.intake.clock_changes import steps_back, zone_words
    from server.intake.years import carry_into
    from server.source import clock

    reader = find_dialect(dialect_name, station_path.resolve().parent)
    with open_log(log) as stream:
        data = stream.read(TRY_BYTES)
    cut = data.rfind(b"\n") + 1 if len(data) == TRY_BYTES else len(data)
    lines = split_lines(data[:cut])
    if not len(lines):
        raise UnusableError(f"{log}: is empty.")
    around_us = clock()
    read = reader.read(lines, carry_into(log, reader, around_us), around_us)
    counts = {
        kind: int((read.verdicts == code).sum())
        for kind, code in (("understood", UNDERSTOOD), ("ignored", IGNORED), ("unread", UNREAD))
    }
    whole = "" if len(data) < TRY_BYTES else f" (the first {TRY_BYTES >> 20} MB)"
    click.echo(
        f"{log}{whole}: {grouped(len(lines))} lines, "
        + ", ".join(f"{grouped(count)} {kind}" for kind, count in counts.items())
        + "."
    )
    for said in told(lines, read, _local_zone(reader, station_path)):
        click.echo(said)
    if isinstance(reader, DialectReader):
        wrong = zone_words(steps_back(read.stamps[read.stamped]), reader.zone, _local_zone(reader, station_path))
        if wrong:
            click.echo(wrong)
    several = over_several_lines(lines.head(4000).to_list(), around_us)
    for said in ([SAYS] if reader.dayless else []) + ([several] if several else []):
        click.echo(said)
    if counts["unread"]:
        raise SystemExit(1)


def _local_zone(reader: Reader, station_path: Path) -> ZoneInfo:
    """The station's zone; without a station file the dialect's."""
    from parsers.engine import DialectReader

    if station_path.is_file():
        return load(station_path).zone
    return reader.zone if isinstance(reader, DialectReader) else ZoneInfo("UTC")
