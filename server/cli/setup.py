"""Commands for the first day: init, check."""

import os
import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click
import sqlalchemy as sa

from server.cli.common import load, station_option
from server.cli.running import private_folder
from server.config import Station, station_text
from server.intake.files import discover
from server.source import StoreSource, clock
from server.store.engine import open_store, place, reading, sqlite_file
from shared.errors import AirtallyError, UnusableError
from shared.zones import HOUR, SECOND, iso

ROOM_BYTES = 200 << 20  # free disk under which `check` complains


@click.command("init")
@click.option("--callsign", help="Call sign of the repeater.")
@click.option("--name", help="Its place or name.")
@click.option("--zone", help="IANA time zone, such as Europe/London.")
@click.option("--log", "log_path", help="The host's log: a file or a glob.")
@click.option("--dialect", help="How its lines read: a shipped name, a file, or `activity`.")
@click.option("--timeout", "timeout_s", type=float, help="Time-out of an over, seconds.")
@click.option("--hold", "hold_s", type=float, help="How long the repeater stays with a mode after an over, seconds.")
@station_option
def init_command(
    callsign: str | None, name: str | None, zone: str | None, log_path: str | None, dialect: str | None,
    timeout_s: float | None, hold_s: float | None, station_path: Path,
) -> None:  # fmt: skip
    """Write a commented station file, by asking, or with options.

    \b
    Example:
      airtally init --callsign QB0BFR --name Brackenfell --zone Europe/London \\
        --log '/var/log/host/*.log' --dialect brackenfell-a --timeout 180 --hold 20
    """
    if station_path.exists():
        raise UnusableError(f"{station_path}: is there already; edit it, or name another with --station.")
    callsign = callsign or click.prompt("Call sign of the repeater", err=True)
    name = name if name is not None else click.prompt("Its place or name", default="", show_default=False, err=True)
    zone = zone or click.prompt("Time zone of its days and weeks", default=_zone_here(), value_proc=_known_zone, err=True)
    log_path = log_path or click.prompt("The host's log (file or glob)", default="/var/log/host/*.log", err=True)
    dialect = dialect or click.prompt("Dialect of that log", default="activity", err=True)
    timeout_s = timeout_s or click.prompt("Time-out of an over, seconds", type=float, default=180.0, err=True)
    hold_s = hold_s if hold_s is not None else click.prompt("Hold after an over, seconds", type=float, default=20.0, err=True)
    text = station_text(callsign=callsign, name=name, zone=zone, log_path=log_path, dialect=dialect, timeout_s=timeout_s, hold_s=hold_s)
    descriptor = os.open(station_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
    try:
        load(station_path)
    except AirtallyError:
        station_path.unlink()
        raise
    click.echo(f"Wrote {station_path}. Next: `airtally check`, then `airtally ingest`, then `airtally serve`.")


def _known_zone(text: str) -> str:
    """A zone that is known; otherwise the question is asked again."""
    try:
        return ZoneInfo(text).key
    except (KeyError, ValueError, OSError):
        raise click.UsageError("an IANA time zone such as Europe/London was expected") from None


def _zone_here() -> str:
    """This machine's zone, where it tells its name."""
    linked = os.path.realpath("/etc/localtime").partition("/zoneinfo/")[2]
    try:
        return ZoneInfo(linked).key
    except (KeyError, ValueError, OSError):
        return "UTC"


@click.command("check")
@station_option
def check_command(station_path: Path) -> None:
    """Say whether config, logs, store, clock and notices are in order, and what to mend. Exit 1 where something is not."""
    station = load(station_path)
    results = [*_check_logs(station), *_check_store(station), *_check_web(station), *_check_notices(station)]
    click.echo(f"good     {station.path}: the station file of {station.repeater.callsign} can be used.")
    for good, sentence in results:
        click.echo(f"{'good    ' if good else 'to mend '} {sentence}")
    if not all(good for good, _ in results):
        raise SystemExit(1)


Result = tuple[bool, str]


def _check_logs(station: Station) -> list[Result]:
    from parsers.dialect import find_dialect

    results: list[Result] = []
    if not station.log:
        return [(False, "No [[log]] is named: add one with its path and dialect.")]
    for log in station.log:
        try:
            find_dialect(log.dialect, station.folder)
        except AirtallyError as error:
            results.append((False, str(error)))
        found, troubles = discover([log.path], station.folder)
        results += [(False, trouble) for trouble in troubles]
        closed = [str(file.path) for file in found if not os.access(file.path, os.R_OK)]
        if closed:
            results.append((False, f"{closed[0]}: can't be read by this user; add the user to the group that owns the log."))
        elif found:
            results.append(
                (True, f"{log.path}: {len(found)} {'file' if len(found) == 1 else 'files'}, {sum(f.size for f in found):,} bytes.")
            )
        else:
            results.append((False, f"{log.path}: no such file yet; check the path (it is relative to the station file)."))
    if not any(station.timers.hold_s.values()):
        results.append(
            (False, "timers.hold_s is 0: set it to how long the repeater stays with a mode, or no shut-out without a reason is seen.")
        )
    return results


def _check_store(station: Station) -> list[Result]:
    engine = open_store(station.store_url())
    results: list[Result] = []
    file = sqlite_file(engine)
    if file is not None:
        with engine.connect() as connection:
            sound = connection.execute(sa.text("PRAGMA quick_check(1)")).scalar()
        results.append((sound == "ok", f"{file}: " + ("the store is sound." if sound == "ok" else f"the store is damaged ({sound}).")))
        room = os.statvfs(file.parent)
        free = room.f_bavail * room.f_frsize
        results.append((free > ROOM_BYTES, f"{file.parent}: {free >> 20:,} MB of disk are free."))
    else:
        results.append((True, f"{place(engine)}: the store answers."))
    source = StoreSource(engine, station)
    bounds = source.first_and_last()
    if bounds is None:
        results.append((False, "The store is empty: run `airtally ingest`."))
        return results
    late = clock() - bounds[1]
    results.append((True, f"Lines from {iso(bounds[0], station.zone)} to {iso(bounds[1], station.zone)}."))
    if late < -60 * SECOND:
        results.append(
            (False, f"The last line is stamped {-late // SECOND} s ahead of this machine's clock: check both clocks and the zones.")
        )
    elif late > 24 * HOUR:
        results.append((False, f"The last line is {late // HOUR} hours old: is the host running, is the log's path right?"))
    for log in source.intake():
        if log.lines and log.unread / log.lines > 0.01:
            results.append((False, f"{log.name}: {log.unread} of {log.lines} lines are unread; see the Intake page, teach the dialect."))
    if time.time() < 1_700_000_000:
        results.append((False, "This machine's clock stands before 2023: set it."))
    return results


def _check_web(station: Station) -> list[Result]:
    from server.web.auth import has_password
    from server.web.listening import refusal_to_listen

    refusal = refusal_to_listen(station.web.listen, has_password(private_folder(station)))
    return [(refusal is None, refusal or f"Pages may be shown on {station.web.listen}.")]


def _check_notices(station: Station) -> list[Result]:
    from server.alerts.book import failing
    from server.alerts.channels import channels_of

    if not station.alerts.notify:
        return [(True, "No notices are sent: alerts.notify is empty; airtally can't wake anybody.")]
    channels, troubles = channels_of(station.alerts.notify)
    results: list[Result] = [(False, trouble) for trouble in troubles]
    if channels:
        named = ", ".join(channel.label for channel in channels)
        results.append((True, f"Notices go to {named}; `airtally alerts test` tries it."))
    with reading(open_store(station.store_url())) as connection:
        waiting = failing(connection)
    if waiting:
        worst = waiting[0]
        results.append(
            (
                False,
                f"{len(waiting)} {'notice has' if len(waiting) == 1 else 'notices have'} not got through, the last to {worst.label} after {worst.tries} tries: {worst.trouble}",
            )
        )
    if not station.alerts.alive_url:
        results.append((True, "alerts.alive_url is empty: nobody else notices if airtally itself stops."))
    return results
