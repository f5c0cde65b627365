"""Fingerprints: files are known by their content."""

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from server.intake.log_names import PACKED
from server.intake.rungs import FIRST_BYTES, Ladder
from server.intake.unpacking import DAMAGE, Stream, open_log, read_full, read_until_damage, unless_damaged

HEAD_BYTES = 4096
TAIL_BYTES = 256


@dataclass(frozen=True)
class Fingerprint:
    """Fingerprint of what was read of a file: its first bytes, and the bytes just before the offset."""

    offset: int
    head_bytes: int
    head_hash: str
    tail_bytes: int
    tail_hash: str
    rungs: bytes = b""  #: server.intake.rungs; none of what an older version read

    def has_head(self, content: bytes) -> bool:
        """Whether a content begins with the first bytes that it was made of."""
        return len(content) >= self.head_bytes and digest(content[: self.head_bytes]) == self.head_hash


@dataclass(frozen=True)
class Beginning:
    """How a file begins and ends up to the place where reading goes on."""

    head: bytes = b""
    tail: bytes = b""
    ladder: Ladder = field(default_factory=Ladder)

    def grow(self, block: bytes, offset: int) -> tuple["Beginning", Fingerprint]:
        """The place after one more block, which ends at `offset`, and the fingerprint of what was read up to there."""
        head = self.head if len(self.head) >= HEAD_BYTES else (self.head + block)[:HEAD_BYTES]
        tail = (self.tail + block)[-TAIL_BYTES:]
        ladder = self.ladder.grow(block)
        return Beginning(head, tail, ladder), Fingerprint(
            offset, len(head), digest(head), len(tail), digest(tail), ladder.digests
        )


def digest(data: bytes) -> str:
    """The hash that a fingerprint holds."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def resume(stream: Stream, known: Fingerprint, packed: bool) -> Beginning | None:
    """Put a freshly opened stream behind what was read under a fingerprint. None where the content is not what was
    read.
    """
    first = read_full(stream, min(FIRST_BYTES, known.offset))
    head, ladder = first[:HEAD_BYTES], Ladder().grow(first)
    if not known.has_head(head) or (known.rungs and known.rungs != ladder.digests):
        return None
    tail = _tail(stream, known, first, packed)
    return Beginning(head, tail, ladder) if len(tail) == known.tail_bytes and digest(tail) == known.tail_hash else None


def _tail(stream: Stream, known: Fingerprint, first: bytes, packed: bool) -> bytes:
    """The bytes just before the offset; the stream stands behind the `first` ones, and then behind these."""
    before = known.offset - known.tail_bytes
    if before < len(first):
        return (first + read_full(stream, known.offset - len(first)))[before : known.offset]
    if packed:
        left = before - len(first)
        while left and (passed := len(stream.read(min(left, 1 << 20)))):
            left -= passed
    else:
        stream.seek(before)
    return read_full(stream, known.tail_bytes)


def matches(path: Path, known: Fingerprint) -> bool:
    """Whether the file begins with what was read under this fingerprint. Raises OSError where it can't be read now."""
    try:
        with open_log(path) as stream:
            return resume(stream, known, path.suffix in PACKED) is not None
    except DAMAGE as error:
        unless_damaged(error)
        return False


def begins_with(path: Path, other: Path) -> bool:
    """Whether all of the file `other`, as far as its packing holds, stands at the beginning of the file at `path`.
    Raises OSError where one can't be read now.
    """
    with open_log(path) as longer, open_log(other) as shorter:
        while True:
            part, trouble = read_until_damage(shorter, 1 << 16)
            if read_until_damage(longer, len(part))[0] != part:
                return False
            if trouble:
                unless_damaged(trouble)
            if len(part) < 1 << 16:
                return True


def reaches(path: Path, offset: int) -> bool:
    """Whether a file holds so many bytes, unpacked, as far as its packing holds. Raises OSError where it can't be read
    now.
    """
    with open_log(path) as stream:
        while offset > 0:
            part, trouble = read_until_damage(stream, min(offset, 1 << 20))
            offset -= len(part)
            if trouble:
                unless_damaged(trouble)
            if trouble or not part:
                break
    return offset <= 0


def first_bytes(path: Path, count: int) -> bytes:
    """A file's first bytes, all of them where it has fewer, or where its packing breaks off. Raises OSError where it
    can't be read now.
    """
    with open_log(path) as stream:
        data, trouble = read_until_damage(stream, count)
    if trouble:
        unless_damaged(trouble)
    return data
