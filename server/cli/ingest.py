"""The command that reads the logs once: ingest."""

import sys
from collections.abc import Callable
from pathlib import Path

import click
from tqdm import tqdm

from server.cli.common import load, station_option
from server.cli.terminal import complain
from server.config import Station
from server.intake.again import LogAgain, read_again, with_logs
from server.intake.context import PassResult
from server.intake.discovery import discover
from server.intake.ingest import Intake
from server.intake.outdated import to_read_again
from server.store.engine import Store, open_store, reading
from server.store.facts import FORGOTTEN, read_fact
from shared.errors import UnusableError
from shared.numbers import grouped
from shared.text import escaped
from shared.zones import from_us


@click.command("ingest")
@click.option(
    "--again",
    is_flag=True,
    help="Read again what the logs' files still hold, with the dialects and zones as they stand now.",
)
@click.option(
    "--log", "log_path", metavar="PATH", help="With --again: only this [[log]], by its path there or by a file of it."
)
@click.option("--dry-run", is_flag=True, help="With --again: only say what would change.")
@station_option
def ingest_command(station_path: Path, again: bool, log_path: str | None, dry_run: bool) -> None:
    """Read everything new in the station's logs, and stop.

    May run beside `serve`, be stopped at any moment, and be run again: no line is stored twice or left out.

    After a dialect or a zone was mended, --again reads the logs from their beginning: what their files still hold is
    replaced at once, what they
    no longer hold stays, and so do notes, timers, incidents and notices. Stopped in the middle, nothing has changed.

    \b
    Examples:
      airtally ingest
      airtally ingest --again --dry-run
      airtally ingest --again --log logs/host.log
    """
    station = load(station_path)
    if not station.log:
        raise UnusableError(f"{station.path}: no [[log]] is named; add one with its path and dialect.")
    if again:
        _read_again(station, log_path, dry_run)
        return
    if log_path is not None or dry_run:
        raise click.UsageError("--log and --dry-run are for reading again: add --again.")
    missing = missing_logs(station)
    if len(missing) == len(station.log):
        raise UnusableError(missing[0])
    engine = open_store(station.store_url())
    caught = read_all(engine, station)
    click.echo(summary(caught))
    troubles = missing + caught.troubles
    with reading(engine) as connection:
        outdated = [log.sentence for log in to_read_again(connection, station)]
    for said in caught.notes + outdated + troubles:
        complain(said)
    if troubles:
        sys.exit(1)


def _read_again(station: Station, log_path: str | None, dry_run: bool) -> None:
    from server.source import clock

    station = with_logs(station, log_path)
    engine = open_store(station.store_url())
    size = sum(file.size for file in discover([log.path for log in station.log], station.folder)[0])
    with tqdm(total=size, unit="B", unit_scale=True, desc="reading", disable=None, leave=False) as bar:
        done = read_again(
            engine, station, dry_run=dry_run, progress=lambda count, _path: bar.update(count), now_us=clock
        )
    for log in done:
        click.echo(_reread_words(log, dry_run))
    for setting in station.log:
        if (journal := setting.read_from(station.folder)) is not None:
            click.echo(
                f"{escaped(journal.name)}: what was read of a journal stays as it was read; only files are read again."
            )
    if warning := _comes_back(engine, station, dry_run):
        complain(warning)
    if not done:
        click.echo("No file of these logs can be read now: nothing is read again.")
    elif dry_run:
        click.echo("Nothing was changed.")


def _reread_words(log: LogAgain, dry_run: bool) -> str:
    """What reading a log again changed, or would change."""
    would, start = ("would be read", "would start") if dry_run else ("read", "start")
    unread = "not known by file" if log.unread[0] is None else grouped(log.unread[0])
    moved = f" {_many(log.elsewhere, 'over')} {start} at another instant." if log.elsewhere else ""
    another = _another(log, dry_run)
    left = f" {grouped(log.left)} lines that no file holds any more stay as they were read." if log.left else ""
    return (
        f"{escaped(log.log)}: {_many(log.lines, 'line')} {would} again; overs {grouped(log.overs[0])} before, "
        f"{grouped(log.overs[1])} after; unread {unread} before, {grouped(log.unread[1])} after.{moved}{another}{left}"
    )


def _another(log: LogAgain, dry_run: bool) -> str:
    """` 711 overs get another mode; 7 refusals another reason.`; empty where none says something else."""
    parts = [(many, "over", name) for name, many in sorted(log.another.items(), key=lambda item: -item[1])]
    if log.reasons:
        parts.append((log.reasons, "refusal", "reason"))
    would = "would get" if dry_run else "got"
    said = [
        f"{_many(many, what)}{'' if place else f' {would}'} another {name}"
        for place, (many, what, name) in enumerate(parts)
    ]
    return f" {'; '.join(said)}." if said else ""


def _many(count: int, what: str) -> str:
    return f"{grouped(count)} {what}{'' if count == 1 else 's'}"


def _comes_back(engine: Store, station: Station, dry_run: bool) -> str:
    """A warning where an identity was erased that the logs may still name; empty elsewhere."""
    with reading(engine) as connection:
        forgotten = read_fact(connection, FORGOTTEN)
    if forgotten is None:
        return ""
    day = f"{from_us(int(forgotten), station.zone):%Y-%m-%d}"
    return (
        f"An identity was erased from the store, last on {day}: lines that name it "
        f"{'would bring' if dry_run else 'bring'} it back. `airtally forget` erases it again."
    )


def missing_logs(station: Station) -> list[str]:
    """A sentence for each [[log]] whose path leads to no file, not even a rotated one, that no trouble explains."""
    said = []
    for number, log in enumerate(station.log, start=1):
        found, troubles = discover([log.path], station.folder)
        if log.journal is not None:  # intake says what it lacks
            continue
        if not found and not troubles:
            said.append(
                f"{station.path}: log[{number}].path = {log.path!r}: a file was expected, or a glob that some file "
                "matches; there is none yet."
            )
    return said


def read_all(engine: Store, station: Station, now_us: Callable[[], int] | None = None) -> PassResult:
    """One pass over the logs, with a progress bar on a terminal; `now_us` in place of this machine's clock. Raises
    StoreError, DialectError.
    """
    from server.source import clock

    intake = Intake(engine, station, now_us=now_us or clock)
    with tqdm(total=intake.waiting(), unit="B", unit_scale=True, desc="reading", disable=None, leave=False) as bar:
        return intake.catch_up(lambda count, _path: bar.update(count))


def summary(caught: PassResult) -> str:
    """What a pass brought, in a sentence."""
    if not caught.lines:
        return "Nothing new."
    return (
        f"{grouped(caught.lines)} lines from {grouped(caught.files)} {'file' if caught.files == 1 else 'files'}: "
        f"{grouped(caught.understood)} "
        f"understood, {grouped(caught.ignored)} ignored, {grouped(caught.unread)} unread; {grouped(caught.overs)} "
        "overs."
    )
