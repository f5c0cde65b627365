"""The year in which a file begins whose stamps have none: a log is dated from its newest file back, and no line lies
more than a day ahead of now.

What a file system says of times of change has no part in it: copying, unpacking and restoring change them. A few lines
of each file are looked at, from its beginning to its end, and where the month falls back from one to the next a year
has passed."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from parsers.clock import NEW_YEAR_US, OUT_OF_ORDER_US, place_in_leap_year, wall_in_year, year_near
from parsers.engine import DialectReader
from parsers.reading import Carry, Reader
from parsers.stamps import YEARLESS
from server.intake.discovery import LogFile, file_at
from server.intake.fingerprints import first_bytes
from server.intake.unpacking import DAMAGE, open_log
from shared.zones import DAY, SECOND, from_us, to_us

START_BYTES, LOOK_BYTES = 4096, 1024  # of a file's beginning; of each further look
LOOKS = 2048  # into all files of a log together, and LEAST into each
LEAST = 8


@dataclass(frozen=True)
class _Yearless:
    """A yearless stamp of a file."""

    file: LogFile
    place: int  #: microseconds into a leap year


def first_instants(files: Sequence[LogFile], reader: DialectReader, now_us: int) -> dict[LogFile, int]:
    """Of the files of one log, the oldest first: when each one's first stamp was, as near as its year needs. Files
    without yearless stamps are left out. Raises OSError where one can't be read now.
    """
    texts, owners = [], []
    for file in files:
        some = _lines(file, max(LEAST, LOOKS // len(files)))
        texts += some
        owners += [file] * len(some)
    kinds, us = reader.stamps(pl.Series(texts, dtype=pl.String))
    places = place_in_leap_year(us)
    stamps = [_Yearless(owners[at], int(places[at])) for at in np.flatnonzero(kinds == YEARLESS).tolist()]
    if not stamps:
        return {}
    year = year_near(stamps[-1].place, reader.zone, now_us)
    found: dict[LogFile, int] = {}
    after = stamps[-1]
    for stamp in reversed(stamps):
        step = after.place - stamp.place
        if step < -(NEW_YEAR_US if stamp.file is after.file else DAY):
            year -= 1
        elif step > OUT_OF_ORDER_US:
            year += 1
        found[stamp.file] = to_us(from_us(wall_in_year(stamp.place, year)).replace(tzinfo=reader.zone))
        after = stamp
    return found


def carry_into(path: Path, reader: Reader, now_us: int) -> Carry:
    """What the first line of a file that stands alone is dated from: its stamps without a year are dated as those of a
    log are. Raises OSError.
    """
    if not isinstance(reader, DialectReader) or not reader.may_lack_year:
        return Carry()
    first = list(first_instants([file_at(path)], reader, now_us).values())
    return Carry(just_before(first[0])) if first else Carry()


def follows(last_us: int | None, first_us: int) -> bool:
    """Whether a file that begins at one instant goes on from a line written at another one, so that the year can be
    counted on from there.
    """
    return last_us is not None and -DAY < first_us - last_us < NEW_YEAR_US


def _lines(file: LogFile, looks: int) -> list[str]:
    """A few lines of a file, in their order; of a packed one those at its beginning."""
    try:
        data = first_bytes(file.path, START_BYTES)
        further = [] if file.packed else _further(file, looks)
    except FileNotFoundError:
        return []
    lines = data.decode("utf-8", "replace").splitlines()
    whole = lines[:-1] if len(data) == START_BYTES and len(lines) > 1 else lines
    return [*whole[:20], *(line for look in further for line in look)]


def _further(file: LogFile, looks: int) -> list[list[str]]:
    step = max(LOOK_BYTES, file.size // looks)
    places = [*range(step, file.size - LOOK_BYTES, step), max(file.size - LOOK_BYTES, 0)]
    found = []
    with open_log(file.path) as stream:
        for place in places:
            stream.seek(place)
            try:
                parts = stream.read(LOOK_BYTES).decode("utf-8", "replace").split("\n")
            except DAMAGE:
                break
            found.append(parts[1:-1][:2] if place != places[-1] else parts[1:][-3:])
    return found


def just_before(first_us: int) -> int:
    """What stands for the line before a file's first one."""
    return first_us - SECOND
