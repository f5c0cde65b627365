"""Lines of JSON objects into columns of text.

polars decodes a whole column at once, but one broken line spoils its batch, the first of two equal keys wins there and
types are bent. So only lines that an expression has found to be plain go that way: flat objects, no \\u escapes, short
numbers, no key of ours twice. All others, which are few in most logs, take json.loads one by one."""

import json
import re
from collections.abc import Callable, Sequence
from typing import Any

import polars as pl

_TEXT = r'"(?:[^"\\\x00-\x1f]|\\["\\/bfnrt])*"'
# Numbers without exponent, and short enough to be exact.
_NUMBER = r"(?:0|-?[1-9][0-9]{0,14})|-?(?:0|[1-9][0-9]{0,8})\.[0-9]{1,6}"
_PAIR = rf"{_TEXT}[ \t]*:[ \t]*(?:{_TEXT}|{_NUMBER}|true|false|null)[ \t]*"
FLAT = rf"^[ \t]*\{{[ \t]*(?:{_PAIR}(?:,[ \t]*{_PAIR})*)?\}}[ \t]*$"


class Number(str):
    """The digits of a JSON number."""


def decode_plain(lines: pl.Series, keys: Sequence[str]) -> tuple[pl.Series, pl.DataFrame]:
    """Which lines (n,) are plain, and their values under `keys` as they stand (String, null where absent), a row a
    plain line.
    """
    schema = {key: pl.String() for key in keys}
    plain = lines.str.contains(FLAT)
    if not plain.any() or not all(re.fullmatch(r"[\x20-\x7e]+", key) and not set(key) & set('"\\') for key in keys):
        return pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(lines)), pl.DataFrame(schema=schema)
    some = lines.filter(plain)
    values = some.str.json_decode(pl.Struct(schema)).struct.unnest()
    names = "|".join(re.escape(key) for key in keys)
    key = rf'"(?:{names})"[ \t]*:'
    given = values.select(pl.sum_horizontal(pl.all().is_not_null().cast(pl.UInt32))).to_series()
    once = some.str.count_matches(key) == given
    doubtful = (~once).arg_true()  # a key twice, or one that is null
    if len(doubtful):
        named = some.gather(doubtful).str.extract_all(key).list.eval(pl.element().str.strip_chars(" \t:"))
        once = once.scatter(doubtful, named.list.n_unique() == named.list.len())
    if once.all():
        return plain, values
    rows = plain.to_frame("plain").with_columns(pl.int_range(pl.len()).alias("i")).filter("plain").filter(once)["i"]
    return pl.int_range(len(lines), eager=True).is_in(rows.implode()), values.filter(once)


def text_of(value: Any) -> str | None:
    """A scalar as text; None for null, lists and objects."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Number) and re.fullmatch(r"-?[0-9]+\.[0-9]+", value):
        return value.rstrip("0").rstrip(".")  # as the quick road has it
    return str(value) if isinstance(value, str) else None


def load_object(line: str) -> dict[str, Any] | None:
    """One line's object, its numbers as Number; None where the line isn't a JSON object."""
    try:
        value = json.loads(line, parse_int=Number, parse_float=Number, parse_constant=refuse_constant)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def refuse_constant(name: str) -> None:
    """NaN and Infinity, which Python's json would read, are no JSON (RFC 8259 section 6)."""
    raise ValueError(f"{name} is no JSON")


def read_objects(
    lines: pl.Series, paths: Sequence[str], as_text: Callable[[Any], str | None] = text_of
) -> tuple[pl.DataFrame, pl.Series]:
    """The values under `paths` (n rows of String) and which lines are objects. A path with dots leads into nested
    objects, unless there is a key of that very name.
    """
    schema = {path: pl.String() for path in paths}
    whole = pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(lines))
    plain, quick = (
        (whole, pl.DataFrame(schema=schema)) if any("." in path for path in paths) else decode_plain(lines, paths)
    )
    places = pl.int_range(len(lines), eager=True)
    rest = places.filter(~plain)
    slow: dict[str, list[str | None]] = {path: [] for path in paths}
    read: list[bool] = []
    for line in lines.gather(rest):
        value = load_object(line)
        row = None if value is None else _row(value, paths, as_text)
        read.append(row is not None)
        for path, text in zip(paths, row or [None] * len(paths), strict=True):
            slow[path].append(text)
    values = pl.concat([quick, pl.DataFrame(slow, schema=schema)])
    order = pl.concat([places.filter(plain), rest]).arg_sort()
    fine = pl.concat([plain.filter(plain), pl.Series(read, dtype=pl.Boolean)]).gather(order)
    return values[order], fine


def _row(value: dict[str, Any], paths: Sequence[str], as_text: Callable[[Any], str | None]) -> list[str | None] | None:
    row = []
    for path in paths:
        field: Any = value
        for step in [path] if path in value else path.split("."):
            field = field.get(step) if isinstance(field, dict) else None
        row.append(as_text(field))
    try:
        "".join(text or "" for text in row).encode()
    except UnicodeEncodeError:
        return None  # half of a surrogate pair: no text
    return row
