"""The command that answers for one instant: moment."""

from pathlib import Path

import click

from server.cli.common import echo_json, json_option, load, station_option
from server.source import StoreSource
from server.store.engine import open_store
from server.telling.caution import CAREFUL, LINE
from server.telling.moment_sentences import moment_json, moment_sentences, plain
from shared.events import MODES
from shared.windows import named_instant


@click.command("moment")
@click.argument("at", metavar="T")
@click.option("--mode", type=click.Choice(MODES), help="For a caller of this mode.")
@json_option
@station_option
def moment_command(at: str, mode: str | None, as_json: bool, station_path: Path) -> None:
    """What held the repeater at a moment, and what happened within 15 minutes of it.

    T is a date-time, local or with offset. Where a clock change repeats a local time, its first
    instant is taken; an offset names the second. The sentences tell of modes, slots and sides,
    never of stations, so they can be pasted into an answer.

    \b
    Examples:
      airtally moment 2026-11-17T20:15
      airtally moment 2026-11-17T20:15 --mode c4fm
      airtally moment 2026-10-25T01:30+00:00 --json
    """
    station = load(station_path)
    instant_us = named_instant(at, station.zone)
    source = StoreSource(open_store(station.store_url()), station)
    found, logged, names = source.moment(instant_us, mode), source.logged(), source.station().names
    if as_json:
        echo_json(moment_json(found, logged, names))
        return
    for sentence in moment_sentences(found, logged, names):
        click.echo(plain(sentence))
    if any(one.rule in CAREFUL for one in found.incidents or ()):
        click.echo(LINE)
