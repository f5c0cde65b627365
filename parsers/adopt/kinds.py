"""Which of two kinds of line opens overs and which closes them, where no word and no length says so: the traffic itself tells."""

from collections import defaultdict
from collections.abc import Sequence
from itertools import permutations

import numpy as np
import numpy.typing as npt
from shared.zones import SECOND

from parsers.adopt.model import Shape
from parsers.adopt.traffic import key_fields, keys_of

Ints = npt.NDArray[np.int64]
MOST_KINDS = 4
ALIKE = 0.6  #: of two kinds that open and close the rarer has so many lines of the other's
LEAST_MATCHED = 0.7
USUAL_S, SPREAD = 12.0, 1.6  #: overs last so long in the middle (demo traffic; no source)
LONG_S = 900.0  #: hardly an over lasts longer


def open_and_close(voice: Sequence[Shape], us: Ints) -> tuple[list[int], list[int]]:
    """Numbers of the shapes that open overs and of those that close them; both empty where the traffic doesn't tell."""
    kinds: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for number, shape in enumerate(voice):
        kinds[tuple(shape.words)].append(number)
    most = sorted(kinds.values(), key=lambda some: -sum(len(voice[i].rows) for i in some))[:MOST_KINDS]
    fields = key_fields(voice)
    best: tuple[float, list[int], list[int]] = (0.0, [], [])
    for opening, closing in permutations(most, 2):
        many, few = sorted((sum(len(voice[i].rows) for i in some) for some in (opening, closing)), reverse=True)
        if few >= ALIKE * many and few >= 20:
            worth = _worth(_lengths(voice, us, opening, closing, fields), many)
            best = max(best, (worth, opening, closing), key=lambda one: one[0])
    return best[1], best[2]


def _lengths(voice: Sequence[Shape], us: Ints, opening: Sequence[int], closing: Sequence[int], fields: Sequence[str]) -> list[float]:
    """Seconds of the overs that would come out."""
    lines = [
        (row, number in opening, key)
        for number in (*opening, *closing)
        for row, key in zip(voice[number].rows, keys_of(voice[number], fields), strict=True)
    ]
    started: dict[tuple[object, ...], int] = {}
    out = []
    for row, opens, key in sorted(lines):
        if opens:
            started[key] = int(us[row])
        elif key in started:
            out.append((int(us[row]) - started.pop(key)) / SECOND)
    return out


def _worth(lengths: Sequence[float], lines: int) -> float:
    """How far such overs can be: nearly every line has its other half, and they last as overs do."""
    if len(lengths) < LEAST_MATCHED * lines:
        return 0.0
    told = np.array(lengths)
    middle = max(float(np.median(told)), 1e-3)
    return len(lengths) / lines * float(np.exp(-((np.log(middle / USUAL_S) / SPREAD) ** 2) / 2)) * float((told < LONG_S).mean())
