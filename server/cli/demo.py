"""The command that shows an invented repeater: demo."""

from pathlib import Path

import click

from server.cli.common import load
from server.cli.ingest import read_all, summary
from server.cli.serve import serve
from server.intake.context import FAR
from server.store.engine import open_store
from shared.errors import UnusableError


@click.command("demo")
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("airtally-demo"),
    show_default=True,
    help="Where the demo is built.",
)
@click.option("--no-serve", is_flag=True, help="Only build it.")
@click.option("--listen", default="127.0.0.1:8087", show_default=True, help="Where its pages are shown.")
def demo_command(folder: Path, no_serve: bool, listen: str) -> None:
    """Thirteen weeks of an invented repeater: build its logs, read them, show the pages.

    The Brackenfell Repeater Group and its stations are invented; call signs that begin with Q belong to nobody. The
    clock of the demo stands at the first minutes after its last week."""
    from server.demo.write import write_demo
    from shared.zones import SECOND

    station_file = folder / "station.toml"
    if not (folder / "truth.json").exists():
        if folder.exists() and any(folder.iterdir()):
            raise UnusableError(f"{folder}: is not empty and holds no demo; name another with --folder.")
        click.echo(f"Building thirteen weeks of the Brackenfell demo in {folder} ...")
        write_demo(folder)
    station = load(station_file)
    caught = read_all(open_store(station.store_url()), station, lambda: FAR)  # whatever this machine's clock says
    click.echo(summary(caught))
    if no_serve:
        click.echo(
            f"Built. `airtally figures --week 2026-W47 --station {station_file}`, or `airtally demo --folder {folder}` "
            "for the pages."
        )
        return
    from server.source import StoreSource

    bounds = StoreSource(open_store(station.store_url()), station).first_and_last()
    shown = station.model_copy(update={"web": station.web.model_copy(update={"listen": listen})})
    serve(shown, now_us=bounds[1] + 600 * SECOND if bounds else None)
