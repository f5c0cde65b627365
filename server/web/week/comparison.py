"""What is usual: a week's sums beside those of the weeks before it (docs/definitions.md, Comparison)."""

from collections.abc import Callable, Sequence

from server.analytics.compare import RECORD, Beside, Past, compare
from server.web.source import Sums, WeekBefore

WEEKS_BACK = RECORD


def beside(now: float, seen: float, weeks: Sequence[WeekBefore], mode: str, of: Callable[[Sums], float]) -> Beside:
    """A sum of one mode (or CHANNEL) in a week of which the share `seen` was seen, beside that of the weeks before,
    newest first.
    """
    before = [Past(of(week.sums.get(mode, Sums())), week.seen) for week in weeks]
    change = compare(Past(now, seen), before)
    if change.since_usual is None:
        return Beside(now)
    last = now - change.since_last if change.since_last is not None else None
    return Beside(now, change.usual, last, change.notable)
