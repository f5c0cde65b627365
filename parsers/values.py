"""Captured texts into typed columns: this host's words, its units, its ways to write a number."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from parsers.constants import IGNORE, NUMBER_KEYS, WORD_KEYS, limits
from shared.columns import EVENT_SCHEMA
from shared.events import TEXT_KEYS, TEXT_LIMIT

OURS: dict[str, dict[str, Any]] = {key: {word: word for word in words} for key, words in WORD_KEYS.items()} | {"slot": {"1": 1, "2": 2}}
_PART = r"[0-9]{1,9}(?:[.,][0-9]{1,9})?"
#: 1h02m03s and its parts, 01:02:05 or 02:05, 340ms
DURATION = (
    rf"^(?:(?:(?P<h>[0-9]{{1,6}})h)? ?(?:(?P<m>[0-9]{{1,6}})m)? ?(?:(?P<s>{_PART})s)?"
    rf"|(?:(?P<ch>[0-9]{{1,6}}):)?(?P<cm>[0-9]{{1,6}}):(?P<cs>[0-9]{{1,2}}(?:[.,][0-9]{{1,9}})?)|(?P<ms>{_PART}) ?ms)$"
)


MINUTES = r"^(?P<m>[0-9]{1,6})m(?P<s>[0-9]{1,2}(?:\.[0-9]{1,9})?)s$"


@dataclass(frozen=True)
class Meanings:
    """How one dialect's texts are to be understood."""

    events: tuple[str, ...]  #: by shape
    sets: tuple[Mapping[str, Any], ...]  #: by shape: constants
    words: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(default_factory=dict)  #: table -> word -> our keys
    seconds_factor: float = 1.0
    percent_factor: Mapping[str, float] = field(default_factory=dict)  #: 100 for a key that comes as a fraction


def typed(caught: pl.DataFrame, meanings: Meanings) -> tuple[pl.DataFrame, pl.Series]:
    """Event columns for captured texts (columns row, shape, and holes as String), and which rows hold something that can't be.

    A hole's own value comes first, then what a word of another hole gives, then the shape's constants. An empty hole is not given.
    Every column is read as most hosts write it; only one that then lacks a value is read again in every way.
    """
    holes = [name for name in caught.columns if name not in ("row", "shape", "t")]
    trimmed = caught.select_seq("row", "shape", *(pl.col(name).str.strip_chars() for name in holes))
    texts = trimmed.with_columns_seq(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in holes)
    values = texts.select_seq(_as_most(hole, meanings) for hole in holes)
    values = values.with_columns_seq(
        pl.when(column.is_finite()).then(column) for column in (pl.col(name) for name in holes if _key(name) in NUMBER_KEYS)
    )
    out: dict[str, pl.Series] = {}
    wrong = []
    for hole in holes:
        key, text, value = _key(hole), texts.get_column(hole), values.get_column(hole)
        if value.null_count() > text.null_count():
            value, bad = _in_every_way(key, text, meanings)
            wrong.append(bad)
        # A dialect may have {duration} in one shape and {seconds} in another; never both in one.
        out[key] = out[key].zip_with(out[key].is_not_null(), value) if key in out else value
    told = texts.select_seq("row", "shape", *(pl.col(hole).alias(f"{hole} text") for hole in holes if hole in meanings.words))
    frame = told.with_columns_seq(value.alias(key) for key, value in out.items()).select_seq(
        _coalesced(name, meanings, [*out, *told.columns]) for name in EVENT_SCHEMA
    )
    impossible = [(pl.col("event") == "over") & pl.col("seconds").is_null(), *(_impossible(key) for key in out), *wrong]
    return frame, frame.select_seq(pl.any_horizontal(impossible).fill_null(False).alias("wrong"))["wrong"]


def _key(hole: str) -> str:
    return "seconds" if hole == "duration" else hole


def _as_most(hole: str, meanings: Meanings) -> pl.Expr:
    """A hole's values as most hosts write them: by a table, or as a plain number; null for any other."""
    key, text = _key(hole), pl.col(hole)
    if key in OURS:
        return _looked_up(text, _spellings(key, meanings), key).alias(hole)
    if key in TEXT_KEYS:
        return text
    if key == "seconds":
        plain = text.cast(pl.Float64, strict=False) * meanings.seconds_factor
        return pl.coalesce(plain, text.str.strip_suffix("s").cast(pl.Float64, strict=False))
    factor = meanings.percent_factor.get(key, 1.0)
    bare = text if factor != 1.0 else text.str.strip_suffix(_unit(key))
    return bare.cast(pl.Float64, strict=False) * factor


def _in_every_way(key: str, text: pl.Series, meanings: Meanings) -> tuple[pl.Series, pl.Series]:
    """The values of a column, and where there is a text that is none."""
    if key in OURS:
        return _worded(key, text, meanings)
    value = _seconds(text, meanings.seconds_factor) if key == "seconds" else _level(key, text, meanings)
    return value, text.is_not_null() & value.is_null()


def _coalesced(key: str, meanings: Meanings, known: Sequence[str]) -> pl.Expr:
    """One event column: a hole's own value, else what a word of another hole gives, else what the shape is set to."""
    if key == "line":
        return pl.col("row").alias(key)
    if key == "event":
        return _looked_up(pl.col("shape"), {i: None if event == IGNORE else event for i, event in enumerate(meanings.events)}, key).alias(
            key
        )
    ways = [pl.col(key)] if key in known else []
    for table, words in meanings.words.items():
        if table != key and f"{table} text" in known:
            ways += _given(pl.col(f"{table} text"), words, key)
    ways += _given(pl.col("shape"), dict(enumerate(meanings.sets)), key)
    return pl.coalesce(*ways, pl.lit(None, dtype=EVENT_SCHEMA[key])).alias(key)


def _given(told: pl.Expr, tables: Mapping[Any, Mapping[str, Any]], key: str) -> list[pl.Expr]:
    """What words, or shapes, give for a key; nothing where none does."""
    means = {word: given[key] for word, given in tables.items() if key in given}
    return [_looked_up(told, means, key)] if means else []


def _impossible(key: str) -> pl.Expr:
    """Where a value of one of the keys can't be."""
    value = pl.col(key)
    if key in NUMBER_KEYS:
        return ~value.is_between(*limits(key))
    if key in TEXT_KEYS:
        return (value.str.len_chars() > TEXT_LIMIT) | value.str.contains("\0", literal=True)
    return pl.lit(False)


def _looked_up(told: pl.Expr, means: Mapping[Any, Any], key: str) -> pl.Expr:
    return told.replace_strict(list(means), list(means.values()), default=None, return_dtype=EVENT_SCHEMA[key])


def _lookup(text: pl.Series, means: Mapping[Any, Any], key: str) -> pl.Series:
    return text.replace_strict(list(means), list(means.values()), default=None, return_dtype=EVENT_SCHEMA[key])


def _spellings(key: str, meanings: Meanings) -> dict[str, Any]:
    """The host's words of a key, and ours where the host has no such word."""
    host = meanings.words.get(key, {})
    ours = {spelt: value for word, value in OURS[key].items() for spelt in (word, word.upper()) if spelt not in host}
    return ours | {word: means[key] for word, means in host.items() if key in means}


def _worded(key: str, text: pl.Series, meanings: Meanings) -> tuple[pl.Series, pl.Series]:
    """A word hole's own key: the host's spelling as it stands, else one of our words in any case."""
    value = _lookup(text, _spellings(key, meanings), key)
    unknown = text.is_not_null() & value.is_null() & ~text.is_in(list(meanings.words.get(key, {}))).fill_null(False)
    ours = _lookup(text.str.to_lowercase(), OURS[key], key)
    return value.zip_with(~unknown, ours), unknown & ours.is_null()


def number(text: pl.Series) -> pl.Series:
    """Float64 of plain numbers, decimal point or comma; null for anything else, nan and infinity too."""
    value = text.cast(pl.Float64, strict=False)
    left = value.is_null() & text.is_not_null()
    if left.any():
        commas = text.set(~left, None).str.replace(r"^([+-]?[0-9]+),([0-9]+)$", "$1.$2")
        value = value.zip_with(~left, commas.cast(pl.Float64, strict=False))
    return value.set(~value.is_finite().fill_null(False), None)


def _unit(key: str) -> str:
    return " dBm" if key == "rssi_dbm" else "%"


def _level(key: str, text: pl.Series, meanings: Meanings) -> pl.Series:
    """ber_pct, loss_pct, rssi_dbm: a number, with or without its unit."""
    factor = meanings.percent_factor.get(key, 1.0)
    value = number(text.str.strip_suffix(_unit(key)) if factor == 1.0 else text) * factor
    unit = r"(?i)^([^ ]*) ?dbm$" if key == "rssi_dbm" else "^([^ ]*) ?%$"
    return value.zip_with(value.is_not_null(), number(text.str.extract(unit, 1)))


def _seconds(text: pl.Series, factor: float) -> pl.Series:
    """{seconds} and {duration}: a bare number in the host's unit, or with its units written out."""
    value = number(text) * factor
    left = value.is_null() & text.is_not_null()
    if left.any():
        value = value.zip_with(~left, text.str.strip_suffix("s").cast(pl.Float64, strict=False))
        value = value.set(~value.is_finite().fill_null(False), None)
        left = value.is_null() & text.is_not_null()
    if left.any():
        value = value.zip_with(~left, number(text.str.extract("^([^ ]*) ?s$", 1)))
        left = value.is_null() & text.is_not_null()
    if left.any():
        at = left.arg_true()
        value = value.scatter(at, _spelt_out(text.gather(at)))
    return value


def _spelt_out(text: pl.Series) -> pl.Series:
    """Seconds of durations in any of the forms of DURATION; the commonest one first, by an expression that is quick."""
    plain = text.to_frame("x").select_seq(pl.col("x").str.extract_groups(MINUTES)).unnest("x")
    minutes, seconds = plain["m"].cast(pl.Float64, strict=False), plain["s"].cast(pl.Float64, strict=False)
    value = (minutes * 60 + seconds).set((seconds >= 60).fill_null(False), None)
    left = value.is_null() & text.is_not_null()
    return value.zip_with(~left, _any_form(text.set(~left, None))) if left.any() else value


def _any_form(text: pl.Series) -> pl.Series:
    parts = text.to_frame("x").select_seq(pl.col("x").str.extract_groups(DURATION)).unnest("x")
    p = {name: number(parts[name]) for name in parts.columns}
    frame = pl.DataFrame(p)
    col = pl.col
    minutes = col("m").is_null() | col("h").is_null() | (col("m") < 60)
    seconds = col("s").is_null() | (col("h").is_null() & col("m").is_null()) | (col("s") < 60)
    spelt = pl.any_horizontal(col("h", "m", "s").is_not_null()) & minutes & seconds
    clock = (col("cs") < 60) & (col("ch").is_null() | (col("cm") < 60))
    zero = {name: col(name).fill_null(0.0) for name in p}
    return frame.select_seq(
        x=pl.when(col("ms").is_not_null()).then(col("ms") / 1000)
        .when(col("cm").is_not_null() & clock).then(zero["ch"] * 3600 + col("cm") * 60 + col("cs"))
        .when(spelt).then(zero["h"] * 3600 + zero["m"] * 60 + zero["s"])
    )["x"]  # fmt: skip
