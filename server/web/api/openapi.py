"""The description of /api/v1 (OpenAPI 3.1, https://spec.openapis.org/oas/v3.1.0), made from the types of the figures:
whatever is a field there is a property here.
"""

from dataclasses import fields
from functools import cache
from importlib.metadata import version
from typing import Any, get_type_hints

from pydantic import TypeAdapter

from server.alerts.engine import RULES
from server.analytics import exposure, figure_types, links, reception
from server.analytics.reception_changes import Kind
from server.analytics.traffic import BusyHour
from server.web.api.errors import ROOT
from shared.events import MODES, REASONS, SIDES

Schema = dict[str, Any]
TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer"}
YES_NO: Schema = {"type": "boolean"}
INSTANT: Schema = {"type": "string", "format": "date-time"}
DAY: Schema = {"type": "string", "format": "date"}
BY_MODE: Schema = {"type": "object", "additionalProperties": NUMBER, "propertyNames": {"enum": list(MODES)}}


def nullable(schema: Schema) -> Schema:
    """What may not be known."""
    return {"anyOf": [schema, {"type": "null"}]}


def items(schema: Schema) -> Schema:
    return {"type": "array", "items": schema}


def record(**properties: Schema) -> Schema:
    """An object that always has just these."""
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}


def typed(kind: type, leave: tuple[str, ...] = (), **instead: Schema) -> Schema:
    """The object that a dataclass becomes as JSON: its fields, but for those that `leave` names; `instead` are those
    that JSON has in another form, or besides.
    """
    hints = get_type_hints(kind)
    own = {one.name: _of_type(hints[one.name]) for one in fields(kind) if one.name not in (*leave, *instead)}
    return record(**own, **instead)


def _of_type(hint: Any) -> Schema:
    if hint == figure_types.Stations:
        return nullable(COUNT)  # the words that stand for a small count are for paper, not for JSON
    return TypeAdapter(hint).json_schema()


WINDOW = record(**{"from": INSTANT}, to=INSTANT, zone=TEXT, seconds=NUMBER, blind_s=NUMBER)
FULLEST = record(share=nullable(NUMBER), **{"from": nullable(INSTANT)}, to=nullable(INSTANT))
SLOTS: Schema = {"type": "object", "additionalProperties": NUMBER}
MODE = typed(figure_types.Mode, ("slots",), slot_s=SLOTS, both_slots_s=nullable(NUMBER))
FIGURES = typed(
    figure_types.Figures,
    window=WINDOW,
    channel=typed(figure_types.Channel),
    modes={"type": "object", "additionalProperties": MODE, "propertyNames": {"enum": list(MODES)}},
    shut_outs=nullable(items(typed(figure_types.ShutOutPair, held_by=TEXT, wanted=TEXT))),
    busy_hour=typed(BusyHour),
    duty=record(**{f"{minutes}min": FULLEST for minutes, _ in figure_types.Duty()}),
    talk=typed(figure_types.Talk),
    intake=typed(figure_types.LineCounts),
)
SHIFT = {name: nullable(NUMBER) for name in ("shift_db", "low_db", "high_db", "errors_pct")}
FEW: Schema = {"anyOf": [COUNT, {"const": str(figure_types.Withheld.FEWER)}]}  #: a count that hides a small group
RECEPTION = record(
    window=WINDOW,
    regulars=FEW,
    readings=COUNT,
    days=items(typed(reception.Day, day=DAY, stations=FEW)),
    changes=items(
        record(
            day=DAY, earliest=DAY, latest=DAY, **SHIFT, kind={"enum": [str(kind) for kind in Kind]},
            hours=nullable(items(COUNT)), modes=BY_MODE,
        )
    ),
)  # fmt: skip
SILENCE = record(**{"from": INSTANT}, to=nullable(INSTANT), seconds=NUMBER)
LINK_WEEK = typed(links.LinkWeek, ("start_us", "end_us"), **{"from": INSTANT}, week=TEXT, to=INSTANT)
LINKS = items(
    typed(
        links.LinkFigures,
        ("key", "quiet", "turned"),
        network=nullable(TEXT), mode=nullable({"enum": list(MODES)}), target=nullable(TEXT),
        outages=nullable(items(record(**{"from": INSTANT}, to=nullable(INSTANT)))),
        weekly_gap_s=nullable(NUMBER), silences=nullable(items(SILENCE)), weeks=items(LINK_WEEK),
    )
)  # fmt: skip
EXPOSURE = typed(
    exposure.Exposure,
    ("radiator",),
    window=WINDOW, frequency_mhz=nullable(NUMBER), eirp_w=nullable(NUMBER), ground_reflection=YES_NO,
    duty={"type": "object", "additionalProperties": nullable(NUMBER)}, limits=items(typed(exposure.Reached)),
    to_set=items(TEXT), caution=TEXT,
)  # fmt: skip
ALERTS = items(
    record(
        rule={"enum": list(RULES)}, raised=INSTANT, cleared=nullable(INSTANT), urgent=YES_NO, subject=TEXT, says=TEXT
    )
)
MODE_OR_NONE: Schema = nullable({"enum": list(MODES)})
SENT = {
    "mode": MODE_OR_NONE, "slot": nullable(COUNT), "side": nullable({"enum": list(SIDES)}),
    "from": INSTANT, "to": INSTANT,
}  # fmt: skip
ATTEMPT = record(at=INSTANT, mode=MODE_OR_NONE, reason=nullable({"enum": list(REASONS)}), wait_s=nullable(NUMBER))
LINK_DOWN = record(
    network=nullable(TEXT), mode=MODE_OR_NONE, target=nullable(TEXT), **{"from": INSTANT}, to=nullable(INSTANT)
)
MOMENT_TOLD = record(
    at=INSTANT, seen=YES_NO, on_air=nullable(items(record(**SENT))), held_by=MODE_OR_NONE, held_from=nullable(INSTANT),
    held_to=nullable(INSTANT), wanted=MODE_OR_NONE, wait_s=nullable(NUMBER), attempts=nullable(items(ATTEMPT)),
    timeouts=nullable(items(record(**SENT, estimated=YES_NO))), links_down=nullable(items(LINK_DOWN)),
    incidents=nullable(ALERTS), says=items(TEXT),
)  # fmt: skip
#: Name under /api/v1 -> (what it answers, the schema of the answer).
ANSWERS: dict[str, tuple[str, Schema]] = {
    "figures": ("The figures of a window.", FIGURES),
    "reception": ("How well the repeater hears: the shift of each day, and the changes.", RECEPTION),
    "links": ("How each link to other systems fared.", LINKS),
    "exposure": ("A first look at exposure: distances to published limits.", EXPOSURE),
    "moment": ("What held the repeater at a moment, and what happened within 15 minutes of it.", MOMENT_TOLD),
    "alerts": ("What was raised and cleared, oldest first; with a window, what was raised in it.", ALERTS),
}
MOMENT: Schema = {"type": "string", "pattern": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-9]{2}:[0-9]{2}.*)?$"}
WEEK: Schema = {"type": "string", "pattern": "^[0-9]{4}-[Ww][0-9]{2}$"}
MONTH: Schema = {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}$"}
WINDOW_QUERY = (
    ("from", MOMENT, "2026-11-16", "Where the window begins: a date or a date-time, local or with offset."),
    ("to", MOMENT, "2026-11-23", "Where the window ends; the instant itself is outside."),
    ("week", WEEK, "2026-W47", "A whole week, in place of from and to."),
    ("month", MONTH, "2026-11", "A whole month, in place of from and to."),
)  # fmt: skip
MOMENT_QUERY = (
    ("at", MOMENT, "2026-11-17T20:15", "The moment: a date-time, local or with offset."),
    ("mode", {"enum": list(MODES)}, "c4fm", "For a caller of this mode."),
)
REFUSALS = {
    "400": "The window can't be used, or none is named.",
    "401": "A password is set, and no token that is good was sent.",
    "421": "No password is set, and it was not this machine that asked.",
    "429": "Too many wrong tokens came from this address.",
    "503": "The store can't be read just now, or more was asked at once than can be answered.",
}


@cache
def description(prefix: str) -> Schema:
    """The document, for pages that lie under a prefix."""
    error: Schema = {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}
    refused: Schema = {status: {"description": says, "content": error} for status, says in REFUSALS.items()}
    paths: Schema = {}
    for name, (says, _) in ANSWERS.items():
        answer: Schema = {"application/json": {"schema": {"$ref": f"#/components/schemas/{name}"}}}
        paths[f"{ROOT}/{name}"] = {
            "get": {
                "operationId": name,
                "summary": says,
                "parameters": _query(MOMENT_QUERY if name == "moment" else WINDOW_QUERY),
                "responses": {"200": {"description": says, "content": answer}, **refused},
            }
        }
    schemas = {name: schema for name, (_, schema) in ANSWERS.items()}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "airtally",
            "version": version("airtally"),
            "description": "The figures of a repeater's log, as the commands of the same name print them with --json. "
            "What is not known is null. Name one window: from and to, or week, or month.",
        },
        "servers": [{"url": prefix or "/"}],
        "paths": paths,
        "components": {
            "schemas": {**schemas, "Error": record(error=TEXT)},
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
        "security": [{"token": []}, {}],
    }


def _query(names: tuple[tuple[str, Schema, str, str], ...]) -> list[Schema]:
    """The parameters of an address; only a moment can't do without one of them."""
    return [
        {
            "name": name,
            "in": "query",
            "required": name == "at",
            "description": says,
            "schema": schema,
            "example": example,
        }
        for name, schema, example, says in names
    ]
