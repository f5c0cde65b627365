"""The command that writes the committee's report."""

from pathlib import Path
from typing import Literal

import click

from server.cli.common import load, station_option
from server.cli.made_files import is_stream, place_for
from server.report.pdf import pdf_of
from server.report.seen import not_seen
from server.source import StoreSource
from server.store.engine import open_store
from shared.errors import AirtallyError, UnusableError
from shared.zones import month_window


@click.command("report")
@click.option("--month", "name", required=True, help="The month, such as 2026-10.")
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path, dir_okay=False), help="The PDF file to write."
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Size of the page; without it, `[report] paper`.")
@click.option("--yes", is_flag=True, help="Don't ask: what FILE held that is no PDF is kept as FILE.bak.")
@station_option
def report_command(
    name: str, output: Path, paper: Literal["a4", "letter"] | None, yes: bool, station_path: Path
) -> None:
    """Write the committee's PDF of a month: who used the channel, when, who was shut out, and how sure the figures are.

    It names nobody: no call sign, no id, no group of fewer than five stations. Exit 1, and no file, where no log tells
    of the month.

    \b
    Example:
      airtally report --month 2026-10 -o october.pdf
    """
    station = load(station_path)
    try:
        window = month_window(name, station.zone)
    except ValueError as error:
        raise UnusableError(f"--month: {error}.") from error
    source = StoreSource(open_store(station.store_url()), station)
    lines = sum(log.lines for log in source.intake())
    if said := not_seen(source.first_and_last(), window, station.zone, lines):
        raise AirtallyError(f"{name}: {said}")
    place = place_for(output, station, lambda found: found.startswith(b"%PDF-"), yes=yes)
    month = source.month(name)
    place.write_bytes(pdf_of(month, paper or station.report.paper))
    click.echo(f"{output}: {month.title}.", err=is_stream(output))
