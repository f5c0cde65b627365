"""Activity lines, version 1: our own open event line (docs/contract.md). A line that is wrong in any known key is
unread as a whole.
"""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.constants import BLANKS, LONGEST_LINE, NUMBER_KEYS, WORD_KEYS, limits, wrong_value
from parsers.envelopes import BOM
from parsers.jsonlines import decode_plain, refuse_constant
from parsers.line_stamps import bare_at_the_end, stamps_of_lines
from parsers.reading import Carry, Reading
from parsers.stamps import INSTANT, read_stamps
from parsers.time_forms import RFC3339_FORM
from shared.columns import EVENT_SCHEMA
from shared.events import COUNT_KEYS, EVENTS, IGNORED, TEXT_KEYS, TEXT_LIMIT, UNDERSTOOD, UNREAD
from shared.zones import SECOND

TEXTS = ("t", "event", *WORD_KEYS, *TEXT_KEYS)
NUMBERS = ("slot", *NUMBER_KEYS)
WHOLE = ("slot", *COUNT_KEYS)  #: numbers without a fraction
#: a known key with a value of the wrong kind; JSON's true would pass for 1
NO_TEXT = rf'"(?:{"|".join(name for name in TEXTS if name != "session")})"[ \t]*:[ \t]*[^"n \t]'
NO_SESSION = r'"session"[ \t]*:[ \t]*(?:[tf]|-?[0-9]+\.)'  #: text or a whole number: hosts count their sessions
NO_NUMBER = rf'"(?:{"|".join(NUMBERS)})"[ \t]*:[ \t]*[^0-9n \t-]'
#: what a line says, its stamp still as text
COLUMNS = {"line": pl.UInt32(), "t": pl.String()} | {k: v for k, v in EVENT_SCHEMA.items() if k not in ("line", "t")}


STAMP = r'"t"[ \t]*:[ \t]*"([^"\\]{1,40})"'  # of a line that as a whole can't be read


@dataclass(frozen=True)
class MatchedLines:
    """What n lines say by themselves."""

    events: pl.DataFrame
    us: npt.NDArray[np.int64]  #: (n,) their own stamps
    stamped: npt.NDArray[np.bool_]  #: (n,) whether they have one
    verdicts: npt.NDArray[np.uint8]  #: (n,)


@dataclass(frozen=True)
class ActivityReader:
    """Reads activity lines (parsers.reading.Reader)."""

    name: str = "activity"
    meaning: str = "activity UTC 1"  #: the stamps bring their own offsets
    dayless: bool = False

    def read(self, lines: pl.Series, carry: Carry, around_us: int) -> Reading:
        """See parsers.reading.Reader."""
        return self.resolve(self.match(lines), carry, around_us)

    def resolve(self, matched: MatchedLines, carry: Carry, around_us: int) -> Reading:
        """See parsers.reading.Reader."""
        stamps, stamped = stamps_of_lines(matched.us, matched.stamped, carry)
        now = Carry(_last_written(matched.events, carry))
        return Reading(matched.events, stamps, stamped, matched.verdicts, now, bare_at_the_end(matched.stamped))

    def match(self, lines: pl.Series) -> MatchedLines:
        """See parsers.reading.Reader."""
        n = len(lines)
        lines = lines.cast(pl.String).fill_null("").str.strip_prefix(BOM).str.strip_chars(BLANKS)
        size = lines.str.len_bytes()
        rows = pl.int_range(n, dtype=pl.UInt32, eager=True).filter(size.is_between(1, LONGEST_LINE))
        values = _right_but_for_stamps(lines.gather(rows), rows)
        kinds, us = read_stamps(values["t"], RFC3339_FORM)
        right = kinds == INSTANT
        events = values.with_columns(pl.Series("t", us)).filter(pl.Series(right))
        at = events["line"].to_numpy()
        verdicts = np.where((size == 0).to_numpy(), IGNORED, UNREAD).astype(np.uint8)
        verdicts[at] = UNDERSTOOD
        stamps, stamped = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.bool_)
        stamps[at], stamped[at] = events["t"].to_numpy(), True
        wrong = np.flatnonzero(verdicts == UNREAD)
        if len(wrong):  # a line that is wrong in something else was still written when it says
            kinds, us = read_stamps(lines.gather(wrong).str.slice(0, LONGEST_LINE).str.extract(STAMP), RFC3339_FORM)
            stamped_at = wrong[kinds == INSTANT]
            stamps[stamped_at], stamped[stamped_at] = us[kinds == INSTANT], True
        return MatchedLines(events, stamps, stamped, verdicts)


def _last_written(events: pl.DataFrame, carry: Carry) -> int | None:
    """A whole over is written when it has ended."""
    if not len(events):
        return carry.last_us
    last = events.tail(1)
    lasted = last["seconds"][0] if last["event"][0] == "over" else 0.0
    return int(last["t"][0]) + round(lasted * SECOND)


def _right_but_for_stamps(lines: pl.Series, rows: pl.Series) -> pl.DataFrame:
    """The lines that are right but for their stamp, as COLUMNS, in order."""
    plain, values = decode_plain(lines, (*TEXTS, *NUMBERS))
    some = lines.filter(plain)
    kinds_right = ~(some.str.contains(NO_TEXT) | some.str.contains(NO_NUMBER) | some.str.contains(NO_SESSION))
    quick = _checked(values.with_columns(rows.filter(plain).alias("line")).filter(kinds_right))
    one_by_one = [(row, read_line(line)) for row, line in zip(rows.filter(~plain), lines.filter(~plain), strict=True)]
    slow = pl.DataFrame([{"line": row, **values} for row, values in one_by_one if values is not None], schema=COLUMNS)
    return pl.concat([quick, slow]).sort("line")


def _checked(values: pl.DataFrame) -> pl.DataFrame:
    """The rows of texts that hold no wrong value, typed."""
    right = [pl.col("t").is_not_null()]
    typed = {"line": pl.col("line"), "t": pl.col("t")}
    for key in ("event", *WORD_KEYS):
        typed[key] = pl.col(key).cast(EVENT_SCHEMA[key], strict=False)
        right.append(typed[key].is_not_null() | (pl.col(key).is_null() & (key != "event")))
    for key in TEXT_KEYS:
        typed[key] = pl.when(pl.col(key) != "").then(pl.col(key))
        fits = (pl.col(key).str.len_chars() <= TEXT_LIMIT) & ~pl.col(key).str.contains("\0", literal=True)
        right.append(fits.fill_null(True))
    for key in NUMBERS:
        low, high = limits(key) if key != "slot" else (1.0, 2.0)
        typed[key] = pl.col(key).cast(pl.Float64, strict=False)
        whole = typed[key].round() == typed[key] if key in WHOLE else pl.lit(True)
        right.append(pl.col(key).is_null() | (typed[key].is_between(low, high) & whole))
    right.append((pl.col("event") != "over") | pl.col("seconds").is_not_null())
    right_rows = values.filter(pl.all_horizontal(right).fill_null(False))
    return right_rows.select(typed[name].cast(dtype).alias(name) for name, dtype in COLUMNS.items())


def read_line(line: str) -> dict[str, Any] | None:
    """What one activity line says under the keys that it gives, `t` as text; None where it is wrong. The road of lines
    that the quick one can't take.
    """
    values = _event_object(line)
    if values is None:
        return None
    if type(values.get("session")) is int:  # hosts count their sessions
        values["session"] = str(values["session"])
    given = {key: values[key] for key in (*WORD_KEYS, *TEXT_KEYS, *NUMBERS) if values.get(key) is not None}
    if (values["event"] == "over" and "seconds" not in given) or any(map(wrong_value, given, given.values())):
        return None
    typed = {key: _typed(key, value) for key, value in given.items() if value != ""}
    return {"t": values["t"], "event": values["event"], **typed}


def _event_object(line: str) -> dict[str, Any] | None:
    """The JSON object of a line, where it is one with a stamp and an event of ours."""
    try:
        values = json.loads(line, parse_constant=refuse_constant)
    except (ValueError, RecursionError):
        return None
    if not isinstance(values, dict) or values.get("event") not in EVENTS:
        return None
    return values if isinstance(values.get("t"), str) and values["t"].isascii() else None


def _typed(key: str, value: Any) -> Any:
    """A right value as its column holds it."""
    if key in NUMBERS:
        return int(value) if key in WHOLE else float(value)
    return value
