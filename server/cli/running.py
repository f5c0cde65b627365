"""Commands that read logs and show pages: ingest, serve, demo."""

import ipaddress
import os
import re
import socket
import sys
from collections.abc import Callable
from contextlib import ExitStack, closing, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from tqdm import tqdm

from server.cli.common import load, station_option
from server.cli.terminal import complain
from server.config import Station
from server.intake.again import read_again, with_logs
from server.intake.files import discover
from server.intake.ingest import FAR, Caught, Intake
from server.intake.outdated import to_read_again
from server.store.engine import Store, close_store, open_store, reading
from server.store.facts import FORGOTTEN, read_fact
from shared.errors import UnusableError
from shared.zones import from_us

if TYPE_CHECKING:
    from server.source import StoreSource
from shared.numbers import grouped
from shared.text import escaped


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
        outdated = [one.told for one in to_read_again(connection, station)]
    for said in caught.notes + outdated + troubles:
        complain(said)
    if troubles:
        sys.exit(1)


def _moved(overs: int, start: str) -> str:
    return f" {grouped(overs)} {'over' if overs == 1 else 'overs'} {start} at another instant."


def _read_again(station: Station, log_path: str | None, dry_run: bool) -> None:
    from server.source import clock

    station = with_logs(station, log_path)
    engine = open_store(station.store_url())
    size = sum(file.size for file in discover([log.path for log in station.log], station.folder)[0])
    with tqdm(total=size, unit="B", unit_scale=True, desc="reading", disable=None, leave=False) as bar:
        done = read_again(
            engine, station, dry_run=dry_run, progress=lambda count, _path: bar.update(count), now_us=clock
        )
    would = "would be read" if dry_run else "read"
    for one in done:
        unread = "not known by file" if one.unread[0] is None else grouped(one.unread[0])
        moved = _moved(one.elsewhere, "would start" if dry_run else "start") if one.elsewhere else ""
        left = f" {grouped(one.left)} lines that no file holds any more stay as they were read." if one.left else ""
        click.echo(
            f"{escaped(one.log)}: {grouped(one.lines)} {'line' if one.lines == 1 else 'lines'} {would} again; overs "
            f"{grouped(one.overs[0])} before, "
            f"{grouped(one.overs[1])} after; unread {unread} before, {grouped(one.unread[1])} after.{moved}{left}"
        )
    for log in station.log:
        if (journal := log.read_from(station.folder)) is not None:
            click.echo(
                f"{escaped(journal.name)}: what was read of a journal stays as it was read; only files are read again."
            )
    with reading(engine) as connection:
        forgotten = read_fact(connection, FORGOTTEN)
    if forgotten is not None:
        day = f"{from_us(int(forgotten), station.zone):%Y-%m-%d}"
        complain(
            f"An identity was erased from the store, last on {day}: lines that name it "
            f"{'would bring' if dry_run else 'bring'} it "
            "back. `airtally forget` erases it again."
        )
    if not done:
        click.echo("No file of these logs can be read now: nothing is read again.")
    elif dry_run:
        click.echo("Nothing was changed.")


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


def read_all(engine: Store, station: Station, now_us: Callable[[], int] | None = None) -> Caught:
    """One pass over the logs, with a progress bar on a terminal; `now_us` in place of this machine's clock. Raises
    StoreError, DialectError.
    """
    from server.source import clock

    intake = Intake(engine, station, now_us=now_us or clock)
    with tqdm(total=intake.waiting(), unit="B", unit_scale=True, desc="reading", disable=None, leave=False) as bar:
        return intake.catch_up(lambda count, _path: bar.update(count))


def summary(caught: Caught) -> str:
    """What a pass brought, in a sentence."""
    if not caught.lines:
        return "Nothing new."
    return (
        f"{grouped(caught.lines)} lines from {grouped(caught.files)} {'file' if caught.files == 1 else 'files'}: "
        f"{grouped(caught.understood)} "
        f"understood, {grouped(caught.ignored)} ignored, {grouped(caught.unread)} unread; {grouped(caught.overs)} "
        "overs."
    )


@click.command("serve")
@station_option
def serve_command(station_path: Path) -> None:
    """Follow the logs and show the pages, in one process, until it is stopped.

    Listens on loopback unless `[web] listen` says otherwise, and beyond loopback only with a password (`airtally
    password`)."""
    serve(load(station_path), now_us=None)


def serve(station: Station, now_us: int | None) -> None:
    """Run until a signal asks for the end. Raises UnusableError, StoreError, DialectError."""
    import uvicorn

    from server.cli.ending import CONNECTIONS_S, Ending, Pages, leave
    from server.source import StoreSource, clock
    from server.store.serving import Serving, claim_serving
    from server.teaching import StationTeacher
    from server.web.app import create_app, uvicorn_settings
    from server.web.listening import listen_address, refusal_to_listen
    from server.web.sign.auth import has_password

    options = web_options(station)
    refusal = refusal_to_listen(options.listen, has_password(options.folder))
    if refusal:
        raise UnusableError(refusal)
    engine = open_store(station.store_url())
    host, port = listen_address(options.listen)
    with ExitStack() as held:
        claim = held.enter_context(closing(claim_serving(engine)))
        held.callback(close_store, engine)  # still under the claim
        listener = held.enter_context(closing(_listen(host, port, options.listen)))
        at = [f"http://{one}:{listener.getsockname()[1]}{options.path_prefix}/" for one in reachable(host)]
        claim.say(Serving(os.getpid(), f"{from_us(clock(), station.zone):%Y-%m-%d %H:%M}", at[0]))
        source = StoreSource(engine, station, now_us)
        add_workers(source, engine, station, watched=now_us is None)
        app = create_app(source, options, StationTeacher(engine, station))
        settings = {**uvicorn_settings(options), "timeout_graceful_shutdown": CONNECTIONS_S, "use_colors": False}
        with Ending(source.supervisor) as ending:
            source.supervisor.start()
            click.echo(f"Pages at {' or '.join(at)} (stop with Ctrl-C)")
            ending.run(Pages(uvicorn.Config(app, **settings)), listener)
    if ending.late:
        leave()


def add_workers(source: "StoreSource", engine: Store, station: Station, watched: bool) -> None:
    """What runs beside the pages. Where the clock stands still, as the demo's does, nothing is `watched`. Raises
    StationFileError, DialectError.
    """
    from server.alerts.service import add_alerts
    from server.intake.follow import Follower
    from server.report.pdf import pdf_of
    from server.report.postman import Postman
    from server.source import clock

    wakes: list[Callable[[], None]] = []

    def lines_came(_caught: Caught) -> None:
        for wake in wakes:
            wake()

    follower = Follower(Intake(engine, station, now_us=clock), log_folders(station), lines_came)
    source.supervisor.add(follower.worker)
    if not watched:
        return
    wakes.append(add_alerts(source.supervisor, engine, station, clock, follower.caught_up))
    if station.report.mail:
        pdf = partial(pdf_of, paper=station.report.paper)
        postman = Postman(engine, station, clock, source.month, pdf, all_read=follower.caught_up.is_set)
        source.supervisor.add(postman.worker)


def reachable(host: str) -> list[str]:
    """The host parts under which a browser finds what listens on `host`: where that is every address, those of this
    machine, or its name where it knows of none but loopback.
    """
    if host not in ("0.0.0.0", "::"):
        return [f"[{host}]" if ":" in host else host]
    name = socket.gethostname()
    try:
        known = socket.getaddrinfo(
            name, None, socket.AF_INET if host == "0.0.0.0" else socket.AF_UNSPEC, socket.SOCK_STREAM
        )
    except OSError:
        return [name]
    own = dict.fromkeys(str(entry[4][0]) for entry in known)
    usable = [one for one in own if not is_own_only(one)]
    return [f"[{one}]" if ":" in one else one for one in usable] or [name]


def is_own_only(address: str) -> bool:
    """Whether no other machine's browser can open the address: loopback, or of one link and so in need of a zone."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    return parsed.is_loopback or parsed.is_link_local


def _listen(host: str, port: int, listen: str) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise UnusableError(
            f"[web] listen is {listen}: can't be listened on ({error.strerror}); choose another port."
        ) from error
    return listener


def web_options(station: Station):  # type: ignore[no-untyped-def]
    """The pages' settings of a station."""
    from server.web.listening import WebOptions

    return WebOptions(
        folder=private_folder(station),
        listen=station.web.listen,
        path_prefix=station.web.path_prefix,
        trusted_proxy=tuple(station.web.trusted_proxy),
        paper=station.report.paper,
    )


def private_folder(station: Station) -> Path:
    """Where password and keys lie: beside the store, or beside the station file where the store is no file."""
    found = re.fullmatch(r"sqlite:///(.+)", station.store_url())
    return Path(found[1]).parent if found else station.folder


def log_folders(station: Station) -> list[Path]:
    """The folders to watch: those of the [[log]] paths, globs in folder names resolved as far as they go."""
    folders: dict[Path, None] = {}
    for log in station.log:
        if not log.path:
            continue
        parent = (station.folder / log.path).parent
        if any(mark in str(parent) for mark in "*?["):
            with suppress(OSError):  # what can't be searched is told when logs are looked for
                for folder in Path(parent.anchor).glob(str(parent.relative_to(parent.anchor))):
                    folders[folder] = None
        else:
            folders[parent] = None
    return list(folders)


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
