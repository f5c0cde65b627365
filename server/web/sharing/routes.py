"""The addresses of the Sharing pages: sharing, replay, planning, changes."""

import asyncio
from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from server.analytics.replay_curves import Curve
from server.web.frame import Frame
from server.web.house import READ, House, Housed, PageError
from server.web.sharing.changes_view import change_lines, changes_view
from server.web.sharing.planning_view import planning_view
from server.web.sharing.replay_view import LONGEST_S, ReplayView, hold_curves, replay_view
from server.web.sharing.view import sharing_view
from server.web.sharing.window import Stretch, chosen_stretch
from server.web.sign.forms import TOO_LONG_OPEN, form_page, is_good, posted
from server.web.source import Source
from shared.events import MODES
from shared.zones import DAY, HOUR, instant

Query = Mapping[str, str]
routes = APIRouter(include_in_schema=False)


class HoldCurves:
    """Those of the days asked about last: whoever tries other timers asks for the same days again. Pages are made one
    at a time.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self._last: tuple[tuple[str, str], tuple[Curve, ...]] | None = None

    def of(self, stretch: Stretch) -> tuple[Curve, ...]:
        key = (self._source.version(), stretch.query)
        if self._last is None or self._last[0] != key:
            self._last = key, hold_curves(self._source, stretch)
        return self._last[1]


async def _hold_curves_of(request: Request) -> HoldCurves:
    curves: HoldCurves = request.app.state.hold_curves
    return curves


@routes.api_route("/sharing", methods=READ)
def sharing(request: Request, house: Housed) -> Response:
    stretch = _stretch(house, request.query_params)
    key = ("sharing", stretch.query, house.source.now() // HOUR)
    return house.answer(request, key, "sharing.html", lambda frame: sharing_view(house.source, stretch, frame))


@routes.api_route("/sharing/replay", methods=READ)
def replay(request: Request, house: Housed, curves: Annotated[HoldCurves, Depends(_hold_curves_of)]) -> Response:
    asked = request.query_params
    stretch, holds = _stretch(house, asked), _holds(asked)
    timeout = _number(asked["timeout"], "time-out", 0.001) if asked.get("timeout", "").strip() else None
    key = ("replay", stretch.query, tuple(sorted(holds.items())), timeout)

    def view(frame: Frame) -> ReplayView:
        return replay_view(house.source, stretch, holds, timeout, curves.of(stretch), frame)

    return house.answer(request, key, "sharing_replay.html", view)


@routes.api_route("/sharing/planning", methods=READ)
def planning(request: Request, house: Housed) -> Response:
    asked = request.query_params
    stretch, mode = _stretch(house, asked), asked.get("mode") or None
    if mode is not None and mode not in MODES:
        raise PageError(400, "No such mode", "The mode is none of those that the pages know: choose one from the list.")
    hours = (_hour(asked["begin"]), _hour(asked.get("end", ""))) if asked.get("begin") else None
    return house.answer(
        request,
        ("planning", stretch.query, mode, hours),
        "sharing_planning.html",
        lambda frame: planning_view(house.source, stretch, mode, hours, frame),
    )


@routes.api_route("/sharing/changes", methods=READ)
def changes(request: Request, house: Housed) -> Response:
    return _changes_form(house, request)


@routes.post("/sharing/changes")
async def enter(request: Request, house: Housed) -> Response:
    fields = await posted(request)
    on, note = fields.get("on", ""), fields.get("note", "")
    if not is_good(house, request, "changes", fields):
        return await asyncio.to_thread(_changes_form, house, request, TOO_LONG_OPEN, on, note, 400)
    try:
        await asyncio.to_thread(_enter, house, on, note)
    except ValueError as error:
        return await asyncio.to_thread(_changes_form, house, request, str(error), on, note, 400)
    return house.go_to("/sharing/changes")


def _changes_form(
    house: House, request: Request, trouble: str = "", on: str = "", note: str = "", status: int = 200
) -> Response:
    lines, frame = change_lines(house.source), house.frame()
    return form_page(
        house,
        request,
        "changes",
        "sharing_changes.html",
        lambda token: changes_view(lines, frame, token, trouble, on, note),
        status,
    )


def _stretch(house: House, asked: Query) -> Stretch:
    try:
        return chosen_stretch(house.source, asked.get("first"), asked.get("last"))
    except ValueError as error:
        raise PageError(400, "No such days", str(error)) from None


def _holds(asked: Query) -> dict[str, float]:
    """The holds that a form gives, by mode, in seconds."""
    texts = {mode: asked.get(f"hold_{mode}", "") for mode in MODES}
    return {mode: _number(text, f"hold of {mode}", 0) for mode, text in texts.items() if text.strip()}


def _number(text: str, what: str, least: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not least <= value <= LONGEST_S:
        raise PageError(
            400,
            "No such timer",
            f"The {what} must be a number of seconds up to {LONGEST_S:g}: change it and try again.",
        )
    return value


def _hour(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or not 0 <= int(text[:4]) <= 23:
        raise PageError(400, "No such hour", "Hours go from 0 to 23: choose them from the lists.")
    return int(text)


def _enter(house: House, on: str, note: str) -> None:
    """Keep a change. ValueError with a sentence where day or note can't be used."""
    try:
        at = instant(on if len(on) == 10 else "", house.source.station().zone)
    except (ValueError, OverflowError):
        raise ValueError("Give the day of the change, such as 2026-11-02.") from None
    if at > house.source.now() + DAY:
        raise ValueError("That day is still to come: enter the change once it is made.")
    house.source.add_timer_change(at, note)
