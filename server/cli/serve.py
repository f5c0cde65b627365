"""The command that follows the logs and shows the pages: serve."""

import datetime as dt
import os
from collections.abc import Callable
from contextlib import ExitStack, closing, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from server.cli.addresses import listen_on, reachable
from server.cli.common import load, station_option
from server.config import Station
from server.intake.context import PassResult
from server.intake.ingest import Intake
from server.store.engine import Store, close_store, open_store
from server.telling.moments import listed_instant
from shared.errors import UnusableError

if TYPE_CHECKING:
    from server.report.weekly import WeeklyNews
    from server.source import StoreSource
    from server.web.listening import WebOptions


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
    from server.teaching.teacher import Teacher
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
        listener = held.enter_context(closing(listen_on(host, port, options.listen)))
        at = [f"http://{one}:{listener.getsockname()[1]}{options.path_prefix}/" for one in reachable(host)]
        claim.say(Serving(os.getpid(), listed_instant(clock(), station.zone), at[0]))
        source = StoreSource(engine, station, now_us)
        add_workers(source, engine, station, watched=now_us is None)
        app = create_app(source, options, Teacher(engine, station))
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

    def lines_came(_caught: PassResult) -> None:
        for wake in wakes:
            wake()

    follower = Follower(Intake(engine, station, now_us=clock), log_folders(station), lines_came)
    source.supervisor.add(follower.worker)
    if not watched:
        return
    wakes.append(add_alerts(source.supervisor, engine, station, clock, follower.caught_up))
    if station.report.week:
        source.supervisor.add(_weekly_news(source, engine, station, follower.caught_up.is_set).worker)
    if station.report.mail:
        pdf = partial(pdf_of, paper=station.report.paper)
        postman = Postman(engine, station, clock, source.month, pdf, all_read=follower.caught_up.is_set)
        source.supervisor.add(postman.worker)


def _weekly_news(source: "StoreSource", engine: Store, station: Station, all_read: Callable[[], bool]) -> "WeeklyNews":
    """What tells the week on Monday morning. An address that nothing can be sent to is told at once."""
    from server.alerts.channels import channels_of
    from server.report.weekly import WeeklyNews
    from server.service import tell_keeper
    from server.source import clock
    from server.web.week.notice import week_notice
    from server.web.weeks import Week

    channels, troubles = channels_of(station.report.week, "report.week")
    for trouble in troubles:
        tell_keeper(trouble)

    def tell(monday: dt.date) -> tuple[str, str] | None:
        return week_notice(source, Week(monday, station.zone), station.web.address)

    return WeeklyNews(engine, station, channels, clock, tell, all_read)


def web_options(station: Station) -> "WebOptions":
    """The pages' settings of a station."""
    from server.web.listening import WebOptions

    return WebOptions(
        folder=station.private_folder,
        listen=station.web.listen,
        path_prefix=station.web.path_prefix,
        trusted_proxy=tuple(station.web.trusted_proxy),
        paper=station.report.paper,
    )


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
