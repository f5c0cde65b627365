"""What speaks for and against each meaning that a place can have: rows of a weight, a test and a reason in words, and
the one scorer.

Nothing decides alone. The weights were set on hosts of tests/adopt/grammar that are not kept apart.
"""

from dataclasses import dataclass

from parsers.adopt import trade
from parsers.adopt.naming import number, percent_of
from parsers.adopt.places import repeats, rises
from parsers.adopt.pooling import is_station
from parsers.adopt.signs import (
    Facts,
    Test,
    all_slots,
    always,
    by,
    called,
    decimal,
    distinct,
    everywhere,
    few_stations,
    fills_gaps,
    has_slot,
    longest,
    measured,
    nameless,
    negative,
    no_slots,
    numbered,
    once,
    one_mode,
    parts,
    percent,
    plain_word,
    said_by,
    share,
    small,
    spelt_length,
    told_by_another,
    twice,
    unit,
)
from shared.units import duration_seconds


@dataclass(frozen=True)
class Evidence:
    """One row: what `test` (0 to 1) weighs for `role`."""

    role: str
    weight: float
    test: Test
    why: str


TIME = r"^\W{0,2}(?:s|secs?|seconds?|ms|millis\w*|milliseconds?|msec|mins?|minutes?|frames?)\b"
FIRST = (
    Evidence("station", 5.0, share(is_station), "its values are call signs or ids"),
    Evidence("station", 1.2, called("station"), "the word before it says so"),
    Evidence("station", 0.8, distinct(8, 10**9), "it has many values"),
    Evidence("station", 0.4, always, "each of its lines has one"),
    Evidence("station", 1.0, everywhere, "nearly every line of traffic has it"),
    Evidence("station", -1.0, called("target"), "the word before it is of a target"),
    Evidence("station", -3.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("station", -2.0, distinct(0, 2), "it has one value or two"),
    Evidence(
        "duration", 2.0, share(lambda value: duration_seconds(value) is not None), "its values are lengths of time"
    ),
    Evidence("duration", 1.5, share(spelt_length), "its values have a unit of time"),
    Evidence("duration", 1.8, unit(TIME), "a unit of time follows it"),
    Evidence("duration", 1.2, called("duration"), "the word before it says so"),
    Evidence("duration", 0.5, everywhere, "many lines of traffic have it"),
    Evidence("duration", 0.6, share(decimal), "its values have decimals"),
    Evidence("duration", 2.0, fills_gaps, "as lengths they fill the time between lines, and overlap nothing"),
    Evidence("duration", -4.0, all_slots, "its values are slots"),
    Evidence("duration", -3.0, distinct(0, 6), "it has few values"),
    Evidence("duration", -2.5, share(is_station), "its values are ids"),
    Evidence("duration", -2.5, lambda facts: float(rises(facts.place) > 0.9), "it only rises"),
    Evidence("duration", -2.5, twice, "its values come twice each"),
    Evidence("duration", -3.0, share(lambda value: "%" in value), "its values are per cent"),
    Evidence("duration", -3.0, lambda facts: float(percent_of(facts.place.pooled) is not None), "per cent follows it"),
    Evidence("rssi_dbm", 2.2, share(negative), "its values are levels such as receivers have"),
    Evidence("rssi_dbm", 1.0, called("rssi_dbm"), "the word before it says so"),
    Evidence("rssi_dbm", 1.0, share(lambda value: "dbm" in value.lower()), "its values are in dBm"),
    Evidence("rssi_dbm", 1.0, unit(r"^\s?dBm?\b"), "dBm follows it"),
    Evidence("ber_pct", 2.2, called("ber_pct"), "the word before it says so"),
    Evidence("ber_pct", 2.0, percent("ber_pct"), "it is a share of bits"),
    Evidence("ber_pct", 0.6, share(small), "its values lie between 0 and 100"),
    Evidence("ber_pct", -4.0, share(lambda value: not small(value)), "its values don't lie between 0 and 100"),
    Evidence("loss_pct", 2.3, called("loss_pct"), "the word before it says so"),
    Evidence("loss_pct", 2.0, percent("loss_pct"), "it is a share of frames"),
    Evidence("loss_pct", 0.6, share(small), "its values lie between 0 and 100"),
    Evidence("loss_pct", -4.0, share(lambda value: not small(value)), "its values don't lie between 0 and 100"),
    Evidence(
        "session",
        1.5,
        said_by(r"session|sess|sid|no|nr|number|seq|id|uid|key|handle|stream|tx|num"),
        "the word before it says so",
    ),
    Evidence("session", 2.5, twice, "its values come twice each"),
    Evidence("session", 1.0, lambda facts: float(rises(facts.place) > 0.9), "it only rises"),
    Evidence("session", 0.7, once, "most of its values stand once"),
    Evidence("session", -4.0, share(decimal), "its values have decimals"),
    Evidence("session", -4.0, share(trade.is_callsign), "its values are call signs"),
    Evidence("session", -4.0, distinct(0, 6), "it has few values"),
)
SECOND = (
    Evidence("mode", 5.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("mode", 1.2, called("mode"), "the word before it says so"),
    Evidence("mode", 1.0, distinct(2, 20), "it has a few values"),
    Evidence("mode", 0.6, share(plain_word), "its values are words"),
    Evidence("mode", 1.2, everywhere, "nearly every line of traffic has it"),
    Evidence("mode", -6.0, share(is_station), "its values are call signs or ids"),
    Evidence("mode", -4.0, share(trade.side_of), "its values are sides"),
    Evidence("mode", -4.0, share(lambda value: decimal(value) or spelt_length(value)), "its values are measured"),
    Evidence("mode", -1.0, share(lambda value: value.lstrip("-").isdigit()), "its values are numbers"),
    Evidence("mode", -2.5, share(trade.cause_of), "its values are ways to end"),
    Evidence("mode", -3.0, distinct(21, 10**9), "it has many values"),
    Evidence("mode", 1.5, by("station"), "a station keeps to it"),
    Evidence("mode", 0.8, told_by_another, "a finer place tells it"),
    Evidence("mode", -4.0, all_slots, "its values are slots"),
    Evidence("mode", 1.2, parts(has_slot), "only some of its values go with a slot"),
    Evidence("mode", 1.2, parts(nameless), "only some of its values go without a station"),
    Evidence("mode", 1.2, parts(numbered), "only some of its values go with numeric ids"),
    Evidence("mode", 0.6, few_stations, "it is no finer than stations"),
)
THIRD = (
    Evidence("slot", 2.5, all_slots, "its values are slots"),
    Evidence("slot", 1.5, called("slot"), "the word before it says so"),
    Evidence(
        "slot", 1.5, share(lambda value: not value.isdigit() and trade.slot_of(value)), "its values are spelt as slots"
    ),
    Evidence("slot", 1.5, one_mode, "only one mode has it"),
    Evidence("slot", -5.0, no_slots, "its values are no slots"),
    Evidence("side", 4.0, share(trade.side_of), "its values are words for air or link"),
    Evidence("side", 1.2, called("side"), "the word before it says so"),
    Evidence("side", 1.5, distinct(2, 2), "it has two values"),
    Evidence(
        "side",
        0.6,
        share(lambda value: trade.SHORT_SIDES.get(value.lower())),
        "its values are letters that sides have",
    ),
    Evidence("side", 1.0, measured, "a signal level goes with one of its values"),
    Evidence("side", 0.6, always, "each of its lines has one"),
    Evidence("side", 0.8, everywhere, "nearly every line of traffic has it"),
    Evidence("side", -4.0, share(lambda value: number(value) is not None), "its values are numbers"),
    Evidence("side", -5.0, share(is_station), "its values are call signs or ids"),
    Evidence("side", -5.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("side", -2.5, by("mode"), "the mode tells it"),
    Evidence("side", -2.0, share(trade.cause_of), "its values are ways to end"),
    Evidence("side", -4.0, distinct(5, 10**9), "it has many values"),
    Evidence("side", -3.0, distinct(0, 1), "it has one value"),
    Evidence("target", 1.6, called("target"), "the word before it says so"),
    Evidence("target", 1.6, by("mode"), "it goes with the mode"),
    Evidence("target", 0.8, lambda facts: repeats(facts.place, facts.talk), "it stays in a conversation"),
    Evidence("target", 0.6, distinct(1, 80), "it has a few values"),
    Evidence("target", 0.4, everywhere, "nearly every line of traffic has it"),
    Evidence("target", -5.0, share(trade.is_callsign), "its values are call signs"),
    Evidence("target", -4.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("target", -4.0, share(trade.side_of), "its values are sides"),
    Evidence("target", -1.5, share(trade.cause_of), "its values are ways to end"),
    Evidence(
        "target",
        -3.0,
        share(lambda value: decimal(value) or negative(value) or "%" in value),
        "its values are measured",
    ),
    Evidence("target", -3.0, once, "most of its values stand once"),
    Evidence("target", -3.0, twice, "its values come twice each"),
    Evidence("target", -3.0, all_slots, "its values are slots"),
    Evidence("target", -1.0, distinct(81, 10**9), "it has many values"),
)
ENDS = (
    Evidence("cause", 3.0, share(trade.cause_of), "its values are ways to end"),
    Evidence("cause", 1.5, called("cause"), "the word before it says so"),
    Evidence("cause", 0.8, distinct(2, 8), "it has a few values"),
    Evidence("cause", 0.6, share(plain_word), "its values are words"),
    Evidence("cause", 1.5, longest, "one of its values goes with the longest overs"),
    Evidence("cause", -4.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("cause", -4.0, share(trade.side_of), "its values are sides"),
    Evidence("cause", -4.0, share(is_station), "its values are call signs or ids"),
    Evidence(
        "cause",
        -3.0,
        share(lambda value: number(value) is not None and not trade.nobody(value)),
        "its values are numbers",
    ),
    Evidence("cause", -3.0, by("mode"), "it goes with the mode"),
    Evidence("cause", -3.0, distinct(13, 10**9), "it has many values"),
    Evidence("reason", 3.0, share(trade.reason_of), "its values are reasons to refuse"),
    Evidence("reason", 1.5, called("reason"), "the word before it says so"),
    Evidence("reason", 1.0, called("cause"), "the word before it is of a cause"),
    Evidence("reason", 0.8, distinct(1, 8), "it has a few values"),
    Evidence("reason", 0.6, share(plain_word), "its values are words"),
    Evidence("reason", -4.0, share(trade.mode_of), "its values are names of modes"),
    Evidence("reason", -4.0, share(trade.side_of), "its values are sides"),
    Evidence("reason", -4.0, share(is_station), "its values are call signs or ids"),
    Evidence("reason", -3.0, share(lambda value: number(value) is not None), "its values are numbers"),
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
