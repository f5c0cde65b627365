"""What `airtally check` says of the store and of what it holds."""

import os
import time
from pathlib import Path

from server.cli.check_result import Check, comes_next, good, to_mend
from server.config import Station
from server.intake.log_names import covers
from server.source import StoreSource, clock
from server.store.engine import Store, open_store, place, reading, soundness, sqlite_file
from server.store.logs import names_of_logs
from server.telling.numbers import count, exact_duration, plain
from shared.numbers import grouped
from shared.text import escaped
from shared.zones import HOUR, SECOND, iso

ROOM_BYTES = 200 << 20  # free disk under which it complains
MUCH_UNREAD = 0.01
AHEAD_S, LATE_H = 60, 24  # what a last line may be off by
LEAST_CLOCK_S = 1_700_000_000  # in 2023: no clock that is set stands before it


def check_store(station: Station) -> list[Check]:
    """The store, what was read into it, and this machine's clock."""
    engine = open_store(station.store_url())
    source = StoreSource(engine, station)
    checks = [
        *_check_place(engine),
        *_check_read(source, station),
        *_check_habit(source, station),
        *_check_zone(engine, station),
    ]
    bounds = source.first_and_last()
    if bounds is None:
        empty = not any(log.lines for log in source.intake())
        return checks + ([comes_next("The store is empty: `airtally ingest` reads the logs.")] if empty else [])
    checks.append(good(f"Lines from {iso(bounds[0], station.zone)} to {iso(bounds[1], station.zone)}."))
    return [*checks, *_check_clocks(clock() - bounds[1])]


def _check_place(engine: Store) -> list[Check]:
    file = sqlite_file(engine)
    if file is None:
        return [good(f"{place(engine)}: the store answers.")]
    sound = soundness(engine)
    whole = (
        good(f"{file}: the store is sound.") if sound == "ok" else to_mend(f"{file}: the store is damaged ({sound}).")
    )
    return [whole, _check_room(file.parent)]


def _check_room(folder: Path) -> Check:
    room = os.statvfs(folder)
    free = room.f_bavail * room.f_frsize
    says = f"{folder}: {grouped(free >> 20)} MB of disk are free."
    return good(says) if free > ROOM_BYTES else to_mend(says)


def _check_clocks(late_us: int) -> list[Check]:
    """`late_us`: how old the last line is by this machine's clock."""
    checks = []
    if late_us < -AHEAD_S * SECOND:
        checks.append(
            to_mend(
                f"The last line is stamped {exact_duration(-late_us)} ahead of this machine's clock: check both "
                "clocks and the zones."
            )
        )
    elif late_us > LATE_H * HOUR:
        checks.append(
            to_mend(
                f"The last line is {plain(count(late_us // HOUR, 'hour'))} old: is the host running, is the "
                "log's path right?"
            )
        )
    if time.time() < LEAST_CLOCK_S:
        checks.append(to_mend("This machine's clock stands before 2023: set it."))
    return checks


def _check_zone(engine: Store, station: Station) -> list[Check]:
    """Where stamps jump back an hour as the station's clocks do, and their dialect has another zone."""
    from parsers.dialect import find_dialect
    from parsers.engine import DialectReader
    from server.intake.clock_changes import STEPPED, zone_words
    from server.store.facts import read_fact

    checks = []
    with reading(engine) as connection:
        for name in names_of_logs(connection).values():
            step = read_fact(connection, STEPPED + name)
            setting = next((one for one in station.log if covers(station.folder, one.path, name)), None)
            if not step or setting is None:
                continue
            reader = find_dialect(setting.dialect, station.folder)
            says = isinstance(reader, DialectReader) and zone_words([int(step)], reader.zone, station.zone)
            checks += [to_mend(f"{escaped(name)}: {says}")] if says else []
    return checks


def _check_habit(source: StoreSource, station: Station) -> list[Check]:
    """What the logs' own habit proposes, where the longest silence is not set."""
    if station.timers.quiet_log_s is not None:
        return []
    checks = []
    for name, habit in source.habits():
        longer = f"{grouped(habit.longer)} so far, the longest {exact_duration(habit.longest_s * SECOND)}"
        checks.append(
            comes_next(
                f"{escaped(name)}: in {grouped(habit.weeks)} weeks it was silent for more than "
                f"{exact_duration(habit.usual_s * SECOND)} less than once a "
                f"week. timers.quiet_log_s = {habit.proposed_s} would take longer silences for blind time ({longer})."
            )
        )
    return checks


def _check_read(source: StoreSource, station: Station) -> list[Check]:
    """What intake made of the logs."""
    checks = []
    for log in source.intake():
        checks += [to_mend(log.again.sentence)] if log.again else []
        checks += [good(says) for says in log.waiting]
        if log.lines and log.unread / log.lines > MUCH_UNREAD:
            checks.append(
                to_mend(
                    f"{log.name}: {grouped(log.unread)} of {grouped(log.lines)} lines are unread; see the Intake page, "
                    "teach the dialect."
                )
            )
    for name, lines, last_us in source.stamped_ahead():
        count = f"{grouped(lines)} {'line is' if lines == 1 else 'lines are'}"
        checks.append(
            to_mend(
                f"{escaped(name)}: {count} stamped in the future, the last {iso(last_us, station.zone)}: the host's "
                "clock, the dialect's zone or its form "
                "of time is wrong. Mend that, then `airtally ingest --again` reads them again."
            )
        )
    return checks
