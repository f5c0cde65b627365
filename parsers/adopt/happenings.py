"""What lines of one kind may tell, by their words and by what they hold: rows of a weight, a test and a reason in
words, and the scorer.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from parsers.adopt import trade, vocabulary
from parsers.adopt.model import Shape
from parsers.adopt.trial import Ints
from shared.zones import SECOND

MEASURED = ("duration", "ber_pct", "loss_pct")
EVEN_S, EVEN_SHARE = 0.02, 0.85


@dataclass(frozen=True)
class Kind:
    """Lines with the same fixed words."""

    shapes: Sequence[Shape]
    every_us: Ints  #: instants of all lines of the sample

    @property
    def words(self) -> str:
        return " ".join(self.shapes[0].words)

    @property
    def lines(self) -> int:
        return sum(len(shape.rows) for shape in self.shapes)

    def has(self, *roles: str) -> float:
        """The share of its lines that tell any of some roles."""
        told = sum(
            len(shape.rows) for shape in self.shapes if any(shape.column(role) or role in shape.set for role in roles)
        )
        return told / max(1, self.lines)

    def told_by(self, key: str) -> float:
        """The share of its lines with a value that is spelt as a cause or a reason."""
        test = trade.cause_of if key == "cause" else trade.reason_of
        columns = [
            column for shape in self.shapes for column in shape.columns if column.key in ("_", "cause", "reason")
        ]
        shares = [
            sum(n for value, n in one.filled() if test(value)) / self.lines for one in columns if len(one.counts) <= 12
        ]
        return max(shares, default=0.0)

    def mentions(self, expression: str) -> int:
        return trade.says(expression, self.words)

    def rare(self) -> float:
        return float(self.lines <= max(4, 0.005 * len(self.every_us)))

    def even(self) -> float:
        """Whether its lines come at even intervals."""
        rows = sorted(row for shape in self.shapes for row in shape.rows)
        if len(rows) < 8:
            return 0.0
        steps = np.diff(self.every_us[rows]) / SECOND
        middle = float(np.median(steps))
        return float(middle >= 1 and (np.abs(steps - middle) <= max(1.5, EVEN_S * middle)).mean() > EVEN_SHARE)

    def paging(self) -> float:
        """Whether it names the paging mode and no other."""
        modes = [shape.set.get("mode") for shape in self.shapes if "mode" in shape.set]
        spelt = [value for shape in self.shapes if (column := shape.column("mode")) for value in column.counts if value]
        modes += [(trade.mode_of(value) or {}).get("mode") for value in spelt]
        return float(bool(modes) and set(modes) == {"pocsag"})


def _more(first: str, second: str) -> Callable[[Kind], float]:
    """How far words of one sort outnumber those of another, -1 to 1."""

    def test(kind: Kind) -> float:
        mine, theirs = kind.mentions(first), kind.mentions(second)
        return (mine - theirs) / (mine + theirs) if mine + theirs else 0.0

    return test


def _says(expression: str) -> Callable[[Kind], float]:
    return lambda kind: float(kind.mentions(expression) > 0)


def _lacks(*roles: str) -> Callable[[Kind], float]:
    return lambda kind: 1 - kind.has(*roles)


def _has(*roles: str) -> Callable[[Kind], float]:
    return lambda kind: kind.has(*roles)


def _empty(kind: Kind) -> float:
    return float(not any(shape.columns for shape in kind.shapes))


#: (event, weight, test, why)
EVIDENCE: tuple[tuple[str, float, Callable[[Kind], float], str], ...] = (
    ("over-start", 1.0, _more(vocabulary.START, vocabulary.END), "its words are of a beginning"),
    ("over-start", -1.0, _has("duration"), "it tells a length"),
    ("over-start", -1.5, _says(vocabulary.REFUSED), "its words refuse"),
    ("over-end", 1.0, _more(vocabulary.END, vocabulary.START), "its words are of an end"),
    ("over-end", 0.5, _has(*MEASURED), "it tells what was measured"),
    ("over-end", 0.4, lambda kind: kind.told_by("cause"), "it tells how something ended"),
    ("over-end", -1.5, _says(vocabulary.REFUSED), "its words refuse"),
    ("over", 0.4, _has("duration"), "it tells a length"),
    ("over", -2.0, _lacks("duration"), "it tells no length"),
    ("over", 0.3, _more(vocabulary.END, vocabulary.START), "its words are of an end"),
    ("over", -1.5, _says(vocabulary.REFUSED), "its words refuse"),
    ("refused", 1.5, _says(vocabulary.REFUSED), "its words refuse"),
    ("refused", 0.5, lambda kind: kind.told_by("reason"), "it tells why"),
    ("refused", 0.5, lambda kind: float(trade.reason_of(kind.words) is not None), "its words are a reason"),
    ("refused", -2.5, _has(*MEASURED), "it tells what was measured"),
    (
        "refused",
        -0.6,
        lambda kind: float(kind.mentions(vocabulary.START) + kind.mentions(vocabulary.END) > 0),
        "its words are of an over",
    ),
    ("refused", -1.0, _lacks("mode", "station"), "it names neither mode nor station"),
    ("link-up", 1.5, _says(vocabulary.LINK_WORDS), "its words are of a link"),
    ("link-up", 1.5, _more(vocabulary.UP_WORDS, vocabulary.DOWN_WORDS), "something is up"),
    ("link-down", 1.5, _says(vocabulary.LINK_WORDS), "its words are of a link"),
    ("link-down", 1.5, _more(vocabulary.DOWN_WORDS, vocabulary.UP_WORDS), "something is down"),
    ("link-up", -4.0, _has("station", "slot", *MEASURED), "it tells of somebody's over"),
    ("link-down", -4.0, _has("station", "slot", *MEASURED), "it tells of somebody's over"),
    ("link-up", -1.5, lambda kind: kind.even(), "it comes at even intervals"),
    ("link-down", -1.5, lambda kind: kind.even(), "it comes at even intervals"),
    ("page", 3.0, lambda kind: kind.paging(), "its mode is paging"),
    ("page", 2.0, _says(vocabulary.PAGE), "its words are of paging"),
    (
        "page",
        -3.0,
        lambda kind: kind.has("station", "mode") * (1 - kind.paging()),
        "it names a station or another mode",
    ),
    ("carrier-up", 1.5, _says(vocabulary.CARRIER), "its words are of an undecoded signal"),
    (
        "carrier-up",
        1.0,
        _more(f"{vocabulary.START}|{vocabulary.UP_WORDS}", f"{vocabulary.END}|{vocabulary.DOWN_WORDS}"),
        "something begins",
    ),
    ("carrier-down", 1.5, _says(vocabulary.CARRIER), "its words are of an undecoded signal"),
    (
        "carrier-down",
        1.0,
        _more(f"{vocabulary.END}|{vocabulary.DOWN_WORDS}", f"{vocabulary.START}|{vocabulary.UP_WORDS}"),
        "something ends",
    ),
    ("carrier-up", -4.0, _has("station", "mode", "duration"), "it names a station or a mode"),
    ("carrier-down", -4.0, _has("station", "mode", "duration"), "it names a station or a mode"),
    ("host-start", 1.2, _says(vocabulary.HOST), "its words are of the host"),
    ("host-start", 1.0, _more(vocabulary.HOST_UP, vocabulary.HOST_DOWN), "something starts"),
    ("host-start", 0.6, lambda kind: kind.rare(), "it is rare"),
    ("host-stop", 1.2, _says(vocabulary.HOST), "its words are of the host"),
    ("host-stop", 1.0, _more(vocabulary.HOST_DOWN, vocabulary.HOST_UP), "something stops"),
    ("host-stop", 0.6, lambda kind: kind.rare(), "it is rare"),
    ("host-start", -4.0, _has("station", "mode", *MEASURED), "it names a station or a mode"),
    ("host-stop", -4.0, _has("station", "mode", *MEASURED), "it names a station or a mode"),
    ("alive", 1.5, _says(vocabulary.ALIVE), "its words are of being alive"),
    ("alive", 1.0, lambda kind: kind.even(), "it comes at even intervals"),
    ("alive", 0.8, _empty, "nothing in it changes"),
    ("alive", -3.0, _has("station", "mode", *MEASURED), "it names a station or a mode"),
    ("alive", -1.0, lambda kind: float(kind.lines <= 3), "it is rare"),
)
#: what events that are no part of an over must reach
LEAST = {
    "link-up": 2.2,
    "link-down": 2.2,
    "page": 2.0,
    "carrier-up": 2.0,
    "carrier-down": 2.0,
    "host-start": 2.6,
    "host-stop": 2.6,
    "alive": 2.0,
}


def said_of(kind: Kind) -> dict[str, float]:
    """How much speaks for each event."""
    out: dict[str, float] = {}
    for event, weight, test, _ in EVIDENCE:
        out[event] = out.get(event, 0.0) + weight * test(kind)
    return out


def why(kind: Kind, event: str) -> str:
    """What speaks for an event, the strongest first."""
    told = [(weight * test(kind), reason) for one, weight, test, reason in EVIDENCE if one == event]
    return ", ".join(reason for worth, reason in sorted(told, key=lambda one: -one[0]) if worth > 0.05)


def beside_overs(kind: Kind) -> str | None:
    """The event that is no part of an over and reaches what it must; None where none does."""
    said = said_of(kind)
    reached = {event: said[event] - least for event, least in LEAST.items() if said[event] >= least}
    return max(reached, key=lambda event: reached[event]) if reached else None
