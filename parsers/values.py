"""Captured texts into typed columns: this host's words, its units, its ways to write a number."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from parsers.constants import NUMBER_KEYS, WORD_KEYS, limits
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
    """
    out: dict[str, pl.Series] = {}
    wrong = pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(caught))
    texts = {name: _filled(caught[name]) for name in caught.columns if name not in ("row", "shape", "t")}
    for key in OURS:
        if key in texts:
            out[key], bad = _worded(key, texts[key], meanings)
            wrong |= bad
    for key in TEXT_KEYS:
        if key in texts:
            out[key] = texts[key]
            wrong |= (texts[key].str.len_chars() > TEXT_LIMIT).fill_null(False)
            wrong |= texts[key].str.contains("\0", literal=True).fill_null(False)
    for hole in ("duration", *NUMBER_KEYS):
        if hole in texts:
            key = "seconds" if hole == "duration" else hole
            value, bad = _seconds(texts[hole], meanings.seconds_factor) if key == "seconds" else _level(key, texts[hole], meanings)
            # A dialect may have {duration} in one shape and {seconds} in another; never both in one.
            out[key] = out[key].zip_with(out[key].is_not_null(), value) if key in out else value
            wrong |= bad
    for table, words in meanings.words.items():
        if table in texts:
            _add(out, texts[table], {word: {k: v for k, v in means.items() if k != table} for word, means in words.items()})
    _add(out, caught["shape"], dict(enumerate(meanings.sets)))
    event = caught["shape"].replace_strict(list(range(len(meanings.events))), list(meanings.events), return_dtype=pl.String())
    typed_event = event.set(event == "ignore", None).cast(EVENT_SCHEMA["event"])
    none = {name: pl.Series([None], dtype=dtype).new_from_index(0, len(caught)) for name, dtype in EVENT_SCHEMA.items() if name not in out}
    frame = pl.DataFrame({name: {**none, **out, "event": typed_event, "line": caught["row"]}[name] for name in EVENT_SCHEMA})
    wrong |= ((frame["event"] == "over") & frame["seconds"].is_null()).fill_null(False)
    return frame, wrong


def _filled(text: pl.Series) -> pl.Series:
    """Trimmed; null where nothing is left."""
    trimmed = text.str.strip_chars()
    return trimmed.set(trimmed == "", None)


def _lookup(text: pl.Series, means: Mapping[Any, Any], key: str) -> pl.Series:
    return text.replace_strict(list(means), list(means.values()), default=None, return_dtype=EVENT_SCHEMA[key])


def _worded(key: str, text: pl.Series, meanings: Meanings) -> tuple[pl.Series, pl.Series]:
    """A word hole's own key: the host's spelling as it stands, else one of our words in any case."""
    host = meanings.words.get(key, {})
    table = {word: means[key] for word, means in host.items() if key in means}
    table = {spelt: value for word, value in OURS[key].items() for spelt in (word, word.upper()) if spelt not in host} | table
    value = _lookup(text, table, key)
    unknown = text.is_not_null() & value.is_null()
    if unknown.any() and host:
        unknown &= ~text.is_in(list(host)).fill_null(False)
    if unknown.any():
        ours = _lookup(text.str.to_lowercase(), OURS[key], key)
        value = value.zip_with(~unknown, ours)
        unknown &= ours.is_null()
    return value, unknown


def _add(out: dict[str, pl.Series], told: pl.Series, tables: Mapping[Any, Mapping[str, Any]]) -> None:
    """Fills what is still unknown with what words or shapes give besides."""
    for key in sorted({key for means in tables.values() for key in means}):
        value = _lookup(told, {word: means[key] for word, means in tables.items() if key in means}, key)
        out[key] = out[key].zip_with(out[key].is_not_null(), value) if key in out else value


def number(text: pl.Series) -> pl.Series:
    """Float64 of plain numbers, decimal point or comma; null for anything else, nan and infinity too."""
    value = text.cast(pl.Float64, strict=False)
    left = value.is_null() & text.is_not_null()
    if left.any():
        commas = text.set(~left, None).str.replace(r"^([+-]?[0-9]+),([0-9]+)$", "$1.$2")
        value = value.zip_with(~left, commas.cast(pl.Float64, strict=False))
    return value.set(~value.is_finite().fill_null(False), None)


def _level(key: str, text: pl.Series, meanings: Meanings) -> tuple[pl.Series, pl.Series]:
    """ber_pct, loss_pct, rssi_dbm: a number, with or without its unit."""
    factor = meanings.percent_factor.get(key, 1.0)
    unit = " dBm" if key == "rssi_dbm" else "%"
    bare = text.str.strip_suffix(unit) if factor == 1.0 else text  # as most write it: far quicker than an expression
    value = number(bare) * factor
    left = value.is_null() & text.is_not_null()
    if left.any():
        unit = r"(?i)^([^ ]*) ?dbm$" if key == "rssi_dbm" else "^([^ ]*) ?%$"
        value = value.zip_with(~left, number(text.str.extract(unit, 1)))
    return _within(key, value, text)


def _seconds(text: pl.Series, factor: float) -> tuple[pl.Series, pl.Series]:
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
    return _within("seconds", value, text)


def _spelt_out(text: pl.Series) -> pl.Series:
    """Seconds of durations in any of the forms of DURATION; the commonest one first, by an expression that is quick."""
    plain = text.to_frame("x").select(pl.col("x").str.extract_groups(MINUTES)).unnest("x")
    minutes, seconds = plain["m"].cast(pl.Float64, strict=False), plain["s"].cast(pl.Float64, strict=False)
    value = (minutes * 60 + seconds).set((seconds >= 60).fill_null(False), None)
    left = value.is_null() & text.is_not_null()
    return value.zip_with(~left, _any_form(text.set(~left, None))) if left.any() else value


def _any_form(text: pl.Series) -> pl.Series:
    parts = text.to_frame("x").select(pl.col("x").str.extract_groups(DURATION)).unnest("x")
    p = {name: number(parts[name]) for name in parts.columns}
    frame = pl.DataFrame(p)
    col = pl.col
    minutes = col("m").is_null() | col("h").is_null() | (col("m") < 60)
    seconds = col("s").is_null() | (col("h").is_null() & col("m").is_null()) | (col("s") < 60)
    spelt = pl.any_horizontal(col("h", "m", "s").is_not_null()) & minutes & seconds
    clock = (col("cs") < 60) & (col("ch").is_null() | (col("cm") < 60))
    zero = {name: col(name).fill_null(0.0) for name in p}
    return frame.select(
        x=pl.when(col("ms").is_not_null()).then(col("ms") / 1000)
        .when(col("cm").is_not_null() & clock).then(zero["ch"] * 3600 + col("cm") * 60 + col("cs"))
        .when(spelt).then(zero["h"] * 3600 + zero["m"] * 60 + zero["s"])
    )["x"]  # fmt: skip


def _within(key: str, value: pl.Series, text: pl.Series) -> tuple[pl.Series, pl.Series]:
    low, high = limits(key)
    return value, text.is_not_null() & ~value.is_between(low, high).fill_null(False)
