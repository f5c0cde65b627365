"""Which file that is there now holds which content that was read before, whatever it is called by now."""

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from server.intake.files import HEAD_BYTES, Found, Place, Print, begins_with, digest, first_bytes, matches, reaches
from server.intake.rungs import CLOSE_BYTES, FIRST_BYTES, WIDTH, Ladder, alike_bytes, differ
from server.store.engine import Connection
from server.store.files import check_points
from shared.text import escaped

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
    understood: int | None = None  #: lines of it; None where an older version read it
    own_bytes: int | None = None  #: where the first of them ended

    @property
    def stamp(self) -> tuple[int, int, int | None, int | None]:
        """Found.stamp of the file when it was read to its end."""
        return self.device, self.inode, self.size, self.mtime_ns


def load_known(connection: Connection, id_: int | None = None) -> list[Known]:
    """All check-points, or one of them, the newest first."""
    return [
        Known(
            id=row["id"],
            log_id=row["log_id"],
            log_name=row["log_name"],
            path=row["path"],
            device=row["device"],
            inode=row["inode"],
            print=Print(
                row["offset"],
                row["head_bytes"],
                row["head_hash"],
                row["tail_bytes"],
                row["tail_hash"],
                row["rungs"] or b"",
            ),
            skipping=row["skipping"],
            header=row["header"],
            lines=row["lines"],
            apart=row["apart"],
            size=row["size"],
            mtime_ns=row["mtime_ns"],
            understood=row["understood"],
            own_bytes=row["own_bytes"],
        )
        for row in check_points(connection, id_)
    ]


@dataclass(frozen=True)
class Claim:
    """A file to read on from its check-point, or from the start where nothing is known of it."""

    found: Found
    known: Known | None
    put_back: bool = False  #: the check-point was set back with the file, and is to be kept so
    apart: bool = False  #: a newer file of its log was read before it, so that its overs must pair by themselves


_WAITS = (
    "{}: so far holds nothing that {} does not begin with. Whether it is a copy can't be told yet: it waits, and is "
    "read "
    "when it differs."
)
_WAITS_WITH_MORE = (
    "{}: holds all that was read of {}, and more. Whether it goes on from it can't be told before the last line there "
    "is "
    "whole: it waits, and is read then."
)


class _Shelf:
    """The check-points, found by the first bytes that they were read under, and the files that hold them now."""

    def __init__(self) -> None:
        self._rows: dict[int, Known] = {}
        self._by_head: dict[int, dict[str, list[int]]] = {}
        self._by_rung: dict[bytes, list[int]] = {}
        #: how the holders begin, sorted, with their paths and check-points; None until it is asked for
        self._heads: list[tuple[bytes, str, int]] | None = None
        self._unread: dict[int, str] = {}  # check-points whose holders can't be read now, with their paths
        self.holder: dict[int, Found] = {}

    def put(self, row: Known) -> None:
        """Take a check-point in, in place of what it was before."""
        if (old := self._rows.get(row.id)) is not None:
            self._by_head[old.print.head_bytes][old.print.head_hash].remove(row.id)
            if old.print.rungs:
                self._by_rung[old.print.rungs[:WIDTH]].remove(row.id)
        self._rows[row.id] = row
        self._by_head.setdefault(row.print.head_bytes, {}).setdefault(row.print.head_hash, []).append(row.id)
        if row.print.rungs:
            self._by_rung.setdefault(row.print.rungs[:WIDTH], []).append(row.id)

    def hold(self, row: Known, file: Found) -> None:
        """Say which file a check-point belongs to."""
        self.holder[row.id] = file
        if self._heads is not None:
            self._note_head(row.id, file)

    def beginning_like(self, file: Found) -> list[Known]:
        """Check-points that begin as the file does, as far as the two have been compared before; the newest first."""
        head = _head(file.path, file.stamp)
        ids = {
            id_
            for count, rows in self._by_head.items()
            if count <= len(head)
            for id_ in rows.get(digest(head[:count]), [])
        }
        if len(head) >= CLOSE_BYTES:
            ids |= set(self._by_rung.get(Ladder().grow(head[:CLOSE_BYTES]).digests, []))
        return [self._rows[id_] for id_ in sorted(ids, reverse=True)]

    def begun_by(self, file: Found) -> str | None:
        """The path of a held file that begins with all of a short one, or may do so where it can't be read now."""
        content = _head(file.path, file.stamp)
        if not content or len(content) >= HEAD_BYTES:
            return None
        if self._heads is None:
            self._heads, self._unread = [], {}
            for id_, held in self.holder.items():
                self._note_head(id_, held)
        place = bisect_left(self._heads, (content[:START_BYTES], "", 0))
        for start, path, id_ in self._heads[place:]:
            if not start.startswith(content[:START_BYTES]):
                break
            if self._may_hold(id_, path, content):
                return path
        for id_, path in self._unread.items():
            if not _surely_other(self._rows[id_], content):
                return path
        return None

    def _note_head(self, id_: int, file: Found) -> None:
        """How a held file begins; one that can't be read now is judged by what was kept of it."""
        assert self._heads is not None
        self._unread.pop(id_, None)
        try:
            insort(self._heads, (_start(file.path, file.stamp), str(file.path), id_))
        except FileNotFoundError:
            raise
        except OSError:
            self._unread[id_] = str(file.path)

    def _may_hold(self, id_: int, path: str, content: bytes) -> bool:
        """Whether a held file begins so; where it can't be read now, whether that can't be ruled out."""
        try:
            return first_bytes(Path(path), len(content)).startswith(content)
        except FileNotFoundError:
            raise
        except OSError:  # told of its own log, when that is read
            return not _surely_other(self._rows[id_], content)


def _surely_other(row: Known, content: bytes) -> bool:
    """Whether a file that begins with `content`, and has no more, can't be the beginning of what was read as `row`."""
    count = row.print.head_bytes
    if count <= len(content) and digest(content[:count]) != row.print.head_hash:
        return True
    return differ(row.print.rungs, Ladder().grow(content).digests)


class Claims:
    """Gives each file of a station its check-point, file by file, the oldest first: what is read of one tells what its
    copies hold.

    A file that has not changed since it was read to its end is taken at its word; any other is compared with its
    fingerprint. A file that
    can't be told from one that was read, as it holds only what that one begins with, waits: `waiting` says so.
    """

    def __init__(self, found: Sequence[Found], known: Sequence[Known]) -> None:
        self.failed: dict[str, Exception] = {}  #: logs that could not be looked at, and why
        self._later_read: set[Found] = set()
        self._look(found, known)
        if all(file in self._held for file in found):
            return
        newest = {}  # of each log, the last file that was read before
        for number, file in enumerate(found):
            claim = self._tried(file)
            if claim is not None and claim.known is not None:
                newest[file.log_name] = number
        self._look(found, known)
        self._later_read = {file for number, file in enumerate(found) if newest.get(file.log_name, -1) > number}

    def _tried(self, file: Found) -> Claim | None:
        """The file's claim; what goes wrong is its own log's, and the others are looked at."""
        try:
            return self.of(file)
        except FileNotFoundError:
            raise
        except Exception as error:
            self.failed.setdefault(file.log_name, error)
            return None

    def _look(self, found: Sequence[Found], known: Sequence[Known]) -> None:
        """Know again the files that lie where they were."""
        self._shelf = _Shelf()
        self._held: dict[Found, Known] = {}
        self.waiting: dict[Found, str] = {}
        by_place: dict[tuple[int, int], list[Known]] = {}
        for row in known:
            self._shelf.put(row)
            by_place.setdefault((row.device, row.inode), []).append(row)
        for file in found:
            rows = by_place.get((file.device, file.inode), [])
            for row in sorted(rows, key=lambda row: row.log_name != file.log_name):
                if row.id not in self._shelf.holder and (row.stamp == file.stamp or self._is_still(file, row)):
                    self.took(file, row)
                    break

    def _is_still(self, file: Found, row: Known) -> bool:
        """Whether the file holds what was read where it lies. One that can't be read now is taken to do so: nobody else
        may go on in its stead.
        """
        try:
            return known_again(file, row)
        except FileNotFoundError:
            raise
        except Exception as error:
            self.failed.setdefault(file.log_name, error)
            return True

    def took(self, file: Found, row: Known) -> None:
        """The file holds what this check-point says."""
        self._shelf.put(row)
        self._shelf.hold(row, file)
        self._held[file] = row

    def of(self, file: Found) -> Claim | None:
        """The file's claim; None for one that waits, or whose content was read under another name that is still
        there."""
        self.waiting.pop(file, None)
        if (row := self._held.get(file)) is not None:
            return Claim(file, row)
        near = self._shelf.beginning_like(file)
        alike = [row for row in near if not differ(row.print.rungs, _rungs(file.path, file.stamp))]
        mine, same = self._holding_all(file, alike)
        if mine is not None:
            self.took(file, mine)
            return Claim(file, mine)
        short = [row for row in alike if row not in same and self._may_begin(file, row)]
        older = None if same else _put_back(file, [row for row in near if row.id not in self._shelf.holder], short)
        if older is not None:
            self.took(file, older)
            return Claim(file, older, put_back=True)
        other = self._path(same + short) or self._shelf.begun_by(file)
        if other is not None:
            beyond = any(self._holds_more(file, row) for row in same)
            self.waiting[file] = (_WAITS_WITH_MORE if beyond else _WAITS).format(
                escaped(str(file.path)), escaped(other)
            )
            return None
        return Claim(file, None, apart=file in self._later_read)

    def held_whole_by(self, file: Found) -> list[Known]:
        """All check-points whose content a file holds."""
        near = self._shelf.beginning_like(file)
        return [
            row
            for row in near
            if not differ(row.print.rungs, _rungs(file.path, file.stamp)) and matches(file.path, row.print)
        ]

    def _holding_all(self, file: Found, alike: list[Known]) -> tuple[Known | None, list[Known]]:
        """The check-point that a file goes on from, and all whose content it holds; those of its own log first."""
        same = [row for row in alike if matches(file.path, row.print)]
        ours = [row for row in same if row.log_name == file.log_name]
        others = [row for row in same if row.log_name != file.log_name and row.understood != 0]
        free = next((row for row in ours + others if row.id not in self._shelf.holder), None)
        if free is None and (
            left := next((row for row in ours if _goes_on(file, row, self._shelf.holder[row.id])), None)
        ):
            del self._held[self._shelf.holder[left.id]]
            return left, same
        # Of another log that is still there, one that holds more is a log of its own that started alike.
        return free, ours + [row for row in others if not _goes_on(file, row, self._shelf.holder.get(row.id, file))]

    def _may_begin(self, file: Found, row: Known) -> bool:
        """Whether a file holds nothing, as far as can be told, that was not read under a check-point."""
        offset = row.print.offset
        if _reaches(file.path, file.stamp, offset) if file.packed else file.size >= offset:
            return False
        if (holder := self._shelf.holder.get(row.id)) is not None:
            return self._begun_with(holder, row, file)
        head = _head(file.path, file.stamp)
        count = row.print.head_bytes
        return row.log_name == file.log_name and len(head) >= count and digest(head[:count]) == row.print.head_hash

    def _begun_with(self, holder: Found, row: Known, file: Found) -> bool:
        """Whether a held file begins with all of another one. One that can't be read now may do so: its rungs did not
        tell them apart.
        """
        try:
            return _begun_with(holder.path, (holder.device, holder.inode), file.path, file.stamp)
        except FileNotFoundError:
            raise
        except OSError:
            first_bytes(file.path, 1)  # raises where it is the other one that can't be read
            return not _surely_other(row, _head(file.path, file.stamp)[: row.print.head_bytes])

    def _holds_more(self, file: Found, row: Known) -> bool:
        """Whether a file that holds what was read of another one holds more than that one has."""
        holder = self._shelf.holder.get(row.id)
        size = row.print.offset if holder is None or holder.packed else holder.size
        if file.packed:
            return _reaches(file.path, file.stamp, size + 1)
        return file.size > size

    def _path(self, rows: list[Known]) -> str | None:
        """Where what was read under one of these check-points lies, or lay."""
        for row in rows:
            holder = self._shelf.holder.get(row.id)
            return str(holder.path) if holder else f"{row.path}, which was read,"
        return None


@lru_cache(maxsize=256)
def _head(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    """A file's first 4 KiB. Remembered for as long as the file does not change."""
    return first_bytes(path, HEAD_BYTES)


@lru_cache(maxsize=1024)
def _rungs(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    """A file's own rungs."""
    return Ladder().grow(first_bytes(path, FIRST_BYTES)).digests


@lru_cache(maxsize=1024)
def _reaches(path: Path, _stamp: tuple[int, int, int, int], offset: int) -> bool:
    return reaches(path, offset)


@lru_cache(maxsize=1024)
def _begun_with(path: Path, _place: tuple[int, int], other: Path, _stamp: tuple[int, int, int, int]) -> bool:
    """files.begins_with: what a file was seen to begin with it still begins with, for as long as it is known again."""
    return begins_with(path, other)


@lru_cache(maxsize=4096)
def _start(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    return first_bytes(path, START_BYTES)


def known_again(file: Found, row: Known) -> bool:
    """Whether the file begins with what was read as `row`."""
    head = _head(file.path, file.stamp)
    count = row.print.head_bytes
    return len(head) >= count and digest(head[:count]) == row.print.head_hash and matches(file.path, row.print)


def _goes_on(file: Found, row: Known, holder: Found) -> bool:
    """Whether a file that holds what was read from another one, still there, holds more: that one is a copy that was
    left behind."""
    more, nothing_more = file.size > row.print.offset, holder.packed or holder.size <= row.print.offset
    only_a_banner = row.understood == 0 and file.age_key[0] != holder.age_key[0]  # that files of two days begin with
    return more and nothing_more and not file.packed and not only_a_banner


def _put_back(file: Found, lost: list[Known], short: list[Known]) -> Known | None:
    """The check-point of a live log that was put back to an older state of itself: what it holds of that was read, what
    comes is new. None
    where that is not so, or can't be told: lines that were understood say whose a beginning is, a banner does not."""
    for row in lost if file.live else []:
        if row.log_name != file.log_name or Path(row.path).name != file.path.name:
            continue
        alike = alike_bytes(row.print.rungs, _rungs(file.path, file.stamp)) or row.print.head_bytes
        own = row.own_bytes if row.own_bytes is not None else HEAD_BYTES if row.understood is None else None
        if own is None or alike < own:
            continue
        data = file.path.read_bytes()
        offset = data.rfind(b"\n", 0, len(data) if row in short else alike) + 1
        _place, shorter = Place().grow(data[:offset], offset)
        return replace(row, print=shorter, skipping=False, size=None, mtime_ns=None)
    return None
