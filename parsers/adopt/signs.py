"""Signs by which the meaning of a place is weighed: each a test of a place among the lines of traffic, 0 to 1 or so."""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from parsers.adopt import trade
from parsers.adopt.naming import named, number, percent_of
from parsers.adopt.places import Ints, Place, Talk, explained
from parsers.adopt.pooling import is_station
from shared.units import duration_seconds

Floats = npt.NDArray[np.float64]


UNITS = (1.0, 0.001, 0.02, 0.06)  #: seconds in a unit that bare lengths may have

MOSTLY, LEAST_LINES = 0.9, 4
ANSWER_S, OVERLAPPING = 6.0, 0.3  #: people answer so soon; so many overs may lie beside others, on another slot


@dataclass
class Facts:
    """What the tests see: a place among the lines of traffic, and the places whose meaning is settled already."""

    place: Place
    talk: Talk
    settled: dict[str, Place]

    def share(self, test: Callable[[str], object]) -> float:
        """Of the filled lines those whose value passes."""
        return sum(count for value, count in self.place.filled if test(value)) / max(1, self.place.total)


Test = Callable[[Facts], float]


def share(test: Callable[[str], object]) -> Test:
    return lambda facts: facts.share(test)


def called(role: str) -> Test:
    return lambda facts: min(1.0, named(role, facts.place.pooled) / 1.5)


def distinct(low: int, high: int) -> Test:
    return lambda facts: float(low <= len(facts.place.filled) <= high)


def said_by(words: str) -> Test:
    expression = re.compile(rf"(?:{words})")
    return lambda facts: float(any(expression.fullmatch(word) for word in facts.place.pooled.left[-1:]))


def plain_word(value: str) -> bool:
    return value[:1].isalpha() and len(value) <= 24 and not is_station(value) and number(value) is None


def slot_like(value: str) -> bool:
    return trade.slot_of(value) is not None or value == "0" or trade.nobody(value)


def no_slots(facts: Facts) -> float:
    """How much of a place is no slot. Where both are spelt out (TS1), one other value may stand for having none."""
    others = {value for value, _ in facts.place.filled if not slot_like(value)}
    spelt = {trade.slot_of(value) for value, _ in facts.place.filled if not value.isdigit()}
    return 0.0 if len(others) <= 1 and {1, 2} <= spelt else facts.share(lambda value: value in others)


def all_slots(facts: Facts) -> float:
    return float(no_slots(facts) < 0.01 and facts.share(trade.slot_of) > 0.2)


def always(facts: Facts) -> float:
    return facts.place.total / max(1, len(facts.place.pooled.values))


def everywhere(facts: Facts) -> float:
    return facts.place.total / max(1, len(facts.talk.rows))


def by(role: str) -> Test:
    return lambda facts: explained(facts.place, facts.settled[role]) if role in facts.settled else 0.0


def once(facts: Facts) -> float:
    return float(len(facts.place.filled) > 0.4 * facts.place.total and facts.place.total > 5)


def twice(facts: Facts) -> float:
    """Whether values come again a few times and then never more, as the number of an over does."""
    few = sum(count for _, count in facts.place.filled if count == 2)
    return float(few > 0.6 * facts.place.total and max((count for _, count in facts.place.filled), default=0) <= 4)


def one_mode(facts: Facts) -> float:
    """Whether 1 and 2 are told with one and the same mode only."""
    mode = facts.settled.get("mode")
    if mode is None:
        return 0.0
    told = [code for code, value in enumerate(facts.place.said) if trade.slot_of(value)]
    modes = [mode.codes[facts.place.codes == code] for code in told]
    seen = [code for found in modes for code in found.tolist() if code >= 0]
    return float(bool(seen) and max(map(seen.count, set(seen))) >= 0.98 * len(seen))


def fills_gaps(facts: Facts) -> float:
    """Whether, read as lengths of overs in some unit, the values leave short pauses where the stamps alone show long
    ones.
    """
    told = {value: duration_seconds(value) for value, _ in facts.place.filled}
    lengths = np.array([told.get(value) or 0.0 for value in facts.place.said] or [0.0])
    at = np.flatnonzero(facts.place.codes >= 0)
    if len(at) < 20 or not lengths.any():
        return 0.0
    when, raw = facts.talk.us[at] / 1e6, lengths[facts.place.codes[at]]
    bare = not spelt_length(facts.place.filled[0][0])
    return max(
        _pauses_filled(when, raw * unit, at_end) for unit in (UNITS if bare else (1.0,)) for at_end in (True, False)
    )


def _pauses_filled(when: Floats, lasts: Floats, at_end: bool) -> float:
    if not 1.0 <= float(np.median(lasts)) <= 90.0:
        return 0.0
    starts = when - lasts if at_end else when
    order = np.argsort(starts, kind="stable")
    pauses = starts[order][1:] - (starts + lasts)[order][:-1]
    answered, before = (float(((some >= -1.1) & (some < ANSWER_S)).mean()) for some in (pauses, np.diff(when)))
    return float((pauses < -1.1).mean() < OVERLAPPING and answered >= before + 0.1)


def longest(facts: Facts) -> float:
    """Whether the overs of one value are far longer than the others, and all as long as one another: those that timed
    out.
    """
    lengths = facts.settled.get("duration")
    if lengths is None:
        return 0.0
    seconds = np.array([duration_seconds(value) or 0.0 for value in lengths.said] or [0.0])
    told = lengths.codes >= 0
    every = np.where(told, seconds[np.maximum(lengths.codes, 0)], np.nan)
    if not told.any():
        return 0.0
    usual = float(np.nanmedian(every))
    for code in range(len(facts.place.said)):
        mine = every[(facts.place.codes == code) & told]
        if (
            len(mine) >= 3
            and float(np.median(mine)) > 4 * usual
            and float(np.percentile(mine, 90)) < 1.1 * float(np.percentile(mine, 10)) + 1
        ):
            return 1.0
    return 0.0


def told_by_another(facts: Facts) -> float:
    """Whether a place of more values settles this one's: a target that of its mode."""
    mine = len(facts.place.filled)
    stations = facts.settled.get("station")
    finer = [
        other
        for other in facts.talk.places
        if other is not stations and mine < len(other.filled) <= 200 and other.total > 0.5 * facts.place.total
    ]
    return float(any(explained(facts.place, other) >= 0.9 for other in finer))


def parts(of: Callable[[Facts], Ints]) -> Test:
    """Whether lines of some values of a place nearly all have a trait, and those of others nearly none."""

    def test(facts: Facts) -> float:
        trait = of(facts)
        known = (facts.place.codes >= 0) & (trait >= 0)
        if not known.any():
            return 0.0
        codes, has = facts.place.codes[known], trait[known]
        counts = np.bincount(codes)
        shares = (np.bincount(codes, weights=has) / np.maximum(counts, 1))[counts >= LEAST_LINES]
        clear = (shares >= MOSTLY) | (shares <= 1 - MOSTLY)
        return float(len(shares) > 1 and clear.all() and shares.max() >= MOSTLY and shares.min() <= 1 - MOSTLY)

    return test


def has_slot(facts: Facts) -> Ints:
    """By line: 1 where a place of slots has a value, 0 where not, -1 where there is no such place."""
    for place in facts.talk.places:
        if place is not facts.place and all_slots(Facts(place, facts.talk, {})) and len(place.said) <= 5:
            told = np.array([trade.slot_of(value) is not None for value in place.said] + [False])
            return told[place.codes].astype(np.int64)
    return np.full(len(facts.talk.rows), -1, dtype=np.int64)


def _by_station(test: Callable[[str], bool]) -> Callable[[Facts], Ints]:
    def of(facts: Facts) -> Ints:
        station = facts.settled.get("station")
        if station is None or station is facts.place:
            return np.full(len(facts.talk.rows), -1, dtype=np.int64)
        table = np.array([int(test(value)) for value in station.said] + [int(test(""))], dtype=np.int64)
        return table[station.codes]

    return of


nameless = _by_station(trade.nobody)


numbered = _by_station(lambda value: value.isdigit())


def few_stations(facts: Facts) -> float:
    station = facts.settled.get("station")
    return float(station is not None and 1 < len(facts.place.filled) < 0.3 * len(station.filled))


def measured(facts: Facts) -> float:
    """Whether lines of one value have a signal level, and those of the other none."""
    level = facts.settled.get("rssi_dbm") or facts.settled.get("ber_pct")
    if level is None or len(facts.place.filled) != 2:
        return 0.0
    shares = [
        float((level.codes[facts.place.codes == code] >= 0).mean())
        for code, value in enumerate(facts.place.said)
        if value
    ]
    return float(abs(shares[0] - shares[1]) > 0.5) if len(shares) == 2 else 0.0


def unit(expression: str) -> Test:
    return lambda facts: float(re.match(expression, facts.place.pooled.right, re.IGNORECASE) is not None)


def spelt_length(value: str) -> bool:
    return duration_seconds(value) is not None and re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", value) is None


def decimal(value: str) -> bool:
    return re.search(r"[0-9][.,:][0-9]", value) is not None


def negative(value: str) -> bool:
    told = number(value)
    return told is not None and -160 <= told <= -20


def small(value: str) -> bool:
    told = number(value)
    return trade.nobody(value) or (told is not None and 0 <= told <= 100)


def percent(role: str) -> Test:
    def test(facts: Facts) -> float:
        told = percent_of(facts.place.pooled)
        return float(told == role) + 0.4 * float(told == "" or facts.share(lambda value: "%" in value) > 0.5)

    return test
