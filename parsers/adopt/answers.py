"""What the keeper says, as TOML: answers to questions, and events and holes set by hand."""

import json
import re
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from parsers.adopt.model import Known
from parsers.constants import IGNORE, KEYS, WORD_KEYS
from parsers.time_forms import time_form
from shared.errors import UnusableError
from shared.events import EVENTS

TABLES = ("mode", "side", "slot", "cause", "reason")
PLAIN = ("zone", "time", "seconds", "stamp")
NONE = "none"


def known_from(values: Mapping[str, Any], where: str) -> Known:
    """The answers of a file, checked. Raises UnusableError with what is wrong at `where`."""
    for key in values:
        if key not in (*PLAIN, *TABLES, "event", "hole"):
            raise UnusableError(
                f"{where}: '{key}' is no answer; known are {', '.join((*PLAIN, *TABLES, 'event', 'hole'))}."
            )
    words: dict[str, dict[str, Any]] = {}
    for table in TABLES:
        for spelling, said in _table(values, table, where).items():
            words.setdefault(table, {})[spelling] = _word(table, said, f"{where}: {table}.{spelling}")
    for key in PLAIN:
        if key in values:
            _plain(key, values[key], where)
    events = {shape: str(event) for shape, event in _table(values, "event", where).items()}
    for shape, event in events.items():
        if event not in (*EVENTS, IGNORE):
            raise UnusableError(
                f"{where}: event of “{shape}” can't be '{event}'; expected {', '.join((*EVENTS, IGNORE))}."
            )
    holes = {
        shape: {str(place): str(key) for place, key in _table(_table(values, "hole", where), shape, where).items()}
        for shape in _table(values, "hole", where)
    }
    for shape, keys in holes.items():
        for key in keys.values():
            if key not in ("_", "duration", *KEYS):
                raise UnusableError(
                    f"{where}: a hole of “{shape}” can't be '{key}'; expected _, duration or one of {', '.join(KEYS)}."
                )
    return Known(**{key: values.get(key) for key in PLAIN}, words=words, events=events, holes=holes)


def _table(values: Mapping[str, Any], key: str, where: str) -> Mapping[str, Any]:
    found = values.get(key, {})
    if not isinstance(found, Mapping):
        raise UnusableError(f'{where}: {key} must be a table such as [{key}] with "its spelling" = "ours".')
    return found


def _word(table: str, said: Any, where: str) -> Any:
    if isinstance(said, Mapping):
        return {key: _word(key, value, where) for key, value in said.items()}
    if said in ("", NONE):
        return ""
    if table == "mode" and (slotted := re.fullmatch(r"dmr[ /,-]*([12])", str(said))):
        return {"mode": "dmr", "slot": int(slotted[1])}
    if table == "slot":
        if str(said) not in ("1", "2"):
            raise UnusableError(f"{where} can't be {said!r}; expected 1, 2 or {NONE}.")
        return int(said)
    if said not in WORD_KEYS.get(table, ()):
        raise UnusableError(f"{where} can't be {said!r}; expected {', '.join(WORD_KEYS.get(table, ()))} or {NONE}.")
    return said


def _plain(key: str, value: Any, where: str) -> None:
    try:
        if key == "zone":
            ZoneInfo(value)
        elif key == "time":
            time_form(value)
        elif key == "stamp" and value not in ("event", "end"):
            raise ValueError("expected event or end")
        elif key == "seconds" and not (value in ("s", "ms") or str(value).startswith("frames:")):
            raise ValueError("expected s, ms, or frames with their length such as frames:20ms")
    except (ValueError, OSError, TypeError, KeyError) as error:
        raise UnusableError(f"{where}: {key} can't be {value!r}: {error}.") from error


def with_answer(values: dict[str, Any], key: str, said: str) -> dict[str, Any]:
    """The answers with one more, under a question's key."""
    table, dot, spelling = key.partition(".")
    if not dot:
        return {**values, key: said}
    if table == "hole":  # said is the number of the hole that is the length
        return {**values, table: {**values.get(table, {}), spelling: {said: "duration"}}}
    return {**values, table: {**values.get(table, {}), spelling: said}}


def answers_text(values: Mapping[str, Any]) -> str:
    """Answers as TOML."""
    plain = [f"{key} = {json.dumps(value)}" for key, value in values.items() if not isinstance(value, Mapping)]
    out = ["# What was answered to `airtally adopt`; given with --answers it is not asked again.", *plain]
    for table, words in values.items():
        if isinstance(words, Mapping) and table != "hole":
            out += ["", f"[{table}]", *(f"{json.dumps(k, ensure_ascii=False)} = {_value(v)}" for k, v in words.items())]
    for shape, keys in values.get("hole", {}).items():
        out += [
            "",
            f"[hole.{json.dumps(shape, ensure_ascii=False)}]",
            *(f"{json.dumps(str(k))} = {_value(v)}" for k, v in keys.items()),
        ]
    return "\n".join(out) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {json.dumps(one)}" for key, one in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)
