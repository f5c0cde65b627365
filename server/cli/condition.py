"""Commands that ask whether the station itself is well: reception, links, exposure."""

import json
from pathlib import Path

import click

from server.cli.common import chosen_window, load, station_option, window_options
from server.cli.show_condition import exposure_sheet
from server.cli.show_links import links_table
from server.cli.show_reception import reception_table
from server.source import StoreSource
from server.store.engine import open_store
from server.telling.caution import CAUTION, LINE, SCREENING
from server.telling.targets import TargetNames


@click.command("exposure", epilog=LINE)
@window_options
@click.option("--json", "as_json", is_flag=True, help="The whole object as JSON (docs/contract.md).")
@station_option
def exposure_command(
    from_text: str | None, to_text: str | None, week: str | None, month: str | None, as_json: bool, station_path: Path
) -> None:
    """A first look at exposure: how far from the antenna published limits are met.

    It is a screening figure, not an assessment: far field, in the main beam, at the window's worst
    keyed share and at full duty. Under [transmitter] it needs frequency_mhz, power_w,
    feeder_loss_db and antenna_gain_dbi.

    \b
    Examples:
      airtally exposure --month 2026-10
      airtally exposure --month 2026-10 --json
    """
    station = load(station_path)
    window = chosen_window(station.zone, from_text, to_text, week, month)
    found = StoreSource(open_store(station.store_url()), station).exposure(*window)
    if as_json:
        click.echo(json.dumps(found.as_json(f"{SCREENING} {CAUTION}"), indent=2, ensure_ascii=False))
        return
    click.echo(exposure_sheet(found))


@click.command("links")
@window_options
@click.option("--json", "as_json", is_flag=True, help="A list, one item a link (docs/contract.md).")
@station_option
def links_command(
    from_text: str | None, to_text: str | None, week: str | None, month: str | None, as_json: bool, station_path: Path
) -> None:
    """How each link to other systems fared: up or down, flaps, the overs that it brought, loss, silences.

    A link is what the log's link-up and link-down lines name. A silence is told where it is longer
    than three times the gap that came about once a week in the 13 weeks up to the window's end.

    \b
    Examples:
      airtally links --week 2026-W47
      airtally links --month 2026-10 --json
    """
    station = load(station_path)
    window = chosen_window(station.zone, from_text, to_text, week, month)
    found = StoreSource(open_store(station.store_url()), station).links(*window)
    if as_json:
        click.echo(json.dumps(found.as_json(), indent=2, ensure_ascii=False))
        return
    click.echo(links_table(found, TargetNames(station.target)))


@click.command("reception", epilog=LINE)
@window_options
@click.option("--json", "as_json", is_flag=True, help="The whole object as JSON (docs/contract.md).")
@station_option
def reception_command(
    from_text: str | None, to_text: str | None, week: str | None, month: str | None, as_json: bool, station_path: Path
) -> None:
    """How well the repeater hears: the shift of each day, and the days from which it stays elsewhere.

    It is told by what all stations that are heard again and again have in common, never by one of
    them. The host must log `rssi_dbm` or `ber_pct`.

    \b
    Examples:
      airtally reception --from 2026-08-24 --to 2026-11-23
      airtally reception --month 2026-10 --json
    """
    station = load(station_path)
    window = chosen_window(station.zone, from_text, to_text, week, month)
    found = StoreSource(open_store(station.store_url()), station).reception(*window)
    if as_json:
        click.echo(json.dumps(found.as_json(), indent=2, ensure_ascii=False))
        return
    click.echo(reception_table(found))
