"""Commands that ask whether the station itself is well: reception, links, exposure."""

from pathlib import Path

import click

from server.cli.common import ChosenWindow, echo_json, json_option, load, station_option, window_options
from server.cli.show_condition import exposure_sheet
from server.cli.show_links import links_table
from server.cli.show_reception import reception_table
from server.source import StoreSource
from server.store.engine import open_store
from server.telling.caution import CAUTION, LINE, SCREENING


def _asked(station_path: Path, chosen: ChosenWindow) -> tuple[StoreSource, tuple[int, int]]:
    """What a station's store is asked of, and over which window. Raises StationFileError, StoreError, UnusableError."""
    station = load(station_path)
    window = chosen.of(station.zone)
    return StoreSource(open_store(station.store_url()), station), window


@click.command("exposure", epilog=LINE)
@window_options
@json_option
@station_option
def exposure_command(chosen: ChosenWindow, as_json: bool, station_path: Path) -> None:
    """A first look at exposure: how far from the antenna published limits are met.

    It is a screening figure, not an assessment: far field, in the main beam, at the window's worst
    keyed share and at full duty. Under [transmitter] it needs frequency_mhz, power_w,
    feeder_loss_db and antenna_gain_dbi.

    \b
    Examples:
      airtally exposure --month 2026-10
      airtally exposure --month 2026-10 --json
    """
    source, window = _asked(station_path, chosen)
    found = source.exposure(*window)
    if as_json:
        echo_json(found.as_json(f"{SCREENING} {CAUTION}"))
    else:
        click.echo(exposure_sheet(found))


@click.command("links")
@window_options
@click.option("--json", "as_json", is_flag=True, help="A list, one item a link (docs/contract.md).")
@station_option
def links_command(chosen: ChosenWindow, as_json: bool, station_path: Path) -> None:
    """How each link to other systems fared: up or down, flaps, the overs that it brought, loss, silences.

    A link is what the log's link-up and link-down lines name. A silence is told where it is longer
    than three times the gap that came about once a week in the 13 weeks up to the window's end.

    \b
    Examples:
      airtally links --week 2026-W47
      airtally links --month 2026-10 --json
    """
    source, window = _asked(station_path, chosen)
    found = source.links(*window)
    if as_json:
        echo_json(found.as_json())
    else:
        click.echo(links_table(found, source.station().names))


@click.command("reception", epilog=LINE)
@window_options
@json_option
@station_option
def reception_command(chosen: ChosenWindow, as_json: bool, station_path: Path) -> None:
    """How well the repeater hears: the shift of each day, and the days from which it stays elsewhere.

    It is told by what all stations that are heard again and again have in common, never by one of
    them. The host must log `rssi_dbm` or `ber_pct`.

    \b
    Examples:
      airtally reception --from 2026-08-24 --to 2026-11-23
      airtally reception --month 2026-10 --json
    """
    source, window = _asked(station_path, chosen)
    found = source.reception(*window)
    if as_json:
        echo_json(found.as_json())
    else:
        click.echo(reception_table(found))
