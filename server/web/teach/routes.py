"""/teach: lessons on logs, and what is new in followed ones. Only for whoever may see the pages at all
(server.web.guard).
"""

import asyncio
from dataclasses import replace

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.teaching.lesson import Lesson
from server.web.frame import Frame
from server.web.house import READ, House, Housed, PageError
from server.web.intake.view import IntakeView, intake_view
from server.web.sign.forms import form_page
from server.web.teach.classroom import Classroom, Taught
from server.web.teach.forms import PURPOSE, taught, text_of
from server.web.teach.view import TeachView, answers_of, lesson_view, news_of_log
from shared.errors import AirtallyError, StoreError

LARGEST_UPLOAD = 32 << 20
LARGEST_FORM = 1 << 20
routes = APIRouter(include_in_schema=False)


@routes.api_route("/teach", methods=READ)
def teach_page(request: Request, house: Housed, room: Taught) -> Response:
    return _begin_page(house, room, request)


@routes.post("/teach")
async def begin(request: Request, house: Housed, room: Taught) -> Response:
    fields = await taught(house, request, LARGEST_UPLOAD)
    upload = fields.get("upload")
    called, held = upload if isinstance(upload, tuple) else ("", b"")
    data = held if called else None
    name = (called or text_of(fields, "path") or text_of(fields, "file")).strip()
    if data is None and not name:
        trouble = "Choose a log, name its path, or upload one."
        return await asyncio.to_thread(_begin_page, house, room, request, trouble, 400)
    try:
        lesson = await room.learn(request, lambda left: room.teacher.lessons.begin(name, data, left))
    except StoreError:
        raise
    except AirtallyError as error:
        return await asyncio.to_thread(_begin_page, house, room, request, str(error), 400)
    return house.go_to(f"/teach/{lesson.id}")


@routes.api_route("/intake", methods=READ)
def intake(request: Request, house: Housed, room: Taught) -> Response:
    return _intake_page(house, room, request)


@routes.post("/teach/accept")
async def accept(request: Request, house: Housed, room: Taught) -> Response:
    fields = await taught(house, request, LARGEST_FORM)
    log, key = text_of(fields, "log"), text_of(fields, "key")
    try:
        done = await room.learn(request, lambda left: room.teacher.unread.accept(log, key))
    except StoreError:
        raise
    except AirtallyError as error:
        return await asyncio.to_thread(_intake_page, house, room, request, str(error), "", 400)
    return await asyncio.to_thread(_intake_page, house, room, request, "", done)


@routes.api_route("/teach/{id}", methods=READ)
def lesson_page(request: Request, house: Housed, room: Taught, id: str) -> Response:
    return _lesson_page(house, room, request, id)


@routes.post("/teach/{id}")
async def correct(request: Request, house: Housed, room: Taught, id: str) -> Response:
    fields = await taught(house, request, LARGEST_FORM)
    before = await asyncio.to_thread(_kept_lesson, room, id)
    answers = answers_of(before, {name: str(value) for name, value in fields.items()})
    try:
        await room.learn(request, lambda left: room.teacher.lessons.correct(id, answers, left))
    except AirtallyError as error:
        return await asyncio.to_thread(_lesson_page, house, room, request, id, str(error), "", 400)
    return house.go_to(f"/teach/{id}")


@routes.post("/teach/{id}/save")
async def save(request: Request, house: Housed, room: Taught, id: str) -> Response:
    fields = await taught(house, request, LARGEST_FORM)
    try:
        done = await asyncio.to_thread(room.teacher.lessons.save, id, text_of(fields, "name").strip())
    except AirtallyError as error:
        return await asyncio.to_thread(_lesson_page, house, room, request, id, str(error), "", 400)
    return await asyncio.to_thread(_lesson_page, house, room, request, id, "", done)


def _kept_lesson(room: Classroom, id: str) -> Lesson:
    lesson = room.teacher.lessons.lesson(id)
    if lesson is None:
        raise PageError(404, "No such lesson", "This lesson is no longer kept: begin again on the teaching page.")
    return lesson


def _begin_page(house: House, room: Classroom, request: Request, trouble: str = "", status: int = 200) -> Response:
    files, frame = tuple(room.teacher.lessons.files()), house.frame()

    def view(token: str) -> TeachView:
        return TeachView(frame.shell("Teach a log", "/intake"), frame.to("/teach"), token, files, trouble)

    return form_page(house, request, PURPOSE, "teach.html", view, status)


def _lesson_page(
    house: House, room: Classroom, request: Request, id: str, trouble: str = "", done: str = "", status: int = 200
) -> Response:
    lesson, frame = _kept_lesson(room, id), house.frame()
    return form_page(
        house,
        request,
        PURPOSE,
        "teach_lesson.html",
        lambda token: lesson_view(lesson, frame, token, trouble, done),
        status,
    )


def _intake_page(
    house: House, room: Classroom, request: Request, trouble: str = "", done: str = "", status: int = 200
) -> Response:
    """The Intake page with what is new in its logs; from the cache where nothing is."""
    found = [(log.name, room.teacher.unread.news(log.name)) for log in house.source.intake()]
    news = tuple(news_of_log(name, new) for name, new in found if new.news or new.again)
    proxies = house.untrusted_proxies()

    def plain(frame: Frame) -> IntakeView:
        return replace(intake_view(house.source, frame, proxies), teach=frame.to("/teach"))

    if not news and not trouble and not done:
        return house.answer(request, ("intake", "teach", proxies), "intake.html", plain)
    frame = house.frame()
    view = replace(plain(frame), news=news, accept=frame.to("/teach/accept"), trouble=trouble, done=done)
    return form_page(house, request, PURPOSE, "intake.html", lambda token: replace(view, token=token), status)
