"""Commands that answer from the store: figures, overs."""

import csv
import json
import sys
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from server.cli.common import chosen_window, load, station_option, window_options
from server.cli.show import figures_table
from server.source import StoreSource
from server.store.engine import open_store, reading
from server.store.overs import finished_overs
from server.telling.caution import LINE
from server.telling.moments import edges_words, instant_words
from server.telling.unread import not_understood, nothing_read_yet
from server.telling.words import GAP
from shared.zones import SECOND, iso

OVER_FIELDS = (
    "start",
    "end",
    "seconds",
    "mode",
    "slot",
    "side",
    "station",
    "target",
    "cause",
    "ber_pct",
    "loss_pct",
    "rssi_dbm",
    "doubtful",
)
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


@click.command("figures", epilog=LINE)
@window_options
@click.option("--json", "as_json", is_flag=True, help="The whole object as JSON (docs/contract.md).")
@station_option
def figures_command(
    from_text: str | None, to_text: str | None, week: str | None, month: str | None, as_json: bool, station_path: Path
) -> None:
    """The figures of a window.

    \b
    Examples:
      airtally figures --week 2026-W47
      airtally figures --month 2026-10 --json
      airtally figures --from 2026-11-16T18:00 --to 2026-11-16T23:00
    """
    station = load(station_path)
    window = chosen_window(station.zone, from_text, to_text, week, month)
    source = StoreSource(open_store(station.store_url()), station)
    found = source.figures(*window)
    if as_json:
        click.echo(json.dumps(found.as_json(), indent=2, ensure_ascii=False))
        return
    click.echo(figures_table(found))
    if said := _covered(source, window, station.zone):
        click.echo(said)
    click.echo(LINE)


def _covered(source: StoreSource, window: tuple[int, int], zone: ZoneInfo) -> str:
    """What the log leaves out of a window; empty where it covers it."""
    known = source.first_and_last()
    if known is None:
        return nothing_read_yet(not_understood(source.intake()))
    if known[1] < window[0] or known[0] >= window[1]:
        first, last = (instant_words(us, zone, with_year=True) for us in known)
        return f"Nothing is known of this window: the log runs from {first} to {last}."
    now = source.now()
    return edges_words(known, window[0], min(window[1], now), zone, over=window[1] <= now).replace(GAP, " ")


@click.command("overs")
@window_options
@click.option("--csv", "as_csv", is_flag=True, help="Comma-separated, for a spreadsheet, instead of JSON Lines.")
@station_option
def overs_command(
    from_text: str | None, to_text: str | None, week: str | None, month: str | None, as_csv: bool, station_path: Path
) -> None:
    """The finished overs that start in a window: what the figures rest on.

    Call signs are personal data: keep what you export no longer than you need it.

    \b
    Examples:
      airtally overs --week 2026-W47 --csv > overs.csv
      airtally overs --from 2026-11-16 --to 2026-11-17
    """
    station = load(station_path)
    start, end = chosen_window(station.zone, from_text, to_text, week, month)
    names, zone = station.names_of_ids(), station.zone
    engine = open_store(station.store_url())
    writer = csv.writer(sys.stdout, lineterminator="\n")
    if as_csv:
        writer.writerow(OVER_FIELDS)
    with reading(engine) as connection:
        none = True
        for row in finished_overs(connection, start, end):
            none = False
            values = row | {
                "start": iso(row["start"], zone),
                "end": iso(row["end"], zone),
                "seconds": (row["end"] - row["start"]) / SECOND,
                "station": names.get(row["station"], row["station"]),
            }
            if as_csv:
                writer.writerow([_cell(values[name]) for name in OVER_FIELDS])
            else:
                click.echo(json.dumps({name: values[name] for name in OVER_FIELDS}, ensure_ascii=True))
    if none:
        click.echo("No finished over starts in this window.", err=True)


def _cell(value: Any) -> Any:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it, as spreadsheets mark text."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value
