"""What the first line to be read of a file is dated from, where stamps lack their day or their year."""

from dataclasses import replace

from parsers.engine import DialectReader
from parsers.reading import Carry, Reader
from server.intake.claims import Claim
from server.intake.context import FAR, Context
from server.intake.days import with_first_day
from server.intake.discovery import LogFile
from server.intake.years import first_instants, follows, just_before

MOST_EXPANSION = 200  #: times the bytes on the disk; logs reach a tenth of that
SMALL_BYTES = 1 << 20  # an unpacked file up to this size is read whatever it took on the disk


def most_bytes(file: LogFile) -> int:
    """How much a log may hold."""
    return max(SMALL_BYTES, MOST_EXPANSION * file.size) if file.packed else file.size


class Dating:
    """Dates files of one station, each log's looked at once for all that were found together."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._first: dict[str, tuple[list[LogFile], dict[LogFile, int]]] = {}

    def carry_into(self, claim: Claim, reader: Reader, carry: Carry, ended: bool) -> tuple[Carry, int]:
        """What is handed to the first block of a file, and an instant near its last line."""
        file, now = claim.file, self._context.now_us()
        if not isinstance(reader, DialectReader):
            return carry, self._near(file, now)
        if reader.dayless:
            offset, skipping = claim.place
            carry = with_first_day(
                carry, reader, file, offset, now, skipping=skipping, ended=ended,
                block_bytes=self._context.block_bytes, most=most_bytes(file),
            )  # fmt: skip
        now = self._near(file, now)
        if claim.check_point is None and reader.may_lack_year:
            first = self._first_instants(file, reader, now).get(file)
            if first is not None and not follows(carry.last_us, first):
                carry = replace(carry, last_us=just_before(first))
        return carry, now

    def _near(self, file: LogFile, now: int) -> int:
        """Now; where no clock was given, the log was read when it was written."""
        if now != FAR:
            return now
        return max((sibling.mtime_ns // 1000 for sibling in self._siblings(file)), default=file.mtime_ns // 1000)

    def _siblings(self, file: LogFile) -> list[LogFile]:
        return [sibling for sibling in self._context.now.files if sibling.log_name == file.log_name]

    def _first_instants(self, file: LogFile, reader: DialectReader, now: int) -> dict[LogFile, int]:
        """When the files of a file's log begin that have stamps without a year."""
        if file not in self._first.get(file.log_name, ([], {}))[0]:
            siblings = self._siblings(file)
            self._first[file.log_name] = siblings, first_instants(siblings, reader, now)
        return self._first[file.log_name][1]
