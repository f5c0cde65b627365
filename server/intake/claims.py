"""Which file that is there now holds which content that was read before, whatever it is called by now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import sqlalchemy as sa

from server.intake.files import HEAD_BYTES, Found, Print, first_bytes, grow_print, head_digest, matches
from server.store import schema


@dataclass(frozen=True)
class Known:
    """A check-point: a row of the table `file`, with its log's name."""

    id: int
    log_id: int
    log_name: str
    path: str
    device: int
    inode: int
    print: Print
    skipping: bool
    header: str | None
    lines: int
    apart: bool
    size: int | None
    mtime_ns: int | None

    @property
    def stamp(self) -> tuple[int, int, int | None, int | None]:
        """Found.stamp of the file when it was read to its end."""
        return self.device, self.inode, self.size, self.mtime_ns


def load_known(connection: sa.Connection) -> list[Known]:
    """All check-points, the newest first."""
    file, log = schema.file, schema.log
    rows = connection.execute(sa.select(file, log.c.name.label("log_name")).join(log, file.c.log_id == log.c.id).order_by(file.c.id.desc()))
    return [
        Known(
            id=row.id,
            log_id=row.log_id,
            log_name=row.log_name,
            path=row.path,
            device=row.device,
            inode=row.inode,
            print=Print(row.offset, row.head_bytes, row.head_hash, row.tail_bytes, row.tail_hash),
            skipping=row.skipping,
            header=row.header,
            lines=row.lines,
            apart=row.apart,
            size=row.size,
            mtime_ns=row.mtime_ns,
        )
        for row in rows
    ]


@dataclass(frozen=True)
class Claim:
    """A file to read on from its check-point, or from the start where nothing is known of it."""

    found: Found
    known: Known | None
    put_back: bool = False  #: the check-point was set back with the file, and is to be kept so


def claim(found: Sequence[Found], known: Sequence[Known]) -> list[Claim]:
    """Give each file its check-point. Files whose content was read under another name that is still there are left out.

    A file that has not changed since it was read to its end is taken at its word; any other is compared with its fingerprint.
    """
    by_log: dict[str, list[Known]] = {}
    by_place: dict[tuple[int, int], list[Known]] = {}
    for row in known:
        by_log.setdefault(row.log_name, []).append(row)
        by_place.setdefault((row.device, row.inode), []).append(row)
    holder: dict[int, Found] = {}
    held: dict[Found, Claim] = {}
    for file in found:
        for row in by_place.get((file.device, file.inode), []):
            if row.id in holder or row.log_name != file.log_name:
                continue
            if row.stamp == file.stamp or _matches(file, row):
                holder[row.id], held[file] = file, Claim(file, row)
                break
    for file in found:
        if file in held:
            continue
        mates = by_log.get(file.log_name, [])
        free = [row for row in mates if row.id not in holder]
        mine: Known | None
        if mine := next((row for row in free if _matches(file, row)), None):
            held[file] = Claim(file, mine)
        elif mine := next((row for row in mates if row.id in holder and _goes_on(file, row, holder[row.id])), None):
            del held[holder[mine.id]]
            held[file] = Claim(file, mine)
        elif any(_repeats(file, row, holder.get(row.id)) for row in mates):
            continue
        elif file.live and (mine := next((row for row in free if _alike(file, row)), None)):
            held[file] = Claim(file, _put_back(file, mine), put_back=True)
        else:
            held[file] = Claim(file, None)
        if mine is not None:
            holder[mine.id] = file
    return [held[file] for file in found if file in held]


@lru_cache(maxsize=4096)
def _head_digest(path: Path, _stamp: tuple[int, int, int, int], count: int) -> str | None:
    """Hash of a file's first bytes; None where it has fewer or can't be read. Remembered for as long as the file does not change."""
    return head_digest(path, count)


def _matches(file: Found, row: Known) -> bool:
    """Whether the file begins with what was read as `row`."""
    return _head_digest(file.path, file.stamp, row.print.head_bytes) == row.print.head_hash and matches(file.path, row.print)


def _goes_on(file: Found, row: Known, holder: Found) -> bool:
    """Whether a file holds what was read from another one that is still there, and more: that one is a copy that was left behind."""
    more, nothing_more = file.size > row.print.offset, holder.packed or holder.size <= row.print.offset
    return more and nothing_more and not file.packed and _matches(file, row)


def _alike(file: Found, row: Known) -> bool:
    """Whether the first 4 KiB, which no two logs share by chance, are the same."""
    head = row.print.head_bytes
    return head >= HEAD_BYTES and _head_digest(file.path, file.stamp, head) == row.print.head_hash


def _repeats(file: Found, row: Known, holder: Found | None) -> bool:
    """Whether the file only repeats what was read as `row`: a whole copy, or one that is still growing or was cut short.

    What was read from a file that is still there, its holder, can be compared however short it is.
    """
    if holder is not None and (_matches(file, row) or _begins(holder, file)):
        return True
    return (holder is not None or not file.live) and _alike(file, row)


def _begins(holder: Found, file: Found) -> bool:
    """Whether all of a short file is what the holder begins with."""
    content, head = first_bytes(file.path, HEAD_BYTES), first_bytes(holder.path, HEAD_BYTES)
    return content is not None and head is not None and len(content) < HEAD_BYTES and head.startswith(content)


def _put_back(file: Found, mate: Known) -> Known:
    """The live log was put back to an older state of itself: what it holds now was read, what comes is new."""
    data = file.path.read_bytes()
    offset = data.rfind(b"\n") + 1
    _head, _tail, shorter = grow_print(b"", b"", data[:offset], offset)
    return replace(mate, print=shorter, skipping=False, size=None, mtime_ns=None)
