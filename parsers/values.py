"""Captured texts into typed columns: this host's words, its units, its ways to write a number."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from operator import or_
from typing import Any

import polars as pl

from parsers.constants import IGNORE, NUMBER_KEYS, WORD_KEYS, limits
from shared.columns import EVENT_SCHEMA
from shared.events import COUNT_KEYS, TEXT_KEYS, TEXT_LIMIT

OURS: dict[str, dict[str, Any]] = {key: {word: word for word in words} for key, words in WORD_KEYS.items()} | {
    "slot": {"1": 1, "2": 2}
}
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


def typed(captured: pl.DataFrame, meanings: Meanings) -> tuple[pl.DataFrame, pl.Series]:
    """Event columns for captured texts (columns row, shape, and holes as String), and which rows hold something that
    can't be.

    A hole's own value comes first, then what a word of another hole gives, then the shape's constants. An empty hole is
    not given. Every column is read as most hosts write it; only one that then lacks a value is read again in every way.
    """
    holes = captured.drop("row", "shape", "t", strict=False)
    texts = {column.name: _text_of(column, meanings) for column in holes}
    values, wrong = _own_values(texts, meanings)
    shape = captured["shape"]
    values["line"] = captured["row"]
    values["event"] = _by_shape(shape, [None if event == IGNORE else event for event in meanings.events], "event")
    for key in EVENT_SCHEMA:
        for given in _given(key, texts, shape, meanings):
            values[key] = _first(values[key], given) if key in values else given
    for key in EVENT_SCHEMA.keys() - values:
        values[key] = pl.Series([None], dtype=EVENT_SCHEMA[key]).new_from_index(0, len(captured))
    frame = pl.DataFrame([values[key].alias(key) for key in EVENT_SCHEMA])
    wrong.append((frame["event"] == "over") & frame["seconds"].is_null())
    return frame, reduce(or_, (flags.fill_null(False) for flags in wrong))


def _text_of(column: pl.Series, meanings: Meanings) -> pl.Series:
    """What a hole gives as text, null where it gives nothing."""
    key, text = key_of(column.name), _emptied(column.str.strip_chars(), lambda text: text == "")
    if key in NUMBER_KEYS and key in meanings.words:  # words that stand where the host has no number
        return text.replace(dict.fromkeys(meanings.words[key]))
    return text


def _own_values(texts: Mapping[str, pl.Series], meanings: Meanings) -> tuple[dict[str, pl.Series], list[pl.Series]]:
    """By key the values of its own holes, and which rows hold something that can't be."""
    values: dict[str, pl.Series] = {}
    wrong = []
    for hole, text in texts.items():
        key = key_of(hole)
        value = _as_most(key, text, meanings)
        if value.null_count() > text.null_count():
            value, bad = _in_every_way(key, text, meanings)
            wrong.append(bad)
        # A dialect may have {duration} in one shape and {seconds} in another; never both in one.
        values[key] = _first(values[key], value) if key in values else value
    return values, wrong + [_impossible(key, value) for key, value in values.items() if key not in OURS]


def key_of(hole: str) -> str:
    """The key that a hole gives a value of."""
    return "seconds" if hole == "duration" else hole


def _emptied(column: pl.Series, where: Callable[[pl.Series], pl.Series]) -> pl.Series:
    """The column with nulls in some places, which most columns don't have."""
    places = where(column)
    return column.set(places, None) if places.any() else column


def _as_most(key: str, text: pl.Series, meanings: Meanings) -> pl.Series:
    """A column's values as most hosts write them: by a table, or as a plain number with its unit; null for any
    other.
    """
    if key in OURS:
        return _lookup(text, _spellings(key, meanings), key)
    if key in TEXT_KEYS:
        return _worded_text(key, text, meanings)
    if key in COUNT_KEYS:
        return text.cast(pl.Int64, strict=False)
    factor = meanings.seconds_factor if key == "seconds" else meanings.percent_factor.get(key, 1.0)
    bare = text.str.strip_suffix("s" if key == "seconds" else _unit(key)) if factor == 1.0 else text
    return _emptied(bare.cast(pl.Float64, strict=False) * factor, lambda value: ~value.is_finite())


def _worded_text(key: str, text: pl.Series, meanings: Meanings) -> pl.Series:
    """Texts as they stand, but for the host's words that [words] gives another meaning, or none."""
    host = meanings.words.get(key, {})
    if not host:
        return text
    return text.replace({word: means.get(key) or None for word, means in host.items()})


def _in_every_way(key: str, text: pl.Series, meanings: Meanings) -> tuple[pl.Series, pl.Series]:
    """The values of a column, and where there is a text that is none."""
    if key in OURS:
        return _worded(key, text, meanings)
    if key in TEXT_KEYS:
        return _worded_text(key, text, meanings), pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(text))
    if key in COUNT_KEYS:
        value = _whole(number(text))
    else:
        value = _seconds(text, meanings.seconds_factor) if key == "seconds" else _level(key, text, meanings)
    return value, text.is_not_null() & value.is_null()


def _given(key: str, texts: Mapping[str, pl.Series], shape: pl.Series, meanings: Meanings) -> Iterator[pl.Series]:
    """What is given for a key besides its own hole: by words of other holes, then by the shape's constants."""
    for table, words in meanings.words.items():
        means = {word: given[key] for word, given in words.items() if key in given}
        if means and table != key and table in texts:
            yield _lookup(texts[table], means, key)
    if any(key in given for given in meanings.sets):
        yield _by_shape(shape, [given.get(key) for given in meanings.sets], key)


def _first(first: pl.Series, then: pl.Series) -> pl.Series:
    """The first column, and the other where it has nothing."""
    return first.zip_with(first.is_not_null(), then) if first.null_count() else first


def _impossible(key: str, value: pl.Series) -> pl.Series:
    """Where a number or a text can't be."""
    if key in NUMBER_KEYS:
        return ~value.is_between(*limits(key))
    return (value.str.len_chars() > TEXT_LIMIT) | value.str.contains("\0", literal=True)


def _by_shape(shape: pl.Series, values: Sequence[Any], key: str) -> pl.Series:
    return pl.Series(values, dtype=EVENT_SCHEMA[key], strict=False).gather(shape)


def _lookup(text: pl.Series, means: Mapping[str, Any], key: str) -> pl.Series:
    """What texts mean, null for any other text."""
    codes = text.cast(pl.Enum(list(means)), strict=False).to_physical()
    return pl.Series(list(means.values()), dtype=EVENT_SCHEMA[key], strict=False).gather(codes)


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


def _whole(value: pl.Series) -> pl.Series:
    """Int64 of whole numbers, null for any other."""
    return value.cast(pl.Int64, strict=False).set((value != value.round()).fill_null(False), None)


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
        value = value.zip_with(~left, number(text.str.extract("(?i)^([^ a-z]*) ?(?:s|secs?|seconds?)$", 1)))
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
