"""Envelopes around a host's own text: syslog's headers and the journal's JSON."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.jsonlines import Number, read_objects
from parsers.stamps import read_stamps
from parsers.time_forms import NAMED

#: RFC 6587 section 3.4.1: octet counting puts the length before each message.
COUNT = r"^[0-9]{1,6} <"
PRIORITY = r"(?:<[0-9]{1,3}>)?"
#: RFC 3164 section 4.1, and how daemons write it to files: without priority, and with either kind of stamp.
SHORT = (
    rf"^{PRIORITY}(?P<t>[A-Z][a-z]{{2}} [ 0-9][0-9] [0-9:]{{8}}(?:[.,][0-9]+)?|[0-9]{{4}}-[0-9][^ ]*) [^ ]+ (?P<m>.*)$"
)
TAG = r"^[^ :\[\]]{1,64}(?:\[[^\]]*\])?: ?"
#: RFC 5424 section 6: version, stamp, host, application, process, message id, structured data, message.
LONG = rf"^{PRIORITY}1 (?P<t>[^ ]+) [^ ]+ [^ ]+ [^ ]+ [^ ]+ (?P<m>.*)$"
STRUCTURED = r'^(?:-|(?:\[(?:[^"\]\\]|\\.|"(?:[^"\\]|\\.)*")*\])+)(?: (?P<m>.*))?$'
BOM = "\ufeff"


@dataclass(frozen=True)
class Unwrapped:
    """n lines without their envelope."""

    text: pl.Series  #: String; null where there was no such envelope, "" where it was empty
    kinds: npt.NDArray[np.uint8]  #: (n,) of parsers.stamps
    us: npt.NDArray[np.int64]  #: (n,)


def unwrap_syslog(lines: pl.Series) -> Unwrapped:
    """The messages of lines with an RFC 3164 or RFC 5424 header, and the header's stamps."""
    counted = lines.str.contains(COUNT)
    if counted.any():
        lines = lines.to_frame("x").select(
            pl.when(counted).then(pl.col("x").str.strip_chars_start("0123456789 ")).otherwise("x")
        )["x"]
    head = lines.to_frame("x").select(pl.col("x").str.extract_groups("(?s)" + SHORT)).unnest("x")
    stamp, text = head["t"], head["m"].str.replace(TAG, "")
    missed = text.is_null()
    if missed.any():
        long = lines.to_frame("x").select(pl.when(missed).then("x").str.extract_groups("(?s)" + LONG)).unnest("x")
        body = (
            long["m"]
            .to_frame("m")
            .select(
                pl.when(pl.col("m").str.contains("(?s)" + STRUCTURED)).then(
                    pl.col("m").str.extract("(?s)" + STRUCTURED, 1).fill_null("")
                )
            )["m"]
        )
        both = pl.DataFrame({"a": stamp, "b": long["t"], "c": text, "d": body})
        both = both.select(t=pl.coalesce("a", "b"), m=pl.coalesce("c", "d"))
        stamp, text = both["t"], both["m"]
    kinds, us = np.zeros(len(lines), dtype=np.uint8), np.zeros(len(lines), dtype=np.int64)
    worded = stamp.str.contains("^[A-Z]").fill_null(False) & text.is_not_null()
    for mine, form in ((worded, NAMED["syslog"]), (~worded & text.is_not_null(), NAMED["iso"])):
        if mine.any():
            at = mine.arg_true()
            kinds[at.to_numpy()], us[at.to_numpy()] = read_stamps(stamp.gather(at), form)
    return Unwrapped(text.str.strip_prefix(BOM), kinds, us)


def unwrap_journal(lines: pl.Series) -> Unwrapped:
    """The messages of systemd's journal JSON, one entry a line, stamped when the journal received them."""
    values, fine = read_objects(lines, ("__REALTIME_TIMESTAMP", "MESSAGE"), journal_text)
    message = values["MESSAGE"].fill_null("").str.replace_all(r"[\r\n]+", " ")
    text = pl.DataFrame({"m": message, "f": fine}).select(pl.when("f").then("m"))["m"]
    kinds, us = read_stamps(values["__REALTIME_TIMESTAMP"], NAMED["epoch-us"])
    return Unwrapped(text, kinds, us)


def journal_text(value: Any) -> str | None:
    """A journal field: text, null where it was too long, an array of byte values where it is no clean text, an array of
    fields where it stands several times, of which the first is taken.
    """
    if isinstance(value, list):
        if value and all(isinstance(item, Number) for item in value):
            try:
                return bytes(int(item) for item in value).decode(errors="replace")
            except ValueError:
                return None
        return journal_text(value[0]) if value and not isinstance(value[0], list) else None
    return str(value) if isinstance(value, str) else None
