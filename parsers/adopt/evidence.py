"""What speaks for and against each meaning that a place can have: rows of a weight, a test and a reason in words, and
the one scorer.

Nothing decides alone. The weights were set on hosts of tests/adopt/grammar that are not kept apart.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from parsers.adopt import trade
from parsers.adopt.naming import named, number, percent_of
from parsers.adopt.places import Ints, Place, Talk, explained, is_station, repeats, rises
from shared.units import duration_seconds

Floats = npt.NDArray[np.float64]
MOSTLY, LEAST_LINES = 0.9, 4
UNITS = (1.0, 0.001, 0.02, 0.06)  #: seconds in a unit that bare lengths may have
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


@dataclass(frozen=True)
class Evidence:
    """One row: what `test` (0 to 1) weighs for `role`."""

    role: str
    weight: float
    test: Test
    why: str


def _share(test: Callable[[str], object]) -> Test:
    return lambda facts: facts.share(test)


def _called(role: str) -> Test:
    return lambda facts: min(1.0, named(role, facts.place.pooled) / 1.5)


def _distinct(low: int, high: int) -> Test:
    return lambda facts: float(low <= len(facts.place.filled) <= high)


def _said_by(words: str) -> Test:
    expression = re.compile(rf"(?:{words})")
    return lambda facts: float(any(expression.fullmatch(word) for word in facts.place.pooled.left[-1:]))


def _plain_word(value: str) -> bool:
    return value[:1].isalpha() and len(value) <= 24 and not is_station(value) and number(value) is None


def _slot_like(value: str) -> bool:
    return trade.slot_of(value) is not None or value == "0" or trade.nobody(value)


def _all_slots(facts: Facts) -> float:
    return float(facts.share(_slot_like) > 0.99 and facts.share(trade.slot_of) > 0.2)


def _always(facts: Facts) -> float:
    return facts.place.total / max(1, len(facts.place.pooled.values))


def _everywhere(facts: Facts) -> float:
    return facts.place.total / max(1, len(facts.talk.rows))


def _by(role: str) -> Test:
    return lambda facts: explained(facts.place, facts.settled[role]) if role in facts.settled else 0.0


def _once(facts: Facts) -> float:
    return float(len(facts.place.filled) > 0.4 * facts.place.total and facts.place.total > 5)


def _twice(facts: Facts) -> float:
    """Whether values come again a few times and then never more, as the number of an over does."""
    few = sum(count for _, count in facts.place.filled if count == 2)
    return float(few > 0.6 * facts.place.total and max((count for _, count in facts.place.filled), default=0) <= 4)


def _one_mode(facts: Facts) -> float:
    """Whether 1 and 2 are told with one and the same mode only."""
    mode = facts.settled.get("mode")
    if mode is None:
        return 0.0
    told = [code for code, value in enumerate(facts.place.said) if trade.slot_of(value)]
    modes = [mode.codes[facts.place.codes == code] for code in told]
    seen = [code for found in modes for code in found.tolist() if code >= 0]
    return float(bool(seen) and max(map(seen.count, set(seen))) >= 0.98 * len(seen))


def _fills_gaps(facts: Facts) -> float:
    """Whether, read as lengths of overs in some unit, the values leave short pauses where the stamps alone show long
    ones.
    """
    told = {value: duration_seconds(value) for value, _ in facts.place.filled}
    lengths = np.array([told.get(value) or 0.0 for value in facts.place.said] or [0.0])
    at = np.flatnonzero(facts.place.codes >= 0)
    if len(at) < 20 or not lengths.any():
        return 0.0
    when, raw = facts.talk.us[at] / 1e6, lengths[facts.place.codes[at]]
    bare = not _spelt_length(facts.place.filled[0][0])
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


def _longest(facts: Facts) -> float:
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


def _told_by_another(facts: Facts) -> float:
    """Whether a place of more values settles this one's: a target that of its mode."""
    mine = len(facts.place.filled)
    stations = facts.settled.get("station")
    finer = [
        other
        for other in facts.talk.places
        if other is not stations and mine < len(other.filled) <= 200 and other.total > 0.5 * facts.place.total
    ]
    return float(any(explained(facts.place, other) >= 0.9 for other in finer))


def _parts(of: Callable[[Facts], Ints]) -> Test:
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


def _has_slot(facts: Facts) -> Ints:
    """By line: 1 where a place of slots has a value, 0 where not, -1 where there is no such place."""
    for place in facts.talk.places:
        if place is not facts.place and _all_slots(Facts(place, facts.talk, {})) and len(place.said) <= 5:
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


_nameless = _by_station(trade.nobody)
_numbered = _by_station(lambda value: value.isdigit())


def _few_stations(facts: Facts) -> float:
    station = facts.settled.get("station")
    return float(station is not None and 1 < len(facts.place.filled) < 0.3 * len(station.filled))


def _measured(facts: Facts) -> float:
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


def _unit(expression: str) -> Test:
    return lambda facts: float(re.match(expression, facts.place.pooled.right, re.IGNORECASE) is not None)


def _spelt_length(value: str) -> bool:
    return duration_seconds(value) is not None and re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", value) is None


def _decimal(value: str) -> bool:
    return re.search(r"[0-9][.,:][0-9]", value) is not None


def _negative(value: str) -> bool:
    told = number(value)
    return told is not None and -160 <= told <= -20


def _small(value: str) -> bool:
    told = number(value)
    return trade.nobody(value) or (told is not None and 0 <= told <= 100)


def _percent(role: str) -> Test:
    def test(facts: Facts) -> float:
        told = percent_of(facts.place.pooled)
        return float(told == role) + 0.4 * float(told == "" or facts.share(lambda value: "%" in value) > 0.5)

    return test


TIME = r"^\W{0,2}(?:s|secs?|seconds?|ms|millis\w*|milliseconds?|msec|mins?|minutes?|frames?)\b"
FIRST = (
    Evidence("station", 5.0, _share(is_station), "its values are call signs or ids"),
    Evidence("station", 1.2, _called("station"), "the word before it says so"),
    Evidence("station", 0.8, _distinct(8, 10**9), "it has many values"),
    Evidence("station", 0.4, _always, "each of its lines has one"),
    Evidence("station", 1.0, _everywhere, "nearly every line of traffic has it"),
    Evidence("station", -1.0, _called("target"), "the word before it is of a target"),
    Evidence("station", -3.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("station", -2.0, _distinct(0, 2), "it has one value or two"),
    Evidence(
        "duration", 2.0, _share(lambda value: duration_seconds(value) is not None), "its values are lengths of time"
    ),
    Evidence("duration", 1.5, _share(_spelt_length), "its values have a unit of time"),
    Evidence("duration", 1.8, _unit(TIME), "a unit of time follows it"),
    Evidence("duration", 1.2, _called("duration"), "the word before it says so"),
    Evidence("duration", 0.5, _everywhere, "many lines of traffic have it"),
    Evidence("duration", 0.6, _share(_decimal), "its values have decimals"),
    Evidence("duration", 2.0, _fills_gaps, "as lengths they fill the time between lines, and overlap nothing"),
    Evidence("duration", -4.0, _all_slots, "its values are slots"),
    Evidence("duration", -3.0, _distinct(0, 6), "it has few values"),
    Evidence("duration", -2.5, _share(is_station), "its values are ids"),
    Evidence("duration", -2.5, lambda facts: float(rises(facts.place) > 0.9), "it only rises"),
    Evidence("duration", -2.5, _twice, "its values come twice each"),
    Evidence("duration", -3.0, _share(lambda value: "%" in value), "its values are per cent"),
    Evidence("duration", -3.0, lambda facts: float(percent_of(facts.place.pooled) is not None), "per cent follows it"),
    Evidence("rssi_dbm", 2.2, _share(_negative), "its values are levels such as receivers have"),
    Evidence("rssi_dbm", 1.0, _called("rssi_dbm"), "the word before it says so"),
    Evidence("rssi_dbm", 1.0, _share(lambda value: "dbm" in value.lower()), "its values are in dBm"),
    Evidence("rssi_dbm", 1.0, _unit(r"^\s?dBm?\b"), "dBm follows it"),
    Evidence("ber_pct", 2.2, _called("ber_pct"), "the word before it says so"),
    Evidence("ber_pct", 2.0, _percent("ber_pct"), "it is a share of bits"),
    Evidence("ber_pct", 0.6, _share(_small), "its values lie between 0 and 100"),
    Evidence("ber_pct", -4.0, _share(lambda value: not _small(value)), "its values don't lie between 0 and 100"),
    Evidence("loss_pct", 2.3, _called("loss_pct"), "the word before it says so"),
    Evidence("loss_pct", 2.0, _percent("loss_pct"), "it is a share of frames"),
    Evidence("loss_pct", 0.6, _share(_small), "its values lie between 0 and 100"),
    Evidence("loss_pct", -4.0, _share(lambda value: not _small(value)), "its values don't lie between 0 and 100"),
    Evidence(
        "session",
        1.5,
        _said_by(r"session|sess|sid|no|nr|number|seq|id|uid|key|handle|stream|tx|num"),
        "the word before it says so",
    ),
    Evidence("session", 2.5, _twice, "its values come twice each"),
    Evidence("session", 1.0, lambda facts: float(rises(facts.place) > 0.9), "it only rises"),
    Evidence("session", 0.7, _once, "most of its values stand once"),
    Evidence("session", -4.0, _share(_decimal), "its values have decimals"),
    Evidence("session", -4.0, _share(trade.is_callsign), "its values are call signs"),
    Evidence("session", -4.0, _distinct(0, 6), "it has few values"),
)
SECOND = (
    Evidence("mode", 5.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("mode", 1.2, _called("mode"), "the word before it says so"),
    Evidence("mode", 1.0, _distinct(2, 20), "it has a few values"),
    Evidence("mode", 0.6, _share(_plain_word), "its values are words"),
    Evidence("mode", 1.2, _everywhere, "nearly every line of traffic has it"),
    Evidence("mode", -6.0, _share(is_station), "its values are call signs or ids"),
    Evidence("mode", -4.0, _share(trade.side_of), "its values are sides"),
    Evidence("mode", -4.0, _share(lambda value: _decimal(value) or _spelt_length(value)), "its values are measured"),
    Evidence("mode", -1.0, _share(lambda value: value.lstrip("-").isdigit()), "its values are numbers"),
    Evidence("mode", -2.5, _share(trade.cause_of), "its values are ways to end"),
    Evidence("mode", -3.0, _distinct(21, 10**9), "it has many values"),
    Evidence("mode", 1.5, _by("station"), "a station keeps to it"),
    Evidence("mode", 0.8, _told_by_another, "a finer place tells it"),
    Evidence("mode", -4.0, _all_slots, "its values are slots"),
    Evidence("mode", 1.2, _parts(_has_slot), "only some of its values go with a slot"),
    Evidence("mode", 1.2, _parts(_nameless), "only some of its values go without a station"),
    Evidence("mode", 1.2, _parts(_numbered), "only some of its values go with numeric ids"),
    Evidence("mode", 0.6, _few_stations, "it is no finer than stations"),
)
THIRD = (
    Evidence("slot", 2.5, _all_slots, "its values are slots"),
    Evidence("slot", 1.5, _called("slot"), "the word before it says so"),
    Evidence(
        "slot", 1.5, _share(lambda value: not value.isdigit() and trade.slot_of(value)), "its values are spelt as slots"
    ),
    Evidence("slot", 1.5, _one_mode, "only one mode has it"),
    Evidence("slot", -5.0, _share(lambda value: not _slot_like(value)), "its values are no slots"),
    Evidence("side", 4.0, _share(trade.side_of), "its values are words for air or link"),
    Evidence("side", 1.2, _called("side"), "the word before it says so"),
    Evidence("side", 1.5, _distinct(2, 2), "it has two values"),
    Evidence(
        "side",
        0.6,
        _share(lambda value: trade.SHORT_SIDES.get(value.lower())),
        "its values are letters that sides have",
    ),
    Evidence("side", 1.0, _measured, "a signal level goes with one of its values"),
    Evidence("side", 0.6, _always, "each of its lines has one"),
    Evidence("side", 0.8, _everywhere, "nearly every line of traffic has it"),
    Evidence("side", -4.0, _share(lambda value: number(value) is not None), "its values are numbers"),
    Evidence("side", -5.0, _share(is_station), "its values are call signs or ids"),
    Evidence("side", -5.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("side", -2.5, _by("mode"), "the mode tells it"),
    Evidence("side", -2.0, _share(trade.cause_of), "its values are ways to end"),
    Evidence("side", -4.0, _distinct(5, 10**9), "it has many values"),
    Evidence("side", -3.0, _distinct(0, 1), "it has one value"),
    Evidence("target", 1.6, _called("target"), "the word before it says so"),
    Evidence("target", 1.6, _by("mode"), "it goes with the mode"),
    Evidence("target", 0.8, lambda facts: repeats(facts.place, facts.talk), "it stays in a conversation"),
    Evidence("target", 0.6, _distinct(1, 80), "it has a few values"),
    Evidence("target", 0.4, _everywhere, "nearly every line of traffic has it"),
    Evidence("target", -5.0, _share(trade.is_callsign), "its values are call signs"),
    Evidence("target", -4.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("target", -4.0, _share(trade.side_of), "its values are sides"),
    Evidence("target", -1.5, _share(trade.cause_of), "its values are ways to end"),
    Evidence(
        "target",
        -3.0,
        _share(lambda value: _decimal(value) or _negative(value) or "%" in value),
        "its values are measured",
    ),
    Evidence("target", -3.0, _once, "most of its values stand once"),
    Evidence("target", -3.0, _twice, "its values come twice each"),
    Evidence("target", -3.0, _all_slots, "its values are slots"),
    Evidence("target", -1.0, _distinct(81, 10**9), "it has many values"),
)
ENDS = (
    Evidence("cause", 3.0, _share(trade.cause_of), "its values are ways to end"),
    Evidence("cause", 1.5, _called("cause"), "the word before it says so"),
    Evidence("cause", 0.8, _distinct(2, 8), "it has a few values"),
    Evidence("cause", 0.6, _share(_plain_word), "its values are words"),
    Evidence("cause", 1.5, _longest, "one of its values goes with the longest overs"),
    Evidence("cause", -4.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("cause", -4.0, _share(trade.side_of), "its values are sides"),
    Evidence("cause", -4.0, _share(is_station), "its values are call signs or ids"),
    Evidence(
        "cause",
        -3.0,
        _share(lambda value: number(value) is not None and not trade.nobody(value)),
        "its values are numbers",
    ),
    Evidence("cause", -3.0, _by("mode"), "it goes with the mode"),
    Evidence("cause", -3.0, _distinct(13, 10**9), "it has many values"),
    Evidence("reason", 3.0, _share(trade.reason_of), "its values are reasons to refuse"),
    Evidence("reason", 1.5, _called("reason"), "the word before it says so"),
    Evidence("reason", 1.0, _called("cause"), "the word before it is of a cause"),
    Evidence("reason", 0.8, _distinct(1, 8), "it has a few values"),
    Evidence("reason", 0.6, _share(_plain_word), "its values are words"),
    Evidence("reason", -4.0, _share(trade.mode_of), "its values are names of modes"),
    Evidence("reason", -4.0, _share(trade.side_of), "its values are sides"),
    Evidence("reason", -4.0, _share(is_station), "its values are call signs or ids"),
    Evidence("reason", -3.0, _share(lambda value: number(value) is not None), "its values are numbers"),
)
#: what a role must reach
LEAST = {
    "mode": 3.0, "station": 3.0, "duration": 2.9, "rssi_dbm": 2.4, "ber_pct": 2.4, "loss_pct": 2.4, "session": 2.4,
    "slot": 3.0, "side": 2.7, "target": 1.7, "cause": 2.4, "reason": 2.4,
}  # fmt: skip


@dataclass(frozen=True)
class Opinion:
    """How strongly a place is thought to be something."""

    role: str
    score: float
    reasons: tuple[str, ...]  #: what spoke for it and against it, the strongest first


def opinions(facts: Facts, rows: tuple[Evidence, ...]) -> list[Opinion]:
    """Every role that rows of evidence are about, the likeliest first, each by how far it lies above what it must
    reach.
    """
    found: dict[str, list[tuple[float, str]]] = {}
    for row in rows:
        found.setdefault(row.role, []).append((row.weight * row.test(facts), row.why))
    out = []
    for role, weights in found.items():
        told = sorted((one for one in weights if abs(one[0]) >= 0.05), key=lambda one: -abs(one[0]))
        score = sum(weight for weight, _ in weights) - LEAST[role]
        out.append(Opinion(role, score, tuple(f"{weight:+.1f} {why}" for weight, why in told)))
    return sorted(out, key=lambda one: -one.score)
