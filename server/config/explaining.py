"""What is wrong with a station file, in a sentence: which key, what it holds, what was expected."""

from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from server.config.station import Station
from shared.events import MODES


def first_problem(error: ValidationError) -> str:
    """Key and expectation of the first thing that is wrong, and the keys of the others."""
    first, *others = error.errors()
    where = _where(first)
    key = _spelt(where)
    if first["type"] == "extra_forbidden":
        sentence = f"{key}: is not a setting; known here: {', '.join(_known_beside(where))}."
    elif first["type"] == "missing":
        sentence = f"{key}: is missing."
    else:
        sentence = f"{key} = {_quoted(first['input'], where)}: {_expected(first, where)}."
    keys = [other for other in dict.fromkeys(_spelt(_where(problem)) for problem in others) if other != key]
    return sentence + (
        f" (Wrong too: {', '.join(keys[:KEYS_NAMED])}{' and more' if len(keys) > KEYS_NAMED else ''}.)" if keys else ""
    )


#: Settings that may hold a password or a token: what stands there is shown to nobody.
SECRET = {"store": {"url"}, "alerts": {"notify", "alive_url"}, "report": {"mail", "week"}, "web": {"address"}}
QUOTED = 100  # characters of a value


def _quoted(value: Any, where: Sequence[int | str]) -> str:
    """A wrong value as a sentence may show it."""
    if not SECRET.get(str(where[0]), set()).isdisjoint(map(str, where[1:])) or (len(where) == 1 and where[0] in SECRET):
        return "(not shown, as it may hold a password)"
    shown = repr(value)
    return shown if len(shown) <= QUOTED else f"{shown[:QUOTED]}..."


def _where(problem: Any) -> list[int | str]:
    return [part for part in problem["loc"] if isinstance(part, int) or not part.startswith(("literal[", "[key]"))]


def _spelt(where: Sequence[int | str]) -> str:
    return "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in where).lstrip(".")


KEYS_NAMED = 5  # of those that are wrong besides the first
#: What a text of some form looks like, by the last part of its key.
FORMS = {
    "quiet_hours": "two local times such as 23:00-07:00 were expected",
    "alive_url": "an http or https address was expected",
    "listen": "an address and a port such as 127.0.0.1:8087 were expected",
    "address": "an http or https address such as https://hill.example/airtally was expected",
    "path_prefix": "a path such as /airtally was expected",
}


def _expected(problem: Any, where: list[Any]) -> str:
    """What was expected, in words."""
    if problem["type"] == "string_pattern_mismatch" and where[-1] in FORMS:
        return FORMS[where[-1]]
    if problem["type"] == "list_type" and len(where) == 1 and where[0] in ("log", "target"):
        return f"write [[{where[0]}]] with two brackets on each side, once for each {where[0]}"
    if problem["type"] == "list_type":
        return "a list in square brackets was expected"
    message = problem["msg"].removeprefix("Value error, ")
    return f"{message[:1].lower()}{message[1:]}"


def _known_beside(where: list[Any]) -> list[str]:
    model: Any = Station
    for part in where[:-1]:
        if isinstance(part, str) and isinstance(model, type) and issubclass(model, BaseModel):
            note = model.model_fields[part].annotation
            model = (
                next(iter(getattr(note, "__args__", ())), note) if getattr(note, "__origin__", None) is list else note
            )
    return list(model.model_fields) if isinstance(model, type) and issubclass(model, BaseModel) else ["default", *MODES]
