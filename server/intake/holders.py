"""Which files hold what check-points were made of, found by how they begin."""

from bisect import bisect_left, insort
from pathlib import Path

from server.intake.check_points import CheckPoint
from server.intake.discovery import LogFile
from server.intake.fingerprints import HEAD_BYTES, digest, first_bytes
from server.intake.looks import START_BYTES, head_of, start_of, surely_other
from server.intake.rungs import CLOSE_BYTES, WIDTH, Ladder


class Holders:
    """The check-points, found by the first bytes that they were read under, and the files that hold them now."""

    def __init__(self) -> None:
        self._rows: dict[int, CheckPoint] = {}
        self._by_head: dict[int, dict[str, list[int]]] = {}
        self._by_rung: dict[bytes, list[int]] = {}
        #: how the holders begin, sorted, with their paths and check-points; None until it is asked for
        self._heads: list[tuple[bytes, str, int]] | None = None
        self._unread: dict[int, str] = {}  # check-points whose holders can't be read now, with their paths
        self.holder: dict[int, LogFile] = {}

    def put(self, row: CheckPoint) -> None:
        """Take a check-point in, in place of what it was before."""
        if (old := self._rows.get(row.id)) is not None:
            self._by_head[old.fingerprint.head_bytes][old.fingerprint.head_hash].remove(row.id)
            if old.fingerprint.rungs:
                self._by_rung[old.fingerprint.rungs[:WIDTH]].remove(row.id)
        self._rows[row.id] = row
        by_hash = self._by_head.setdefault(row.fingerprint.head_bytes, {})
        by_hash.setdefault(row.fingerprint.head_hash, []).append(row.id)
        if row.fingerprint.rungs:
            self._by_rung.setdefault(row.fingerprint.rungs[:WIDTH], []).append(row.id)

    def hold(self, row: CheckPoint, file: LogFile) -> None:
        """Say which file a check-point belongs to."""
        self.holder[row.id] = file
        if self._heads is not None:
            self._note_head(row.id, file)

    def beginning_like(self, file: LogFile) -> list[CheckPoint]:
        """Check-points that begin as the file does, as far as the two have been compared before; the newest first."""
        head = head_of(file.path, file.stamp)
        ids = {
            id_
            for count, rows in self._by_head.items()
            if count <= len(head)
            for id_ in rows.get(digest(head[:count]), [])
        }
        if len(head) >= CLOSE_BYTES:
            ids |= set(self._by_rung.get(Ladder().grow(head[:CLOSE_BYTES]).digests, []))
        return [self._rows[id_] for id_ in sorted(ids, reverse=True)]

    def begun_by(self, file: LogFile) -> str | None:
        """The path of a held file that begins with all of a short one, or may do so where it can't be read now."""
        content = head_of(file.path, file.stamp)
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
            if not surely_other(self._rows[id_], content):
                return path
        return None

    def _note_head(self, id_: int, file: LogFile) -> None:
        """How a held file begins; one that can't be read now is judged by what was kept of it."""
        assert self._heads is not None
        self._unread.pop(id_, None)
        try:
            insort(self._heads, (start_of(file.path, file.stamp), str(file.path), id_))
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
            return not surely_other(self._rows[id_], content)
