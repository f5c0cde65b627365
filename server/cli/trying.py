"""What a log yields in a dialect, in words: the overs first, beside the lines that they came from, then the other
events.
"""

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from parsers.reading import Reading
from server.intake.pairing import leave_unfinished, nothing_open, pair
from server.telling.moments import listed_second
from server.telling.numbers import tenths
from shared.columns import identity_column
from shared.events import MODE_LABELS, UNREAD
from shared.numbers import grouped
from shared.text import escaped
from shared.zones import SECOND

SHOWN = 20  # overs, other events and unread lines each
WIDTH = 160  # characters of a line
OF_OVERS = ("over-start", "over-end", "over", "alive")


def yield_of(lines: pl.Series, read: Reading, zone: ZoneInfo) -> Iterator[str]:
    """The lines of the account, without the counts of the lines."""
    overs, orphans = overs_with_lines(read.events)
    yield from _overs(overs, orphans.height, lines, zone)
    others = read.events.filter(~pl.col("event").is_in(OF_OVERS)).with_columns(pl.col("event").cast(pl.String))
    yield from _other_events(pl.concat([others, orphans]).sort("line"), lines, zone)
    unread = np.flatnonzero(read.verdicts == UNREAD)
    if len(unread):
        yield f"Unread: {grouped(len(unread))}."
        yield from (_line(number, lines) for number in unread[:SHOWN].tolist())
        yield from _more(len(unread), "lines")
    yield from (f"{remark}." for remark in read.remarks)


def _overs(overs: pl.DataFrame, orphans: int, lines: pl.Series, zone: ZoneInfo) -> Iterator[str]:
    unfinished = overs.filter(pl.col("end").is_null()).height
    yield (
        f"Overs: {grouped(overs.height)}, {grouped(unfinished)} of them without an end; ends without start and length: "
        f"{grouped(orphans)}. Times are local to {zone.key}."
    )
    for row in overs.head(SHOWN).to_dicts():
        yield f"  {_over(row, zone)}"
        for number in dict.fromkeys(n for n in (row["first"], row["last"]) if n is not None):
            yield _line(int(number), lines)
    yield from _more(overs.height, "overs")


def _other_events(events: pl.DataFrame, lines: pl.Series, zone: ZoneInfo) -> Iterator[str]:
    yield f"Other events: {grouped(events.height)}."
    for row in events.head(SHOWN).to_dicts():
        number, instant = int(row.pop("line")), listed_second(row.pop("t"), zone)
        yield f"  {instant}  {row.pop('event')}  " + "  ".join(
            f"{key}={escaped(str(value))}" for key, value in row.items() if value is not None
        )
        yield _line(number, lines)
    yield from _more(events.height, "events")


def overs_with_lines(events: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The overs of a batch by their start, with the numbers of their `first` and `last` line (null where there is
    none), and the ends that are orphans, as events. The numbers travel through pairing in columns of values that it
    hands on from start and end.
    """
    starts, ends = pl.col("event").is_in(["over-start", "over"]), pl.col("event").is_in(["over-end", "over"])
    number = pl.col("line").cast(pl.Float64)
    tagged = events.with_columns(
        pl.when(starts).then(number).alias("rssi_dbm"), pl.when(ends).then(number).alias("loss_pct")
    )
    plain, numbered = pair(nothing_open(), events), pair(nothing_open(), tagged)
    overs = pl.concat([plain.overs, leave_unfinished(plain.still_open)])
    lines = pl.concat([numbered.overs, leave_unfinished(numbered.still_open)])
    overs = overs.with_columns(lines["rssi_dbm"].alias("first"), lines["loss_pct"].alias("last")).sort(
        "start", "first", nulls_last=True
    )
    closed = overs["last"].drop_nulls().cast(pl.UInt32)
    lone = events.filter(pl.col("event") == "over-end").filter(~pl.col("line").is_in(closed.implode()))
    return overs, lone.with_columns(pl.lit("orphan").alias("event"), identity_column(pl.col("station")))


def _over(row: dict[str, Any], zone: ZoneInfo) -> str:
    length = "no end" if row["end"] is None else tenths((row["end"] - row["start"]) / SECOND)
    mode = MODE_LABELS.get(row["mode"] or "", "mode not told") + (f" slot {row['slot']}" if row["slot"] else "")
    side = {"air": "by radio", "link": "over a link", None: "side not told"}[row["side"]]
    who = escaped(row["station"] or "station not told") + (f" > {escaped(row['target'])}" if row["target"] else "")
    rest = [row["cause"] or "", "doubtful: stamps and length differ" if row["doubtful"] else ""]
    return "  ".join([listed_second(row["start"], zone), length, mode, side, who, *(one for one in rest if one)])


def _line(number: int, lines: pl.Series) -> str:
    return f"    {number + 1:>6}: {escaped(lines[number][:WIDTH])}"


def _more(count: int, what: str) -> Iterator[str]:
    if count > SHOWN:
        yield f"  ... and {grouped(count - SHOWN)} more {what}."
