"""Which file that is there now holds which content that was read before, whatever it is called by now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from server.intake.check_points import CheckPoint
from server.intake.discovery import LogFile
from server.intake.fingerprints import HEAD_BYTES, Beginning, first_bytes, matches
from server.intake.holders import Holders
from server.intake.log_names import stored_text
from server.intake.looks import file_begins_with, file_reaches, head_of, rungs_of, still_holds, surely_other
from server.intake.rungs import alike_bytes, differ
from shared.text import escaped


@dataclass(frozen=True)
class Claim:
    """A file to read on from its check-point, or from the start where nothing is known of it."""

    file: LogFile
    check_point: CheckPoint | None
    put_back: bool = False  #: the check-point was set back with the file, and is to be kept so
    apart: bool = False  #: a newer file of its log was read before it, so that its overs must pair by themselves

    @property
    def place(self) -> tuple[int, bool]:
        """The offset to read from, and whether that lies inside a line which is passed over."""
        row = self.check_point
        return (row.fingerprint.offset, row.skipping) if row else (0, False)

    @property
    def offset(self) -> int | None:
        return self.check_point.fingerprint.offset if self.check_point else None

    @property
    def stands_apart(self) -> bool:
        return self.check_point.apart if self.check_point else self.apart

    @property
    def is_renamed(self) -> bool:
        return self.check_point is not None and self.check_point.path != stored_text(self.file.path)

    @property
    def has_moved(self) -> bool:
        """Whether the check-point has to be kept anew although nothing was read."""
        row = self.check_point
        return row is not None and (self.put_back or self.is_renamed or row.inode != self.file.inode)


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


class Claims:
    """Gives each file of a station its check-point, file by file, the oldest first: what is read of one tells what its
    copies hold.

    A file that has not changed since it was read to its end is taken at its word; any other is compared with its
    fingerprint. A file that can't be told from one that was read, as it holds only what that one begins with, waits:
    `waiting` says so.
    """

    def __init__(self, files: Sequence[LogFile], known: Sequence[CheckPoint]) -> None:
        self.failed: dict[str, Exception] = {}  #: logs that could not be looked at, and why
        self._later_read: set[LogFile] = set()
        self._look(files, known)
        if all(file in self._held for file in files):
            return
        newest = {}  # of each log, the last file that was read before
        for number, file in enumerate(files):
            claim = self._tried(file)
            if claim is not None and claim.check_point is not None:
                newest[file.log_name] = number
        self._look(files, known)
        self._later_read = {file for number, file in enumerate(files) if newest.get(file.log_name, -1) > number}

    def _tried(self, file: LogFile) -> Claim | None:
        """The file's claim; what goes wrong is its own log's, and the others are looked at."""
        try:
            return self.of(file)
        except FileNotFoundError:
            raise
        except Exception as error:
            self.failed.setdefault(file.log_name, error)
            return None

    def _look(self, files: Sequence[LogFile], known: Sequence[CheckPoint]) -> None:
        """Know again the files that lie where they were."""
        self._holders = Holders()
        self._held: dict[LogFile, CheckPoint] = {}
        self.waiting: dict[LogFile, str] = {}
        by_place: dict[tuple[int, int], list[CheckPoint]] = {}
        for row in known:
            self._holders.put(row)
            by_place.setdefault((row.device, row.inode), []).append(row)
        for file in files:
            rows = by_place.get((file.device, file.inode), [])
            for row in sorted(rows, key=lambda row: row.log_name != file.log_name):
                if row.id not in self._holders.holder and (row.stamp == file.stamp or self._is_still(file, row)):
                    self.took(file, row)
                    break

    def _is_still(self, file: LogFile, row: CheckPoint) -> bool:
        """Whether the file holds what was read where it lies. One that can't be read now is taken to do so: nobody else
        may go on in its stead.
        """
        try:
            return still_holds(file, row)
        except FileNotFoundError:
            raise
        except Exception as error:
            self.failed.setdefault(file.log_name, error)
            return True

    def took(self, file: LogFile, row: CheckPoint) -> None:
        """The file holds what this check-point says."""
        self._holders.put(row)
        self._holders.hold(row, file)
        self._held[file] = row

    def of(self, file: LogFile) -> Claim | None:
        """The file's claim; None for one that waits, or whose content was read under a name that is still there."""
        self.waiting.pop(file, None)
        if (row := self._held.get(file)) is not None:
            return Claim(file, row)
        near = self._holders.beginning_like(file)
        alike = _alike(file, near)
        mine, same = self._holding_all(file, alike)
        if mine is not None:
            self.took(file, mine)
            return Claim(file, mine)
        short = self._begun_by(file, alike, same)
        older = None if same else _put_back(file, list(filter(self._is_free, near)), short)
        if older is not None:
            self.took(file, older)
            return Claim(file, older, put_back=True)
        other = self._path(same + short) or self._holders.begun_by(file)
        if other is None:
            return Claim(file, None, apart=file in self._later_read)
        beyond = any(self._holds_more(file, row) for row in same)
        self.waiting[file] = (_WAITS_WITH_MORE if beyond else _WAITS).format(escaped(str(file.path)), escaped(other))
        return None

    def held_whole_by(self, file: LogFile) -> list[CheckPoint]:
        """All check-points whose content a file holds."""
        return _held_whole(file, _alike(file, self._holders.beginning_like(file)))

    def _is_free(self, row: CheckPoint) -> bool:
        return row.id not in self._holders.holder

    def _holding_all(self, file: LogFile, alike: list[CheckPoint]) -> tuple[CheckPoint | None, list[CheckPoint]]:
        """The check-point that a file goes on from, and all whose content it holds; those of its own log first."""
        same = _held_whole(file, alike)
        ours = [row for row in same if row.log_name == file.log_name]
        others = [row for row in same if row not in ours and row.understood != 0]
        free = next(filter(self._is_free, ours + others), None)
        if free is None and (left := self._left_behind(file, ours)) is not None:
            del self._held[self._holders.holder[left.id]]
            return left, same
        # Of another log that is still there, one that holds more is a log of its own that started alike.
        return free, ours + [row for row in others if not _goes_on(file, row, self._holders.holder.get(row.id, file))]

    def _begun_by(self, file: LogFile, alike: list[CheckPoint], same: list[CheckPoint]) -> list[CheckPoint]:
        """Those of which a file may hold the beginning alone."""
        return [row for row in alike if row not in same and self._may_begin(file, row)]

    def _left_behind(self, file: LogFile, ours: list[CheckPoint]) -> CheckPoint | None:
        """One whose holder is a copy that was left behind."""
        return next((row for row in ours if _goes_on(file, row, self._holders.holder[row.id])), None)

    def _may_begin(self, file: LogFile, row: CheckPoint) -> bool:
        """Whether a file holds nothing, as far as can be told, that was not read under a check-point."""
        offset = row.fingerprint.offset
        if file_reaches(file.path, file.stamp, offset) if file.packed else file.size >= offset:
            return False
        if (holder := self._holders.holder.get(row.id)) is not None:
            return self._may_begin_with(holder, row, file)
        return row.log_name == file.log_name and row.fingerprint.has_head(head_of(file.path, file.stamp))

    def _may_begin_with(self, holder: LogFile, row: CheckPoint, file: LogFile) -> bool:
        """Whether a held file begins with all of another one. One that can't be read now may do so: its rungs did not
        tell them apart.
        """
        try:
            return file_begins_with(holder.path, (holder.device, holder.inode), file.path, file.stamp)
        except FileNotFoundError:
            raise
        except OSError:
            first_bytes(file.path, 1)  # raises where it is the other one that can't be read
            return not surely_other(row, head_of(file.path, file.stamp)[: row.fingerprint.head_bytes])

    def _holds_more(self, file: LogFile, row: CheckPoint) -> bool:
        """Whether a file that holds what was read of another one holds more than that one has."""
        holder = self._holders.holder.get(row.id)
        size = row.fingerprint.offset if holder is None or holder.packed else holder.size
        if file.packed:
            return file_reaches(file.path, file.stamp, size + 1)
        return file.size > size

    def _path(self, rows: list[CheckPoint]) -> str | None:
        """Where what was read under one of these check-points lies, or lay."""
        for row in rows:
            holder = self._holders.holder.get(row.id)
            return str(holder.path) if holder else f"{row.path}, which was read,"
        return None


def _goes_on(file: LogFile, row: CheckPoint, holder: LogFile) -> bool:
    """Whether a file that holds what was read from another one, still there, holds more: that one is a copy that was
    left behind.
    """
    more, nothing_more = file.size > row.fingerprint.offset, holder.packed or holder.size <= row.fingerprint.offset
    only_a_banner = row.understood == 0 and file.age_key[0] != holder.age_key[0]  # that files of two days begin with
    return more and nothing_more and not file.packed and not only_a_banner


def _alike(file: LogFile, rows: list[CheckPoint]) -> list[CheckPoint]:
    """Those whose rungs are the file's, as far as both have some."""
    return [row for row in rows if not differ(row.fingerprint.rungs, rungs_of(file.path, file.stamp))]


def _held_whole(file: LogFile, rows: list[CheckPoint]) -> list[CheckPoint]:
    return [row for row in rows if matches(file.path, row.fingerprint)]


def _put_back(file: LogFile, free: list[CheckPoint], short: list[CheckPoint]) -> CheckPoint | None:
    """The check-point of a live log that was put back to an older state of itself: what it holds of that was read, what
    comes is new. None where that is not so, or can't be told.
    """
    for row in free if file.live else []:
        alike = alike_bytes(row.fingerprint.rungs, rungs_of(file.path, file.stamp)) or row.fingerprint.head_bytes
        if _lies_as(row, file) and _says_whose(row, alike):
            data = file.path.read_bytes()
            offset = data.rfind(b"\n", 0, len(data) if row in short else alike) + 1
            _place, shorter = Beginning().grow(data[:offset], offset)
            return replace(row, fingerprint=shorter, skipping=False, size=None, mtime_ns=None)
    return None


def _lies_as(row: CheckPoint, file: LogFile) -> bool:
    return row.log_name == file.log_name and Path(row.path).name == file.path.name


def _says_whose(row: CheckPoint, alike_bytes: int) -> bool:
    """Whether so many bytes hold a line that was understood: that says whose a beginning is, a banner does not."""
    if row.own_bytes is None:
        return row.understood is None and alike_bytes >= HEAD_BYTES
    return alike_bytes >= row.own_bytes
