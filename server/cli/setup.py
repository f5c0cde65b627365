"""Commands for the first day: init, check."""

import os
import re
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from server.cli.adopted_file import learnt_from
from server.cli.common import complete_dialect, complete_zone, load, station_option
from server.cli.prompts import ask
from server.cli.running import private_folder
from server.config import Journal, Station, station_text
from server.intake.files import covers, discover
from server.source import StoreSource, clock
from server.store.engine import Store, open_store, place, reading, soundness, sqlite_file
from server.store.logs import names_of_logs
from server.telling.numbers import exact_duration
from shared.callsigns import ANY_CALL_SIGN
from shared.errors import AirtallyError, DialectError, UnusableError
from shared.numbers import grouped
from shared.text import escaped
from shared.zones import HOUR, SECOND, iso

ROOM_BYTES = 200 << 20  # free disk under which `check` complains


@click.command("init")
@click.option("--callsign", help="Call sign of the repeater.")
@click.option("--name", help="Its place or name.")
@click.option("--zone", shell_complete=complete_zone, help="IANA time zone, such as Europe/London.")
@click.option("--log", "log_path", help="The host's log: a file or a glob.")
@click.option(
    "--dialect", shell_complete=complete_dialect, help="How its lines read: a shipped name, a file, or `activity`."
)
@click.option("--timeout", "timeout_s", type=float, help="Time-out of an over, seconds.")
@click.option("--hold", "hold_s", type=float, help="How long the repeater stays with a mode after an over, seconds.")
@click.option(
    "--quiet-log", "quiet_log_s", type=float, help="The longest that the log is silent while its host works, seconds."
)
@station_option
def init_command(
    callsign: str | None, name: str | None, zone: str | None, log_path: str | None, dialect: str | None,
    timeout_s: float | None, hold_s: float | None, quiet_log_s: float | None, station_path: Path,
) -> None:  # fmt: skip
    """Write a commented station file, by asking, or with options.

    \b
    Example:
      airtally init --callsign QB0BFR --name Brackenfell --zone Europe/London \\
        --log '/var/log/host/*.log' --dialect brackenfell-a --timeout 180 --hold 20
    """
    if station_path.exists():
        raise UnusableError(f"{station_path}: is there already; edit it, or name another with --station.")
    folder = station_path.resolve().parent
    learnt = learnt_dialects(folder)
    callsign = _callsign(callsign) if callsign else ask("Call sign of the repeater", value_proc=_callsign)
    name = name if name is not None else ask("Its place or name", default="", show_default=False)
    zone = zone or ask("Time zone of its days and weeks", default=_zone_here(), value_proc=_known_zone)
    dialect = dialect or ask("Dialect of the host's "
        f"log{_offered(learnt)}", default=learnt[0].name if learnt else "activity",
                             value_proc=partial(_known_dialect, folder=folder))  # fmt: skip
    _known_dialect(dialect, folder)
    logged = next((one.log for one in learnt if one.name == Path(dialect).stem and one.log), "/var/log/host/*.log")
    log_path = log_path or ask("The host's log (file or glob)", default=logged)
    timeout_s = timeout_s or ask("Time-out of an over, seconds", type=float, default=180.0)
    hold_s = hold_s if hold_s is not None else ask("Hold after an over, seconds", type=float, default=20.0)
    if quiet_log_s is None and sys.stdin.isatty():
        quiet_log_s = ask(
            "The longest that the log is silent while its host works, seconds (a longer silence is blind time; Enter "
                "where you don't know)",
            default="", show_default=False, value_proc=_seconds_or_none,
        )  # fmt: skip
    text = station_text(
        callsign=callsign,
        name=name,
        zone=zone,
        log_path=log_path,
        dialect=dialect,
        timeout_s=timeout_s,
        hold_s=hold_s,
        quiet_log_s=quiet_log_s,
    )
    descriptor = os.open(station_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
    try:
        load(station_path)
    except AirtallyError:
        station_path.unlink()
        raise
    if not discover([log_path], folder)[0]:
        click.echo(f"No file is at {log_path} yet; `airtally check` says when there is one.", err=True)
    click.echo(f"Wrote {station_path}. Next: `airtally check`, then `airtally ingest`, then `airtally serve`.")


@dataclass(frozen=True)
class LearntDialect:
    """A dialect file beside the station file, and the log that `adopt` learnt it from, where the file says so."""

    name: str
    log: str | None


def learnt_dialects(folder: Path) -> list[LearntDialect]:
    """The dialect files in a folder, the newest first."""
    from parsers.dialect import load_dialect

    found = []
    for path in sorted(folder.glob("*.toml"), key=lambda one: one.stat().st_mtime_ns, reverse=True):
        try:
            load_dialect(path)
        except DialectError:
            continue
        found.append(LearntDialect(path.stem, learnt_from(path)))
    return found


def _offered(learnt: list[LearntDialect]) -> str:
    others = [one.name for one in learnt[1:]]
    return f" (also here: {', '.join(others)}; `activity` for activity lines)" if others else ""


def _known_dialect(text: str, folder: Path) -> str:
    """A dialect that is there and can be used; otherwise the question is asked again."""
    from parsers.dialect import find_dialect

    try:
        find_dialect(text.strip(), folder)
    except DialectError as error:
        raise click.UsageError(escaped(str(error))) from None
    return text.strip()


def _callsign(text: str) -> str:
    """A call sign that can be one; otherwise the question is asked again."""
    if not all(ANY_CALL_SIGN.fullmatch(part) or part.isalnum() for part in _parts(text)) or not any(
        map(ANY_CALL_SIGN.fullmatch, _parts(text))
    ):
        raise click.UsageError(
            f"{escaped(text.strip())!r} can't be a call sign: letters around a digit were expected, such as QB0BFR"
        )
    return text.strip().upper()


def _parts(text: str) -> list[str]:
    """What stands between the strokes of a call sign, such as QB0BFR/R."""
    return re.split("[/-]", text.strip().upper())


def _seconds_or_none(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 1 <= seconds <= 7 * 86400:
        raise click.UsageError("seconds from 1 to 604800 were expected, such as 900; Enter leaves it unset")
    return seconds


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
        return "UTC" if linked == "Etc/UTC" else ZoneInfo(linked).key
    except (KeyError, ValueError, OSError):
        return "UTC"


@click.command("check")
@station_option
def check_command(station_path: Path) -> None:
    """Say whether config, logs, store, clock and notices are in order, and what to mend. Exit 1 where something is
    not."""
    station = load(station_path)
    results = [*_check_logs(station), *_check_store(station), *_check_web(station), *_check_notices(station)]
    click.echo(f"good     {station.path}: the station file of {station.repeater.callsign} can be used.")
    for found, sentence in results:
        mark = found if isinstance(found, str) else GOOD if found else MEND
        click.echo(f"{mark:8} {sentence}")
    if any(found in (False, MEND) for found, _ in results):
        raise SystemExit(1)


GOOD, NEXT, MEND = "good", "next", "to mend"  #: in order; the step that comes next; wrong
Result = tuple[bool | str, str]  #: True and False are GOOD and MEND


def _check_logs(station: Station) -> list[Result]:
    from parsers.dialect import find_dialect
    from parsers.timeofday import SAYS

    results: list[Result] = []
    if not station.log:
        return [(False, "No [[log]] is named: add one with its path and dialect.")]
    for log in station.log:
        try:
            if find_dialect(log.dialect, station.folder).dayless:
                results.append((True, f"{log.place(station.folder)}: {SAYS}"))
        except AirtallyError as error:
            results.append((False, str(error)))
        journal = log.read_from(station.folder)
        if journal is not None:
            results.append(_check_journal(journal))
            continue
        found, troubles = discover([log.path], station.folder)
        results += [(False, trouble.says) for trouble in troubles]
        closed = [str(file.path) for file in found if not os.access(file.path, os.R_OK)]
        if closed:
            results.append(
                (False, f"{closed[0]}: can't be read by this user; add the user to the group that owns the log.")
            )
        elif found and not any(file.size for file in found):
            results.append(
                (
                    NEXT,
                    f"{log.path}: is empty; nothing has been written to it yet. Is it where the host writes its log?",
                )
            )
        elif found:
            results.append(
                (
                    True,
                    f"{log.path}: {grouped(len(found))} {'file' if len(found) == 1 else 'files'}, "
                    f"{grouped(sum(f.size for f in found))} bytes.",
                )
            )
        elif not troubles:
            results.append(
                (False, f"{log.path}: no such file yet; check the path (it is relative to the station file).")
            )
    if not any(station.timers.hold_s.values()):
        results.append(
            (
                False,
                "timers.hold_s is 0: set it to how long the repeater stays with a mode after an over; until then, "
                "refusals logged without a "
                "reason can't be counted as shut-outs.",
            )
        )
    return results


def _check_journal(journal: Journal) -> Result:
    from server.intake.journal import NO_ENTRY, JournalError, entries

    try:
        with closing(entries(journal, None, 1)) as some:
            there = next((batch for batch in some if batch), None)
    except JournalError as error:
        return False, str(error)
    return (True, f"{journal.name}: can be read.") if there else (False, f"{journal.name}: {NO_ENTRY}")


def _check_store(station: Station) -> list[Result]:
    engine = open_store(station.store_url())
    results: list[Result] = []
    file = sqlite_file(engine)
    if file is not None:
        sound = soundness(engine)
        results.append(
            (
                sound == "ok",
                f"{file}: " + ("the store is sound." if sound == "ok" else f"the store is damaged ({sound})."),
            )
        )
        room = os.statvfs(file.parent)
        free = room.f_bavail * room.f_frsize
        results.append((free > ROOM_BYTES, f"{file.parent}: {grouped(free >> 20)} MB of disk are free."))
    else:
        results.append((True, f"{place(engine)}: the store answers."))
    source = StoreSource(engine, station)
    results += _check_read(source, station)
    results += _check_habit(source, station)
    results += _check_zone(engine, station)
    bounds = source.first_and_last()
    if bounds is None:
        empty = not any(log.lines for log in source.intake())
        return results + ([(NEXT, "The store is empty: `airtally ingest` reads the logs.")] if empty else [])
    late = clock() - bounds[1]
    results.append((True, f"Lines from {iso(bounds[0], station.zone)} to {iso(bounds[1], station.zone)}."))
    if late < -60 * SECOND:
        results.append(
            (
                False,
                f"The last line is stamped {grouped(-late // SECOND)} s ahead of this machine's clock: check both "
                "clocks and the zones.",
            )
        )
    elif late > 24 * HOUR:
        results.append(
            (
                False,
                f"The last line is {grouped(late // HOUR)} hours old: is the host running, is the log's path right?",
            )
        )
    if time.time() < 1_700_000_000:
        results.append((False, "This machine's clock stands before 2023: set it."))
    return results


def _check_zone(engine: Store, station: Station) -> list[Result]:
    """Where stamps jump back an hour as the station's clocks do, and their dialect has another zone."""
    from parsers.dialect import find_dialect
    from parsers.engine import DialectReader
    from server.intake.clock_changes import STEPPED, zone_words
    from server.store.facts import read_fact

    results: list[Result] = []
    with reading(engine) as connection:
        for name in names_of_logs(connection).values():
            step = read_fact(connection, STEPPED + name)
            setting = next((one for one in station.log if covers(station.folder, one.path, name)), None)
            if not step or setting is None:
                continue
            reader = find_dialect(setting.dialect, station.folder)
            says = isinstance(reader, DialectReader) and zone_words([int(step)], reader.zone, station.zone)
            results += [(False, f"{escaped(name)}: {says}")] if says else []
    return results


def _check_habit(source: StoreSource, station: Station) -> list[Result]:
    """What the logs' own habit proposes, where the longest silence is not set."""
    if station.timers.quiet_log_s is not None:
        return []
    results: list[Result] = []
    for name, habit in source.habits():
        longer = f"{grouped(habit.longer)} so far, the longest {exact_duration(habit.longest_s * SECOND)}"
        results.append(
            (
                NEXT,
                f"{escaped(name)}: in {grouped(habit.weeks)} weeks it was silent for more than "
                f"{exact_duration(habit.usual_s * SECOND)} less than once a "
                f"week. timers.quiet_log_s = {habit.proposed_s} would take longer silences for blind time ({longer}).",
            )
        )
    return results


def _check_read(source: StoreSource, station: Station) -> list[Result]:
    """What intake made of the logs."""
    results: list[Result] = []
    for log in source.intake():
        results += [(False, log.again.told)] if log.again else []
        results += [(True, says) for says in log.waiting]
        if log.lines and log.unread / log.lines > 0.01:
            results.append(
                (
                    False,
                    f"{log.name}: {grouped(log.unread)} of {grouped(log.lines)} lines are unread; see the Intake page, "
                    "teach the dialect.",
                )
            )
    for name, lines, last_us in source.stamped_ahead():
        count = f"{grouped(lines)} {'line is' if lines == 1 else 'lines are'}"
        results.append(
            (
                False,
                f"{escaped(name)}: {count} stamped in the future, the last {iso(last_us, station.zone)}: the host's "
                "clock, the dialect's zone or its form "
                "of time is wrong. Mend that, then `airtally ingest --again` reads them again.",
            )
        )
    return results


def _check_web(station: Station) -> list[Result]:
    from server.web.listening import refusal_to_listen
    from server.web.proxies import untrusted
    from server.web.sign.auth import has_password

    refusal = refusal_to_listen(station.web.listen, has_password(private_folder(station)))
    proxies = untrusted(private_folder(station), tuple(station.web.trusted_proxy), time.time())
    return [
        (refusal is None, refusal or f"Pages may be shown on {station.web.listen}."),
        *((False, one) for one in proxies),
    ]


def _check_notices(station: Station) -> list[Result]:
    from server.alerts.channels import channels_of
    from server.store.deliveries import failing

    if not station.alerts.notify:
        silent: Result = (NEXT, "No notices are sent: alerts.notify is empty; airtally can't wake anybody.")
        return [silent, *_check_heartbeat(station)]
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
                f"{grouped(len(waiting))} {'notice has' if len(waiting) == 1 else 'notices have'} not got through, the "
                f"last to {worst.label} after {grouped(worst.tries)} tries: {worst.trouble}",
            )
        )
    return [*results, *_check_heartbeat(station)]


def _check_heartbeat(station: Station) -> list[Result]:
    from server.alerts.service import load_heartbeat

    if not station.alerts.alive_url:
        return [(NEXT, "alerts.alive_url is empty: nobody else notices if airtally itself stops.")]
    with reading(open_store(station.store_url())) as connection:
        trouble = load_heartbeat(connection)
    return [(False, f"alerts.alive_url: the last heartbeat did not get through ({trouble}).")] if trouble else []
