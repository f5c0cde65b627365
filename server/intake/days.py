"""On which day a file's lines begin whose stamps have no date: counted back from its end, before its lines are read."""

from contextlib import suppress
from dataclasses import replace

from parsers.engine import DialectReader
from parsers.reading import Carry
from parsers.timeofday import latest_day
from server.intake.batches import split_lines
from server.intake.blocks import blocks
from server.intake.discovery import LogFile
from server.intake.unpacking import DAMAGE, Stream, open_log
from shared.zones import DAY


def with_first_day(
    carry: Carry,
    reader: DialectReader,
    file: LogFile,
    offset: int,
    now_us: int,
    *,
    skipping: bool,
    ended: bool,
    block_bytes: int,
    most: int,
) -> Carry:
    """What is handed to the first block after `offset`, with the day of its first stamp; a file is looked through as
    far as `most` bytes. Raises OSError; FileNotFoundError also where another file lies there by now.
    """
    day = file.mtime_ns // 1000 // DAY
    passed = Carry(header=carry.header, first_day=day)
    with open_log(file.path) as stream:
        status = file.path.stat()
        if (status.st_dev, status.st_ino) != (file.device, file.inode):
            raise FileNotFoundError(f"{file.path} was moved")
        with suppress(*DAMAGE):  # what comes before the damage is read, and counts
            _pass_over(stream, offset, file.packed)
            for block in blocks(stream, offset, block_bytes, skipping=skipping, ended=ended):
                passed = reader.read(split_lines(block.data), passed, 0).carry
                if block.offset > most:
                    break
    if passed.last_wall is None:
        return carry
    ends = min(file.path.stat().st_mtime_ns // 1000, now_us)
    last = latest_day(passed.last_wall % DAY, reader.zone, ends)
    return replace(carry, first_day=day + last - passed.last_wall // DAY, last_wall=None)


def _pass_over(stream: Stream, offset: int, packed: bool) -> None:
    if not packed:
        stream.seek(offset)
        return
    while offset and (passed := len(stream.read(min(offset, 1 << 20)))):
        offset -= passed
