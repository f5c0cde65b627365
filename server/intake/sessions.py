"""Which end closes which start where a log names sessions (docs/definitions.md, From events to overs). Pure: frames in,
frames out.
"""

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from shared.zones import DAY, HOUR

GIVEN_UP_US = DAY  #: an over that another start on its key displaced is no longer waited for so long after it began
STEADY_US = HOUR  #: a clock that never steps back by more is steady


def by_session(rows: pl.DataFrame, restarts: pl.Series, no_side: int) -> pl.DataFrame:
    """Gives starts and ends (columns order, life, t, is_start, channel, side_code, session, until, fresh) in the order
    in which they were written their `key`, so that an end closes the start before it on its key, the `until` of a start
    that nothing closes, and whether it is `gone`: no end can close it any more. `restarts` (n,) has the instants that
    end the lives.
    """
    if not rows.height:
        return rows.with_columns_seq(pl.lit(0, dtype=pl.Int64).alias("key"), pl.lit(False).alias("gone"))
    return _all_named(rows, restarts) if _is_plain(rows) else _walked(rows, restarts, no_side)


def _grouped(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows with a key a session and life."""
    session = pl.col("session").cast(pl.Categorical).to_physical().cast(pl.Int64)
    return rows.with_columns_seq((pl.col("life") * (rows.height + 1) + session.rank("dense")).alias("key"))


def _is_plain(rows: pl.DataFrame) -> bool:
    """Whether every row names its session and no over is so long, and no clock so far off, that one could be given up
    before its end.
    """
    if rows["session"].null_count():
        return False
    if (rows["t"].cum_max() - rows["t"] > STEADY_US).any():
        return False
    mates = _grouped(rows).sort("key", maintain_order=True)
    closing = (mates["key"] == mates["key"].shift(1)) & ~mates["is_start"] & mates["is_start"].shift(1)
    lengths = (mates["t"] - mates["t"].shift(1)).filter(closing.fill_null(False))
    return not (lengths > GIVEN_UP_US - STEADY_US).any()


def _all_named(rows: pl.DataFrame, restarts: pl.Series) -> pl.DataFrame:
    """Where every row names its session: each session's rows are a key of their own."""
    rows = _grouped(rows)
    in_turn = rows.sort("key", maintain_order=True)
    same = (in_turn["key"] == in_turn["key"].shift(-1)).fill_null(False)
    after = in_turn.select_seq(
        "order",
        pl.when(same)
        .then(pl.col("is_start").shift(-1))
        .alias("again"),  # the session's next row: a start, an end, or none
        pl.when(same).then(pl.col("order").shift(-1)).alias("again_order"),
        pl.when(same).then(pl.col("t").shift(-1)).alias("again_t"),
    ).sort("order")
    rows = rows.with_columns_seq(after.get_column(name) for name in ("again", "again_order", "again_t"))
    left = rows["is_start"] & rows["again"].fill_null(True)  # starts that no end closes
    if not left.any():
        return rows.with_columns_seq(pl.lit(False).alias("gone"))
    starts = rows.filter(pl.col("is_start")).with_columns_seq(
        ((pl.col("life") * 64 + pl.col("channel")) * 4 + pl.col("side_code")).alias("place")
    )
    later = (pl.col("place") == pl.col("place").shift(-1)) & pl.col("fresh").shift(-1)
    starts = starts.sort("place", maintain_order=True).with_columns_seq(
        pl.when(later).then(pl.col("order").shift(-1)).alias("next_order"),
        pl.when(later).then(pl.col("t").shift(-1)).alias("next_t"),
        pl.when("fresh").then("t").cum_max(reverse=True).over("place").alias("latest"),
    )
    starts = starts.with_columns_seq(
        pl.when(pl.col("place") == pl.col("place").shift(-1)).then(pl.col("latest").shift(-1)).alias("latest")
    )
    ended = (
        restarts.gather(starts["life"].clip(0, max(len(restarts) - 1, 0)))
        if len(restarts)
        else pl.Series([None], dtype=pl.Int64)
    )
    over = pl.col("life") < len(restarts)
    sooner = pl.col("again_order").is_null() | (pl.col("next_order") < pl.col("again_order")).fill_null(False)
    starts = starts.with_columns_seq(
        pl.coalesce(
            "until",
            pl.when(sooner & pl.col("next_t").is_not_null()).then("next_t").otherwise("again_t"),
            pl.when(over).then(pl.lit(ended)),
        ).alias("until"),
        (
            over | pl.col("again").fill_null(False) | (pl.col("latest") > pl.col("t") + GIVEN_UP_US).fill_null(False)
        ).alias("gone"),
    ).sort("order")
    at = rows["is_start"].arg_true()
    return rows.with_columns_seq(
        rows["until"].scatter(at, starts["until"]).alias("until"),
        pl.Series("gone", np.zeros(rows.height, dtype=np.bool_)).scatter(at, starts["gone"]),
    )


@dataclass
class _Standing:
    """What is open in one life of a host, by the number of its row."""

    by_session: dict[str, int] = field(default_factory=dict)
    #: that ends go to by key; opened last, last
    on_channel: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    #: that only their session closes
    displaced: dict[tuple[int, int], list[int]] = field(default_factory=lambda: defaultdict(list))


class _Walk:
    """A log that names sessions in some lines and leaves them out of others, one row after another."""

    def __init__(self, rows: pl.DataFrame, no_side: int) -> None:
        self._no_side = no_side
        names = ("life", "t", "is_start", "channel", "side_code", "session", "until", "fresh")
        self.life, self.t, self.is_start, self.channel, self.side, self.session, self.until, self.fresh = (
            rows.get_column(name).to_list() for name in names
        )
        self.key = list(range(len(self.t)))
        self.gone = [False] * len(self.t)

    def run(self, restarts: list[int]) -> None:
        """Walk through all rows."""
        life, standing = 0, _Standing()
        for row in range(len(self.t)):
            if self.life[row] != life:
                self._restart(standing, restarts[life])
                life, standing = self.life[row], _Standing()
            if not self.is_start[row]:
                self._end(standing, row)
            elif self.fresh[row]:
                self._start(standing, row)
            else:
                self._put(standing, row, displaced=self.until[row] is not None)
        if life < len(restarts):
            self._restart(standing, restarts[life])

    def _restart(self, standing: _Standing, t: int) -> None:
        for rows in (*standing.on_channel.values(), *standing.displaced.values()):
            for row in rows:
                self._give_up(row, t)

    def _give_up(self, row: int, t: int) -> None:
        self.gone[row] = True
        self.until[row] = t if self.until[row] is None else self.until[row]

    def _put(self, standing: _Standing, row: int, *, displaced: bool) -> None:
        if self.session[row] is not None:
            standing.by_session[self.session[row]] = row
        (
            standing.displaced[self.channel[row], self.side[row]]
            if displaced
            else standing.on_channel[self.channel[row]]
        ).append(row)

    def _take(self, standing: _Standing, row: int) -> None:
        """It is open no more."""
        if self.session[row] is not None:
            del standing.by_session[self.session[row]]
        for rows in (standing.on_channel[self.channel[row]], standing.displaced[self.channel[row], self.side[row]]):
            if row in rows:
                rows.remove(row)

    def _start(self, standing: _Standing, row: int) -> None:
        t, key = self.t[row], (self.channel[row], self.side[row])
        again = standing.by_session.get(self.session[row])
        if again is not None:
            self._take(standing, again)
            self._give_up(again, t)
        for other in [start for start in standing.on_channel[key[0]] if self.side[start] == key[1]]:
            if self.session[other] is None:
                self._take(standing, other)
                self._give_up(other, t)
            else:
                standing.on_channel[key[0]].remove(other)
                standing.displaced[key].append(other)
                self.until[other] = t
        for other in [start for start in standing.displaced[key] if t > self.t[start] + GIVEN_UP_US]:
            self._take(standing, other)
            self._give_up(other, t)
        self._put(standing, row, displaced=False)

    def _end(self, standing: _Standing, row: int) -> None:
        start = standing.by_session.get(self.session[row])
        if start is None:
            start = self._by_key(standing, row)
        if start is not None:
            self.key[row] = start
            self._take(standing, start)

    def _by_key(self, standing: _Standing, row: int) -> int | None:
        """The open over of an end's mode, slot and side; one that names a session not open goes to overs without one
        only.
        """
        side = self.side[row]
        fits = [
            start
            for start in standing.on_channel[self.channel[row]]
            if (self.session[row] is None or self.session[start] is None)
            and (self._no_side in (side, self.side[start]) or side == self.side[start])
        ]
        exact = [start for start in fits if self.side[start] == side != self._no_side]
        return (exact or fits)[-1] if fits else None


def _walked(rows: pl.DataFrame, restarts: pl.Series, no_side: int) -> pl.DataFrame:
    walk = _Walk(rows, no_side)
    walk.run(restarts.to_list())
    return rows.with_columns_seq(
        pl.Series("key", walk.key, dtype=pl.Int64),
        pl.Series("until", walk.until, dtype=pl.Int64),
        pl.Series("gone", walk.gone),
    )
