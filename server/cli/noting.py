"""The keeper's notes of what was done at the station: note add, note list, note drop."""

from pathlib import Path

import click

from server.cli.common import own_station_option, station_of, station_option
from server.config import Station
from server.source import clock
from server.store.engine import open_store
from server.store.notes import KINDS, TIMERS, Note, add_note, drop_note, notes_and_timers
from server.telling.caution import WORK
from server.telling.moments import instant_words, listed_instant, other_instant
from shared.errors import AirtallyError, UnusableError
from shared.windows import named_instant
from shared.zones import DAY


@click.group("note", epilog=WORK)
@station_option
def note_command(station_path: Path) -> None:
    """Note what was done at the station, and when: a new feeder, a mended preamplifier, a host that was replaced.

    Notes stand on every picture that has days, and figures are compared before and after them.
    Changes of the timers are entered with `airtally timers`, and stand among the notes. Name nobody
    in a note: a call sign is personal data. `airtally forget` takes a station's out of them, and
    says which notes it stood in.

    \b
    Examples:
      airtally note add --at 2026-10-12T14:00 --kind feeder "new feeder, 20 m"
      airtally note add --at 2026-10-12 --kind antenna --for-committee "antenna moved to the new mast"
      airtally note list
      airtally note drop 1
    """


@note_command.command("add", short_help="Keep a note.")
@click.option("--at", "at", metavar="T", required=True, help="When it was: a date or date-time, local or with offset.")
@click.option("--kind", type=click.Choice(KINDS), default="other", show_default=True, help="What it was done to.")
@click.option(
    "--for-committee",
    is_flag=True,
    help="The month's report shows it too; words that look like a call sign or an id are masked there.",
)
@click.argument("text", metavar="TEXT")
@own_station_option
@click.pass_context
def add_command(
    context: click.Context, at: str, kind: str, for_committee: bool, text: str, station_path: Path | None
) -> None:
    """Keep a note of what was done at the station.

    In the committee's report `a station` stands in place of each word that has a call sign or six
    digits in it, however it is written. That may take out more than a name: read the month's report.

    \b
    Example:
      airtally note add --at 2026-10-12T14:00 --kind feeder "new feeder, 20 m"
    """
    station = station_of(context, station_path)
    at_us = named_instant(at, station.zone)
    if at_us > clock() + DAY:
        raise UnusableError(f"{at} is still to come: note it once it is done.")
    try:
        kept = add_note(open_store(station.store_url()), at_us, kind, text, for_committee=for_committee)
    except ValueError as error:
        raise UnusableError(f"TEXT: {error}") from error
    click.echo(f"Note {kept.id}, {instant_words(at_us, station.zone, with_year=True)}, {kept.kind}: {kept.text}")
    if other_instant(at_us, station.zone) is not None:
        click.echo("The clocks go back in that hour, so this time comes twice; an offset says which one is meant.")


@note_command.command("list", short_help="List the notes.")
@own_station_option
@click.pass_context
def list_command(context: click.Context, station_path: Path | None) -> None:
    """List the notes and the changes of timers, oldest first."""
    station = station_of(context, station_path)
    lines = [_line(one, station) for one in notes_and_timers(open_store(station.store_url()))]
    click.echo("\n".join(lines or ["There is no note yet: `airtally note add --at T TEXT` keeps one."]))


def _line(one: Note, station: Station) -> str:
    """Its number leads; of a change of timers that of `airtally timers`."""
    number = f"timers {one.id}" if one.kind == TIMERS else str(one.id)
    committee = " (for the committee)" if one.for_committee else ""
    kind = "" if one.kind == TIMERS else f"{one.kind}: "
    return f"{number:>9}  {listed_instant(one.at_us, station.zone)}  {kind}{one.text}{committee}"


@note_command.command("drop", short_help="Take a note away.")
@click.argument("number", metavar="N", type=int)
@own_station_option
@click.pass_context
def drop_command(context: click.Context, number: int, station_path: Path | None) -> None:
    """Take a note away, by its number in `airtally note list`."""
    station = station_of(context, station_path)
    if not drop_note(open_store(station.store_url()), number):
        raise AirtallyError(f"There is no note {number}; `airtally note list` lists them with their numbers.")
    click.echo(f"Note {number} is gone.")
