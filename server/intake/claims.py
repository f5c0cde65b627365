"""Which file that is there now holds which content that was read before, whatever it is called by now."""

from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import sqlalchemy as sa

from server.intake.files import HEAD_BYTES, Found, Print, digest, first_bytes, grow_print, matches
from server.store import schema

START_BYTES = 128  # of a file, by which its short copies are looked for


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


def load_known(connection: sa.Connection, id_: int | None = None) -> list[Known]:
    """All check-points, or one of them, the newest first."""
    file, log = schema.file, schema.log
    chosen = sa.select(file, log.c.name.label("log_name")).join(log, file.c.log_id == log.c.id).order_by(file.c.id.desc())
    rows = connection.execute(chosen if id_ is None else chosen.where(file.c.id == id_))
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
    apart: bool = False  #: a newer file of its log was read before it, so that its overs must pair by themselves


class _Shelf:
    """The check-points of one log, found by the first bytes that they were read under, and the files that hold them now."""

    def __init__(self) -> None:
        self._rows: dict[int, Known] = {}
        self._by_head: dict[int, dict[str, list[int]]] = {}
        self._heads: list[tuple[bytes, str]] | None = None  # how the holders begin, sorted, with their paths; None until it is asked for
        self.holder: dict[int, Found] = {}

    def put(self, row: Known) -> None:
        """Take a check-point in, in place of what it was before."""
        if (old := self._rows.get(row.id)) is not None:
            self._by_head[old.print.head_bytes][old.print.head_hash].remove(row.id)
        self._rows[row.id] = row
        self._by_head.setdefault(row.print.head_bytes, {}).setdefault(row.print.head_hash, []).append(row.id)

    def hold(self, row: Known, file: Found) -> None:
        """Say which file a check-point belongs to."""
        self.holder[row.id] = file
        if self._heads is not None:
            insort(self._heads, (_start(file), str(file.path)))

    def beginning_like(self, file: Found) -> list[Known]:
        """Check-points whose first bytes, as many as were taken then, the file has too; the newest first."""
        head = _head(file.path, file.stamp)
        ids = [id_ for count, rows in self._by_head.items() if count <= len(head) for id_ in rows.get(digest(head[:count]), [])]
        return [self._rows[id_] for id_ in sorted(ids, reverse=True)]

    def begins_one(self, file: Found) -> bool:
        """Whether all of a short file is what one that is held begins with."""
        content = _head(file.path, file.stamp)
        if len(content) >= HEAD_BYTES:
            return False
        if self._heads is None:
            self._heads = sorted((_start(held), str(held.path)) for held in self.holder.values())
        place = bisect_left(self._heads, (content[:START_BYTES], ""))
        for start, path in self._heads[place:]:
            if not start.startswith(content[:START_BYTES]):
                return False
            if first_bytes(Path(path), len(content)).startswith(content):
                return True
        return False


class Claims:
    """Gives each file of a station its check-point, file by file, the oldest first: what is read of one tells what its copies hold.

    A file that has not changed since it was read to its end is taken at its word; any other is compared with its fingerprint.
    """

    def __init__(self, found: Sequence[Found], known: Sequence[Known]) -> None:
        self._later_read: set[Found] = set()
        self._look(found, known)
        if all(file in self._held for file in found):
            return
        newest = {}  # of each log, the last file that was read before
        for number, file in enumerate(found):
            claim = self.of(file)
            if claim is not None and claim.known is not None:
                newest[file.log_name] = number
        self._look(found, known)
        self._later_read = {file for number, file in enumerate(found) if newest.get(file.log_name, -1) > number}

    def _look(self, found: Sequence[Found], known: Sequence[Known]) -> None:
        """Know again the files that lie where they were."""
        self._shelves: dict[str, _Shelf] = defaultdict(_Shelf)
        self._held: dict[Found, Known] = {}
        by_place: dict[tuple[int, int], list[Known]] = {}
        for row in known:
            self._shelves[row.log_name].put(row)
            by_place.setdefault((row.device, row.inode), []).append(row)
        for file in found:
            shelf = self._shelves[file.log_name]
            for row in by_place.get((file.device, file.inode), []):
                if row.id in shelf.holder or row.log_name != file.log_name:
                    continue
                if row.stamp == file.stamp or _matches(file, row):
                    self.took(file, row)
                    break

    def took(self, file: Found, row: Known) -> None:
        """The file holds what this check-point says."""
        self._shelves[file.log_name].put(row)
        self._shelves[file.log_name].hold(row, file)
        self._held[file] = row

    def of(self, file: Found) -> Claim | None:
        """The file's claim; None for one whose content was read under another name that is still there."""
        if (row := self._held.get(file)) is not None:
            return Claim(file, row)
        shelf = self._shelves[file.log_name]
        alike = shelf.beginning_like(file)
        same = [row for row in alike if matches(file.path, row.print)]
        mine = next((row for row in same if row.id not in shelf.holder), None)
        if mine is None and (mine := next((row for row in same if _goes_on(file, row, shelf.holder[row.id])), None)):
            del self._held[shelf.holder[mine.id]]
        if mine is not None:
            self.took(file, mine)
            return Claim(file, mine)
        # No two logs share their first 4 KiB by chance; a file of fewer can be compared only with one that is still there.
        alike = [row for row in alike if row.print.head_bytes >= HEAD_BYTES]
        if same or (alike and not file.live) or any(row.id in shelf.holder for row in alike) or shelf.begins_one(file):
            return None  # a copy, or one that is still growing, or was cut short
        if alike:
            older = _put_back(file, alike[0])
            self.took(file, older)
            return Claim(file, older, put_back=True)
        return Claim(file, None, apart=file in self._later_read)


@lru_cache(maxsize=256)
def _head(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    """A file's first 4 KiB. Remembered for as long as the file does not change."""
    return first_bytes(path, HEAD_BYTES)


def _start(file: Found) -> bytes:
    return first_bytes(file.path, START_BYTES)


def _matches(file: Found, row: Known) -> bool:
    """Whether the file begins with what was read as `row`."""
    head = _head(file.path, file.stamp)
    count = row.print.head_bytes
    return len(head) >= count and digest(head[:count]) == row.print.head_hash and matches(file.path, row.print)


def _goes_on(file: Found, row: Known, holder: Found) -> bool:
    """Whether a file that holds what was read from another one, still there, holds more: that one is a copy that was left behind."""
    more, nothing_more = file.size > row.print.offset, holder.packed or holder.size <= row.print.offset
    return more and nothing_more and not file.packed


def _put_back(file: Found, mate: Known) -> Known:
    """The live log was put back to an older state of itself: what it holds now was read, what comes is new."""
    data = file.path.read_bytes()
    offset = data.rfind(b"\n") + 1
    _head, _tail, shorter = grow_print(b"", b"", data[:offset], offset)
    return replace(mate, print=shorter, skipping=False, size=None, mtime_ns=None)
