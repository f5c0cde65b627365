"""A window against those before it (docs/definitions.md, Comparison)."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

CHANNEL = ""  #: the key of the whole channel beside the modes, as in the tallies
SEEN_ENOUGH = 0.5  #: windows of which less was seen are left out
RECENT = 4
RECORD = 13
LEAST_RECORD = 6
LEAST_USUAL = 3  #: windows seen, of the four before, that it takes to call anything usual
MAD_TO_SD = 1.4826  #: of a normal distribution
NOTABLE = 2.5


@dataclass(frozen=True)
class Past:
    """One figure in one window: its value (None: not known) and the share of the window that was seen."""

    value: float | None
    seen: float

    @property
    def counts(self) -> bool:
        """Whether the window is compared at all."""
        return self.value is not None and self.seen >= SEEN_ENOUGH


@dataclass(frozen=True)
class Change:
    """What is said of a figure; None where nothing can be."""

    since_last: float | None  #: value less that of the window just before
    since_usual: float | None  #: value less the median of the four before
    usual: float | None  #: that median
    notable: bool | None


@dataclass(frozen=True)
class Beside:
    """One figure beside what it usually is."""

    now: float
    usual: float | None = None  #: median of the four windows before; None where it can't be compared
    last: float | None = None  #: the window just before; None likewise
    notable: bool | None = None  #: None where too few windows were seen to tell

    @property
    def moved_by(self) -> float:
        """How far it is from the usual."""
        return abs(self.now - (self.usual or 0))


def compare(now: Past, before: Sequence[Past]) -> Change:
    """`before` are the windows of the same kind before this one, the nearest first, without gaps.

    A window that is left out (under half seen, or without a value) is not replaced by an older one.
    """
    last = _values(before[:1])
    recent = _values(before[:RECENT])
    usual = median(recent) if len(recent) >= LEAST_USUAL else None
    if not now.counts or now.value is None:
        return Change(None, None, usual, None)
    return Change(
        now.value - last[0] if last else None,
        now.value - usual if usual is not None else None,
        usual,
        is_notable(now.value, _values(before[:RECORD])),
    )


def is_notable(value: float, record: Sequence[float]) -> bool | None:
    """Whether a value lies more than 2.5 x 1.4826 x MAD from the median of the record; None where the record has fewer
    than 6.

    Where more than half of the record is one value, the MAD is 0 and every other value would be notable, even one that
    the record holds. Then only a value outside all of the record is."""
    if len(record) < LEAST_RECORD:
        return None
    middle = median(record)
    mad = median(abs(past - middle) for past in record)
    if mad == 0:
        return not min(record) <= value <= max(record)
    return abs(value - middle) > NOTABLE * MAD_TO_SD * mad


def _values(windows: Sequence[Past]) -> list[float]:
    return [past.value for past in windows if past.counts and past.value is not None]
