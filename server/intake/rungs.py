"""A file's rungs: digests of its beginning at fixed places, each over the one before it and the bytes since, so that of
two files it can be told how far they begin alike, although one of them is gone.

The places lie close at the start of a file and grow apart by a sixteenth: a banner that many files begin with is told
from the lines after it within a few lines."""

import hashlib
from bisect import bisect_right
from dataclasses import dataclass

CLOSE_BYTES = 256  # between the first rungs
FIRST_BYTES = 256 << 10  #: how much of a file has rungs; a banner is shorter
WIDTH = 8  # bytes of a digest


def _places() -> tuple[int, ...]:
    places = [CLOSE_BYTES]
    while places[-1] < FIRST_BYTES:
        step = max(CLOSE_BYTES, places[-1] // 16 // CLOSE_BYTES * CLOSE_BYTES)
        places.append(min(places[-1] + step, FIRST_BYTES))
    return tuple(places)


PLACES = _places()


@dataclass(frozen=True)
class Ladder:
    """The rungs of what was read of a file, and the bytes behind the last one."""

    digests: bytes = b""
    rest: bytes = b""

    def grow(self, data: bytes) -> "Ladder":
        """The ladder after some more bytes."""
        reached = len(self.digests) // WIDTH
        if reached == len(PLACES):
            return self
        start = PLACES[reached - 1] if reached else 0
        data = self.rest + data[: FIRST_BYTES - start - len(self.rest)]
        digests, at = self.digests, 0
        for place in PLACES[reached : bisect_right(PLACES, start + len(data))]:
            below = digests[-WIDTH:]
            digests += hashlib.blake2b(below + data[at : place - start], digest_size=WIDTH).digest()
            at = place - start
        return Ladder(digests, data[at:])


def alike_bytes(rungs: bytes, other: bytes) -> int:
    """How far two files surely begin alike, by their digests."""
    common = 0
    for place, at in zip(PLACES, range(0, min(len(rungs), len(other)), WIDTH), strict=False):
        if rungs[at : at + WIDTH] != other[at : at + WIDTH]:
            break
        common = place
    return common


def differ(rungs: bytes, other: bytes) -> bool:
    """Whether a rung that both files have is not the same."""
    shared = min(len(rungs), len(other))
    return rungs[:shared] != other[:shared]
