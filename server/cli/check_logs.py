"""What `airtally check` says of the logs that the station file names."""

import os
from contextlib import closing
from pathlib import Path

from server.cli.check_result import Check, comes_next, good, to_mend
from server.config import Journal, Log, Station
from server.intake.discovery import LogFile, discover
from shared.errors import AirtallyError
from shared.numbers import grouped


def check_logs(station: Station) -> list[Check]:
    """The logs, and the hold without which what they tell of refusals is lost."""
    if not station.log:
        return [to_mend("No [[log]] is named: add one with its path and dialect.")]
    checks = [check for log in station.log for check in _check_log(log, station.folder)]
    if not any(station.timers.hold_s.values()):
        checks.append(
            to_mend(
                "timers.hold_s is 0: set it to how long the repeater stays with a mode after an over; until then, "
                "refusals logged without a "
                "reason can't be counted as shut-outs."
            )
        )
    return checks


def _check_log(log: Log, folder: Path) -> list[Check]:
    checks = _check_dialect(log, folder)
    journal = log.read_from(folder)
    if journal is not None:
        return [*checks, _check_journal(journal)]
    found, troubles = discover([log.path], folder)
    checks += [to_mend(trouble.says) for trouble in troubles]
    if found:
        return [*checks, _check_files(log, found)]
    if not troubles:
        checks.append(to_mend(f"{log.path}: no such file yet; check the path (it is relative to the station file)."))
    return checks


def _check_dialect(log: Log, folder: Path) -> list[Check]:
    from parsers.dialect import find_dialect
    from parsers.timeofday import SAYS

    try:
        dayless = find_dialect(log.dialect, folder).dayless
    except AirtallyError as error:
        return [to_mend(str(error))]
    return [good(f"{log.place(folder)}: {SAYS}")] if dayless else []


def _check_files(log: Log, found: list[LogFile]) -> Check:
    closed = [file.path for file in found if not os.access(file.path, os.R_OK)]
    if closed:
        return to_mend(f"{closed[0]}: can't be read by this user; add the user to the group that owns the log.")
    size = sum(file.size for file in found)
    if not size:
        return comes_next(
            f"{log.path}: is empty; nothing has been written to it yet. Is it where the host writes its log?"
        )
    files = f"{grouped(len(found))} {'file' if len(found) == 1 else 'files'}"
    return good(f"{log.path}: {files}, {grouped(size)} bytes.")


def _check_journal(journal: Journal) -> Check:
    from server.intake.journal import NO_ENTRY, JournalError, entries

    try:
        with closing(entries(journal, None, 1)) as some:
            there = next((batch for batch in some if batch), None)
    except JournalError as error:
        return to_mend(str(error))
    return good(f"{journal.name}: can be read.") if there else to_mend(f"{journal.name}: {NO_ENTRY}")
