"""Events of one log, in the order they were written, become overs (docs/definitions.md, From events to overs). Pure:
frames in, frames out.
"""

from dataclasses import dataclass

import polars as pl

from server.intake.sessions import by_session
from shared.columns import EVENT_SCHEMA, identity_column, rows_where
from shared.zones import DAY, SECOND

DOUBT_US = 2 * SECOND  # stamps and duration further apart than this make an over doubtful
# stamps further apart than this tell no length: a clock that jumped, or a start and an end that don't belong together
LONGEST_US = DAY

NO_SIDE = 2  # beside the codes of shared.events.SIDES

_FIELDS = ("mode", "slot", "side", "station", "target", "ber_pct", "loss_pct", "rssi_dbm")
#: Frame of overs that have begun and not ended yet; one that has a session may have an `until` already, another start
#: on its key, after which only an end of its session can close it.
OPEN_SCHEMA = {
    "start": pl.Int64(),
    **{name: EVENT_SCHEMA[name] for name in _FIELDS},
    "session": EVENT_SCHEMA["session"],
    "until": pl.Int64(),
}
#: Frame of finished (`end`, and `until` where the end line came after that) and unfinished (no `end`, `until` the next
#: event on their key if there was one) overs;
#: `whole` ones were written at their end only, on one line or as an end with a duration, so that nothing told of them
#: before. One that was paired, or waits for its end, keeps its session: it may be paired again.
OVER_SCHEMA = {
    "start": pl.Int64(), "end": pl.Int64(), "until": pl.Int64(), **{name: EVENT_SCHEMA[name] for name in _FIELDS},
    "cause": EVENT_SCHEMA["cause"], "doubtful": pl.Boolean(), "whole": pl.Boolean(), "session": EVENT_SCHEMA["session"],
}  # fmt: skip


@dataclass(frozen=True)
class Paired:
    """What a batch of events came to."""

    overs: pl.DataFrame  #: OVER_SCHEMA
    still_open: pl.DataFrame  #: OPEN_SCHEMA
    others: pl.DataFrame  #: EVENT_SCHEMA columns without `line`, `event` a String that may be `orphan`


def nothing_open() -> pl.DataFrame:
    """No over has begun."""
    return pl.DataFrame(schema=OPEN_SCHEMA)


def pair(open_before: pl.DataFrame, events: pl.DataFrame) -> Paired:
    """Pair the starts that were open before (OPEN_SCHEMA) and a batch of events (EVENT_SCHEMA) into overs.

    The result does not depend on where a log is cut into batches.
    """
    events = events.with_columns_seq(identity_column(pl.col("station")))
    keyed = _keyed(open_before, events)
    overs = pl.concat([_closed(keyed), _whole(events), _ended_without_start(keyed), _unfinished(keyed)])
    still_open = _where(keyed, pl.col("is_start") & ~pl.col("next_is_end") & ~pl.col("gone"))
    others = pl.concat([
        _where(events, ~pl.col("event").is_in(["over-start", "over-end", "over", "alive"])).with_columns_seq(
            pl.col("event").cast(pl.String), pl.lit(None, dtype=EVENT_SCHEMA["session"]).alias("session")
        ),
        _where(keyed, _lone_end() & pl.col("seconds").is_null()).select_seq(
            *(pl.lit("orphan").alias(name) if name == "event" else pl.col(name) for name in EVENT_SCHEMA)
        ),
    ]).select_seq(pl.exclude("line"))  # fmt: skip
    # In the order in which they were opened, which their stamps need not tell: an end without a side goes by it.
    still_open = still_open.sort("order").select_seq(pl.col("t").alias("start"), *_FIELDS, "session", "until")
    return Paired(overs, still_open, others)


def leave_unfinished(still_open: pl.DataFrame) -> pl.DataFrame:
    """The overs (OVER_SCHEMA) of starts whose log has ended."""
    return _with_over_columns(
        still_open, start="start", end=None, until=pl.col("until"), doubtful=pl.lit(False), session=pl.col("session")
    )


def longest(paired: Paired) -> int:
    """The longest over or page of a batch, microseconds."""
    lengths = [paired.overs["end"] - paired.overs["start"]]
    if paired.others.height:
        t, end = others_touch(paired.others)
        lengths.append(end - t)
    return max(int(length.fill_null(0).to_numpy().max(initial=0)) for length in lengths)


def others_touch(others: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """When events other than overs begin, and when they end: a page lasts, the others are instants."""
    lasts = others.select_seq(pl.when(pl.col("event") == "page").then(_duration()).fill_null(0)).to_series()
    return others["t"], others["t"] + lasts


def carries_overs(paired: Paired) -> bool:
    """Whether a batch tells an over, an attempt or a page: only such logs say when the repeater was silent."""
    refused_or_paged = paired.others.height and paired.others["event"].is_in(["refused", "page"]).any()
    return bool(paired.overs.height or paired.still_open.height or refused_or_paged)


def _keyed(open_before: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Starts and ends sorted by key and order, each with what stands before and after it on its key."""
    opened = open_before.with_columns_seq(
        pl.lit("over-start").cast(EVENT_SCHEMA["event"]).alias("event"), pl.col("start").alias("t")
    )
    rows = pl.concat(
        [opened.select_seq(pl.exclude("start")), events.select_seq(pl.exclude("line"))], how="diagonal"
    ).with_row_index("order")
    restarts = _where(rows, pl.col("event") == "host-start").select_seq(pl.col("t").alias("restart"))
    rows = rows.with_columns_seq((pl.col("event") == "host-start").cum_sum().cast(pl.Int64).alias("life"))
    rows = _where(rows, pl.col("event").is_in(["over-start", "over-end"])).with_columns_seq(
        (pl.col("event") == "over-start").alias("is_start"),
        (
            pl.col("mode").to_physical().cast(pl.Int64).fill_null(15) * 4 + pl.col("slot").cast(pl.Int64).fill_null(0)
        ).alias("channel"),
        pl.col("side").to_physical().cast(pl.Int64).fill_null(NO_SIDE).alias("side_code"),
    )
    if rows.get_column("session").null_count() < rows.height:
        fresh = (pl.col("order") >= open_before.height).alias("fresh")
        rows = by_session(rows.with_columns_seq(fresh), restarts["restart"], NO_SIDE)
        return _beside(rows.sort("key", maintain_order=True))
    if rows.get_column("side_code").max() == NO_SIDE:
        rows = rows.sort("channel", maintain_order=True)
        rows = rows.with_columns_seq(_effective_side(rows)).sort("order")
    rows = rows.with_columns_seq(((pl.col("life") * 64 + pl.col("channel")) * 4 + pl.col("side_code")).alias("key"))
    rows = rows.sort("key", maintain_order=True)
    same_next = (pl.col("key") == pl.col("key").shift(-1)).fill_null(False)
    restart_after = (
        restarts["restart"].gather(rows["life"].clip(0, max(restarts.height - 1, 0))) if restarts.height else None
    )
    until = (
        pl.when(same_next)
        .then(pl.col("t").shift(-1))
        .when(pl.col("life") < restarts.height)
        .then(pl.lit(restart_after) if restart_after is not None else pl.lit(None, dtype=pl.Int64))
    )
    return _beside(rows.with_columns_seq(until.alias("until"))).with_columns_seq(
        pl.col("until").is_not_null().alias("gone")
    )


def _beside(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows sorted by key, with what stands next to each on its key."""
    same_next = (pl.col("key") == pl.col("key").shift(-1)).fill_null(False)
    same_before = (pl.col("key") == pl.col("key").shift(1)).fill_null(False)
    return rows.with_columns_seq(
        (same_next & ~pl.col("is_start").shift(-1)).fill_null(False).alias("next_is_end"),
        (same_before & pl.col("is_start").shift(1)).fill_null(False).alias("after_start"),
        pl.lit(0, dtype=pl.UInt32).alias("line"),
    )


def _effective_side(rows: pl.DataFrame) -> pl.Series:
    """The side that keys each row: an end goes with the last open start of its channel that has its side, or where one
    of the two has none.

    Where all starts of a channel come from one side that is plain; where a log mixes sides and leaves some out, it is
    walked through."""
    by_channel = rows.group_by("channel").agg(
        pl.col("side_code").filter("is_start").n_unique().alias("sides"),
        pl.col("side_code").filter("is_start").first().alias("only_side"),
        (pl.col("side_code") == NO_SIDE).any().alias("sideless"),
    )
    known = rows.join(by_channel, on="channel", how="left", maintain_order="left").with_row_index("row")
    sides = known.select_seq(
        pl.when((pl.col("sides") == 1) & ((pl.col("side_code") == NO_SIDE) | (pl.col("only_side") == NO_SIDE)))
        .then("only_side")
        .otherwise("side_code")
        .alias("side_code")
    )["side_code"].to_numpy(writable=True)
    channel_and_life: tuple[int, int] | None = None
    opened: list[int] = []
    for row, channel, life, is_start, side in known.filter((pl.col("sides") > 1) & pl.col("sideless")).select_seq(
        "row", "channel", "life", "is_start", "side_code"
    ).iter_rows():  # fmt: skip
        if (channel, life) != channel_and_life:
            channel_and_life, opened = (channel, life), []
        chosen = side if is_start else _side_that_ends(opened, side)
        if chosen in opened:
            opened.remove(chosen)
        if is_start:
            opened.append(chosen)
        else:
            sides[row] = chosen
    return pl.Series("side_code", sides)


def _side_that_ends(opened: list[int], side: int) -> int:
    """Of the sides that are open, in the order of their starts, the one that an end of `side` closes; `side` itself
    where none fits.
    """
    if side != NO_SIDE and side in opened:
        return side
    fitting = opened if side == NO_SIDE else [other for other in opened if other == NO_SIDE]
    return fitting[-1] if fitting else side


def _where(frame: pl.DataFrame, condition: pl.Expr) -> pl.DataFrame:
    """As DataFrame.filter; see shared.columns.rows_where."""
    return rows_where(frame, frame.select_seq(condition.fill_null(False)).to_series())


def _lone_end() -> pl.Expr:
    return ~pl.col("is_start") & ~pl.col("after_start")


def _duration() -> pl.Expr:
    return (pl.col("seconds") * SECOND).round().cast(pl.Int64)


def _closed(keyed: pl.DataFrame) -> pl.DataFrame:
    """Ends whose start stands right before them on their key."""
    with_start = keyed.with_columns_seq(
        pl.col("t").shift(1).alias("begun"),
        *(pl.coalesce(name, pl.col(name).shift(1)).alias(name) for name in _FIELDS),
        pl.coalesce(pl.col("session").shift(1), "session").alias("session"),
    )
    both = _where(with_start, ~pl.col("is_start") & pl.col("after_start"))
    stamped = pl.col("t") - pl.col("begun")
    impossible = pl.col("seconds").is_null() & ((stamped < 0) | (stamped > LONGEST_US))
    end = pl.when(~impossible).then(pl.col("begun") + pl.coalesce(_duration(), stamped))
    doubt = impossible | ((stamped - _duration()).abs() > DOUBT_US).fill_null(False)
    # An end line that came later than the over ended by the host's duration is kept: until it, nobody knew of the end.
    until = pl.when((impossible & (stamped > 0)) | (pl.col("t") > end).fill_null(False)).then("t")
    return _with_over_columns(both, start="begun", end=end, until=until, doubtful=doubt, session=pl.col("session"))


def _whole(events: pl.DataFrame) -> pl.DataFrame:
    return _with_over_columns(
        _where(events, pl.col("event") == "over"),
        start="t",
        end=pl.col("t") + _duration(),
        until=None,
        doubtful=pl.lit(False),
        whole=True,
    )


def _ended_without_start(keyed: pl.DataFrame) -> pl.DataFrame:
    lone = _where(keyed, _lone_end() & pl.col("seconds").is_not_null()).with_columns_seq(
        (pl.col("t") - _duration()).alias("begun")
    )
    return _with_over_columns(lone, start="begun", end=pl.col("t"), until=None, doubtful=pl.lit(False), whole=True)


def _unfinished(keyed: pl.DataFrame) -> pl.DataFrame:
    never = _where(keyed, pl.col("is_start") & ~pl.col("next_is_end") & pl.col("gone"))
    never = never.drop("cause")  # how it ended is what an end says, and it had none
    return _with_over_columns(
        never, start="t", end=None, until=pl.col("until"), doubtful=pl.lit(False), session=pl.col("session")
    )


def _with_over_columns(
    rows: pl.DataFrame,
    *,
    start: str,
    end: pl.Expr | None,
    until: pl.Expr | None,
    doubtful: pl.Expr,
    whole: bool = False,
    session: pl.Expr | None = None,
) -> pl.DataFrame:
    nothing = pl.lit(None, dtype=pl.Int64)
    cause = pl.col("cause") if "cause" in rows.columns else pl.lit(None, dtype=OVER_SCHEMA["cause"]).alias("cause")
    return rows.select_seq(
        pl.col(start).alias("start"),
        (nothing if end is None else end).alias("end"),
        (nothing if until is None else until).alias("until"),
        *_FIELDS,
        cause,
        doubtful.alias("doubtful"),
        pl.lit(whole).alias("whole"),
        (pl.lit(None, dtype=OVER_SCHEMA["session"]) if session is None else session).alias("session"),
    ).cast(OVER_SCHEMA)  # type: ignore[arg-type]
