"""Commands that answer from the store: figures, overs."""

import csv
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from server.analytics.figure_rows import figure_frame, figure_rows
from server.analytics.local_spans import BY, By, local_spans
from server.analytics.over_rows import OVER_FIELDS, over_rows
from server.cli.common import ChosenWindow, echo_json, json_option, load, station_option, window_options
from server.cli.exporting import csv_text, is_csv_of_figures, is_parquet, parquet_bytes, progress, write_overs
from server.cli.made_files import is_stream, place_for, write_made
from server.cli.show import figures_table
from server.config import Station
from server.source import StoreSource
from server.store.engine import open_store, reading
from server.telling.caution import LINE
from server.telling.moments import edges_words, instant_words
from server.telling.numbers import count, plain
from server.telling.unread import not_understood, nothing_read_yet
from server.telling.words import GAP
from shared.csvcells import safe_cell
from shared.errors import UnusableError
from shared.text import escaped
from shared.zones import iso

FILE = click.Path(path_type=Path, dir_okay=False)


@click.command("figures", epilog=LINE)
@window_options
@json_option
@click.option("--by", type=click.Choice(BY), help="One row for each local hour, day, week or month of the window.")
@click.option(
    "--csv",
    "csv_file",
    metavar="[FILE]",
    is_flag=False,
    flag_value="-",
    help="With --by: as CSV, to FILE or standard output.",
)
@click.option("--parquet", "parquet", metavar="FILE", type=FILE, help="With --by: as a Parquet file.")
@click.option("--yes", is_flag=True, help="Don't ask: what FILE held that is no such table is kept as FILE.bak.")
@station_option
def figures_command(
    chosen: ChosenWindow, as_json: bool, by: By | None,
    csv_file: str | None, parquet: Path | None, yes: bool, station_path: Path,
) -> None:  # fmt: skip
    """The figures of a window.

    With --by they become a table: one row for each local hour, day, week or month, one column a figure, named by its
    path in --json. Of what nobody saw the cells are empty.

    \b
    Examples:
      airtally figures --week 2026-W47
      airtally figures --month 2026-10 --json
      airtally figures --from 2026-11-16T18:00 --to 2026-11-16T23:00
      airtally figures --month 2026-10 --by day --csv october.csv
      airtally figures --from 2026-01-01 --to 2026-11-01 --by hour --parquet hours.parquet
    """
    _one_form(as_json, by, csv_file, parquet)
    station = load(station_path)
    window = chosen.of(station.zone)
    source = StoreSource(open_store(station.store_url()), station)
    if by is not None:
        _tell_by_calendar(source, station, window, by, csv_file, parquet, yes)
        return
    found = source.figures(*window)
    if as_json:
        echo_json(found.as_json())
        return
    click.echo(figures_table(found, station.timers.courtesy_gap_s, any_wide=bool(station.timers_for_figures().wide)))
    if said := _covered(source, window, station.zone):
        click.echo(said)
    click.echo(LINE)


def _one_form(as_json: bool, by: By | None, csv_file: str | None, parquet: Path | None) -> None:
    if by is None and (csv_file is not None or parquet is not None):
        raise UnusableError("--csv and --parquet are for tables: add --by hour, day, week or month.")
    if by is not None and sum([as_json, csv_file is not None, parquet is not None]) != 1:
        raise UnusableError("With --by name one form: --csv, --csv FILE or --parquet FILE.")
    if by is not None and as_json:
        raise UnusableError("--json is for one window: with --by name --csv, --csv FILE or --parquet FILE.")


def _by_calendar(source: StoreSource, window: tuple[int, int], by: By) -> list[dict[str, Any]]:
    """The figures of each hour, day, week or month."""
    many = len(local_spans(*window, by, source.station().zone))
    return figure_rows(progress(source.figures_by(*window, by), f"{by}s", many))


def _tell_by_calendar(
    source: StoreSource, station: Station, window: tuple[int, int], by: By,
    csv_file: str | None, parquet: Path | None, yes: bool,
) -> None:  # fmt: skip
    """The same in the form that was asked for."""
    file = parquet or (Path(csv_file) if csv_file and csv_file != "-" else None)
    place = place_for(file, station, is_parquet if parquet else is_csv_of_figures, yes=yes) if file else None
    rows = _by_calendar(source, window, by)
    if file is None or place is None:
        click.echo(csv_text(rows), nl=False)
        return
    write_made(place, parquet_bytes(figure_frame(rows, station.zone)) if parquet else csv_text(rows))
    _say_written(file, count(len(rows), by))


def _say_written(file: Path, what: str) -> None:
    """Beside the table where that went to standard output itself."""
    click.echo(plain(f"{escaped(str(file))}: {what}."), err=is_stream(file))


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
@click.option("--parquet", "parquet", metavar="FILE", type=FILE, help="Write a Parquet file instead, without stations.")
@click.option("--with-names", is_flag=True, help="With --parquet: stations too, and targets that may be somebody's.")
@click.option("--yes", is_flag=True, help="Don't ask: what FILE held that is no such table is kept as FILE.bak.")
@station_option
def overs_command(
    chosen: ChosenWindow, as_csv: bool, parquet: Path | None,
    with_names: bool, yes: bool, station_path: Path,
) -> None:  # fmt: skip
    """The finished overs that start in a window: what the figures rest on.

    Call signs are personal data: keep what you export no longer than you need it. JSON Lines and CSV name stations; a
    Parquet file does so only with --with-names.

    \b
    Examples:
      airtally overs --week 2026-W47 --csv > overs.csv
      airtally overs --from 2026-11-16 --to 2026-11-17
      airtally overs --month 2026-10 --parquet october.parquet
    """
    if as_csv and parquet is not None:
        raise UnusableError("Name one of --csv and --parquet.")
    station = load(station_path)
    start, end = chosen.of(station.zone)
    names, zone = station.names_of_ids(), station.zone
    place = None if parquet is None else place_for(parquet, station, is_parquet, yes=yes)
    with reading(open_store(station.store_url())) as connection:
        rows = over_rows(connection, start, end, names)
        if parquet is not None and place is not None:
            many = write_overs(place, list(progress(rows, "overs")), station, with_names)
            _say_written(parquet, count(many, "over"))
        else:
            many = _print_overs(rows, zone, as_csv)
    if not many:
        click.echo("No finished over starts in this window.", err=True)


def _print_overs(rows: Iterator[dict[str, Any]], zone: ZoneInfo, as_csv: bool) -> int:
    writer = csv.writer(sys.stdout, lineterminator="\n")
    if as_csv:
        writer.writerow(OVER_FIELDS)
    many = 0
    for row in rows:
        many += 1
        told = row | {"start": iso(row["start"], zone), "end": iso(row["end"], zone)}
        if as_csv:
            writer.writerow(map(safe_cell, told.values()))
        else:
            click.echo(json.dumps(told, ensure_ascii=True))
    return many
