"""One line, one event: as far as lines themselves show that a host writes one event over several of them."""

import re
from collections.abc import Sequence

from parsers.adopt.stampfind import find_stamping
from shared.numbers import grouped

LOOKED = 4000  # lines
SHARE, LEAST = 0.1, 5  # of the lines, and how many, that may lack a stamp before it is told
STAMPED = 0.1  # of the lines have a stamp in a log that is stamped at all


def over_several_lines(lines: Sequence[str], around_us: int) -> str | None:
    """A sentence where many lines without a stamp follow lines that have one; None otherwise."""
    some = [line for line in lines[:LOOKED] if line.strip()]
    stamping = find_stamping(some, around_us)
    if stamping is None:
        return None
    spelling = re.compile(stamping.spelling)
    has = [spelling.search(line[:2000]) is not None for line in some]
    first = has.index(True) if True in has else len(has)
    without = [number for number in range(first, len(has)) if not has[number]]
    if sum(has) < STAMPED * len(has) or len(without) < max(LEAST, SHARE * len(has)):
        return None
    return (
        f"Of the first {grouped(len(some))} lines {grouped(len(without))} have no stamp and follow one that has: the "
        "host may write one event over "
        "several lines, and airtally reads one line as one event. Let the host write each event on one "
        "line, or teach the line that tells it."
    )
