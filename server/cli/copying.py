"""Commands for the store as a whole: backup, restore."""

import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from tqdm import tqdm

from server.cli.common import load, station_option
from server.cli.made_files import refuse_own
from server.cli.prompts import agree
from server.store.copies import Held, back_up, held_by, look_into, put_back
from server.store.engine import open_store, place
from server.store.own_file import is_store
from server.telling.moments import instant_words
from server.telling.numbers import GAP, count
from shared.errors import UnusableError
from shared.text import escaped


@click.command("backup")
@click.argument("copy", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@station_option
def backup_command(copy: Path, station_path: Path) -> None:
    """Write a whole copy of the store to FILE, also while `serve` runs, and open it to see that it is sound.

    FILE is private, as call signs are in it. An older copy at its place is replaced; anything else there is left alone.

    \b
    Example:
      airtally backup /media/stick/airtally-2026-11-27.db
    """
    station = load(station_path)
    store = open_store(station.store_url())
    if copy.exists() and copy.samefile(place(store)):
        raise UnusableError(f"{escaped(str(copy))}: is the store itself; name another file.")
    refuse_own(copy, station)
    if copy.exists() and not is_store(copy):
        raise UnusableError(f"{escaped(str(copy))}: is there already and is no copy of a store; name another file.")
    with _Bar("copying") as bar:
        held = back_up(store, copy, bar)
    click.echo(f"{escaped(str(copy))}: {_said(held, station.zone)}; the copy was opened and is sound.")


@click.command("restore")
@click.argument("copy", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--yes", is_flag=True, help="Put the copy back although the store is newer.")
@click.option("--dry-run", is_flag=True, help="Only say what both hold.")
@station_option
def restore_command(copy: Path, yes: bool, dry_run: bool, station_path: Path) -> None:
    """Make the store what FILE, a copy that `backup` wrote, holds. `serve` must be stopped.

    What both hold is shown first. A store that is newer than the copy is put back only where you agree, or with
    --yes; what the host's logs still hold is read again by the next `ingest` or `serve`.

    \b
    Examples:
      airtally restore before.db --dry-run
      airtally restore before.db
    """
    station = load(station_path)
    theirs = look_into(copy)
    store = open_store(station.store_url())
    ours = held_by(store)
    click.echo(f"The store:  {_said(ours, station.zone)}.")
    click.echo(f"The copy:   {_said(theirs, station.zone)}.")
    if dry_run:
        click.echo("Nothing was changed.")
        return
    newer = (ours.last_us or 0) > (theirs.last_us or 0) or ours.overs > theirs.overs
    if newer and not yes:
        if not sys.stdin.isatty():
            raise UnusableError("The store is newer than the copy; --yes puts the copy back all the same.")
        if not agree("The store is newer than the copy. Put the copy back all the same?"):
            raise click.Abort
    store.dispose()
    with _Bar("putting back") as bar:
        put_back(station.store_url(), copy, bar)
    click.echo("Put back. `airtally ingest` or `airtally serve` reads what the logs hold beyond it.")


def _said(held: Held, zone: ZoneInfo) -> str:
    last = (
        "nothing is known yet"
        if held.last_us is None
        else f"known up to {instant_words(held.last_us, zone, with_year=True)}"
    )
    return f"{count(held.lines, 'line')}, {count(held.overs, 'over')}, {last}".replace(GAP, " ")


class _Bar:
    """Progress on a terminal, in pages of the store."""

    def __init__(self, doing: str) -> None:
        self._bar = tqdm(desc=doing, unit="page", unit_scale=True, disable=None, leave=False)

    def __enter__(self) -> "_Bar":
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.close()

    def __call__(self, left: int, total: int) -> None:
        self._bar.total = total
        self._bar.update(total - left - self._bar.n)
