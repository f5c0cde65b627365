"""The command that writes a station file: init."""

import os
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from server.cli.adopted_file import learnt_from
from server.cli.common import complete_dialect, complete_zone, load, station_option
from server.cli.prompts import ask
from server.config import station_text
from server.intake.discovery import discover
from shared.callsigns import ANY_CALL_SIGN
from shared.errors import AirtallyError, DialectError, UnusableError
from shared.text import escaped

Answer = TypeVar("Answer")


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
    answers = {
        **_ask_whose(callsign, name, zone),
        **_ask_for_log(dialect, log_path, folder),
        **_ask_for_timers(timeout_s, hold_s, quiet_log_s),
    }
    _write(station_path, station_text(**answers))
    if not discover([answers["log_path"]], folder)[0]:
        click.echo(f"No file is at {answers['log_path']} yet; `airtally check` says when there is one.", err=True)
    click.echo(f"Wrote {station_path}. Next: `airtally check`, then `airtally ingest`, then `airtally serve`.")


def _ask_whose(callsign: str | None, name: str | None, zone: str | None) -> dict[str, Any]:
    return {
        "callsign": _callsign(callsign) if callsign else ask("Call sign of the repeater", value_proc=_callsign),
        "name": _or_asked(name, lambda: ask("Its place or name", default="", show_default=False)),
        "zone": zone or ask("Time zone of its days and weeks", default=_zone_here(), value_proc=_known_zone),
    }


def _ask_for_log(dialect: str | None, log_path: str | None, folder: Path) -> dict[str, Any]:
    learnt = learnt_dialects(folder)
    log_path = log_path or _ask_for_path(next((one.log for one in learnt if one.log), "/var/log/host/*.log"), folder)
    dialect = dialect or _ask_for_dialect([one.name for one in learnt], log_path, folder)
    _known_dialect(dialect, folder)
    return {"dialect": dialect, "log_path": log_path}


def _ask_for_path(offered: str, folder: Path) -> str:
    """A path that some file matches; one that none does is asked for again, and kept where it is given once more."""
    path = str(ask("The host's log (file or glob)", default=offered))
    while not discover([path], folder)[0]:
        question = f"No file is at {escaped(path)}. The host's log (Enter keeps it, for a log yet to come)"
        again = str(ask(question, default=path, show_default=False))
        if again == path:
            break
        path = again
    return path


def _ask_for_dialect(learnt: list[str], log_path: str, folder: Path) -> str:
    """A dialect that is there; offered is only one that reads how the log begins."""
    from server.cli.first_lines import reads_first_lines
    from server.source import clock

    now = clock()
    reads = (name for name in (*learnt, "activity") if reads_first_lines(name, log_path, folder, now))
    here = f"here: {', '.join(map(escaped, learnt))}; " if learnt else ""
    return str(
        ask(
            f"Dialect of the host's log ({here}`activity` for activity lines)",
            default=next(reads, None),
            value_proc=partial(_known_dialect, folder=folder),
        )
    )


def _ask_for_timers(timeout_s: float | None, hold_s: float | None, quiet_log_s: float | None) -> dict[str, Any]:
    answers = {
        "timeout_s": timeout_s or ask("Time-out of an over, seconds", type=float, default=180.0),
        "hold_s": _or_asked(hold_s, lambda: ask("Hold after an over, seconds", type=float, default=20.0)),
        "quiet_log_s": quiet_log_s,
    }
    if quiet_log_s is None and sys.stdin.isatty():
        answers["quiet_log_s"] = ask(
            "The longest that the log is silent while its host works, seconds (a longer silence is blind time; Enter "
            "where you don't know)",
            default="",
            show_default=False,
            value_proc=_seconds_or_none,
        )
    return answers


def _or_asked(given: Answer | None, question: Callable[[], Answer]) -> Answer:
    return question() if given is None else given


def _write(station_path: Path, text: str) -> None:
    """A station file for its owner alone; none where it can't be used."""
    descriptor = os.open(station_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
    try:
        load(station_path)
    except AirtallyError:
        station_path.unlink()
        raise


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
