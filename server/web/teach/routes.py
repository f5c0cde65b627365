"""/teach: lessons on logs, and what is new in followed ones. Only for whoever may see the pages at all
(server.web.guard).
"""

import asyncio
import re
import secrets
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.bounded import OneAtATime
from server.web.guard import SESSION_COOKIE, from_our_own_page
from server.web.intake.view import intake_view
from server.web.pages import PRIVATE, READ, House, PageError
from server.web.rendering import HTML
from server.web.sign.auth import FORM_S, Sessions
from server.web.sign.routes import FORM_COOKIE, set_cookie
from server.web.teach.source import Teacher
from server.web.teach.view import TeachView, answers_of, lesson_view, news_of_log
from shared.errors import AirtallyError, StoreError

LARGEST_UPLOAD = 32 << 20
LARGEST_TEACH_FORM = 1 << 20
PURPOSE = "teach"
Left = Callable[[], bool]


def teach_routes(house: House, sessions: Sessions, teacher: Teacher) -> APIRouter:
    """The routes of the teaching pages."""
    routes = APIRouter(include_in_schema=False)
    at_work = OneAtATime()
    learners = ThreadPoolExecutor(8, "learning")  # of its own: who waits for a lesson keeps nobody from a page

    def page(request: Request, template: str, view: Callable[[str], Any], status: int = 200) -> Response:
        visitor = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(18)
        answer = Response(
            house.draw(template, view(sessions.form_token(PURPOSE, visitor))),
            status,
            media_type=HTML,
            headers={"Cache-Control": "no-store"},
        )
        set_cookie(answer, request, FORM_COOKIE, visitor, FORM_S, house.options.path_prefix)
        return answer

    def shell(title: str) -> Any:
        station = house.source.station()
        return house.links.shell(title, f"{station.callsign} {station.name}".strip(), "/intake", house.signed_in())

    def begin_page(request: Request, trouble: str = "", status: int = 200) -> Response:
        files = tuple(teacher.files())
        return page(
            request,
            "teach.html",
            lambda token: TeachView(shell("Teach a log"), house.links.to("/teach"), token, files, trouble),
            status,
        )

    def lesson_page(request: Request, id: str, trouble: str = "", done: str = "", status: int = 200) -> Response:
        lesson = teacher.lesson(id)
        if lesson is None:
            raise PageError(404, "No such lesson", "This lesson is no longer kept: begin again on the teaching page.")
        return page(
            request,
            "teach_lesson.html",
            lambda token: lesson_view(lesson, house.links, shell("Teach a log"), token, trouble, done),
            status,
        )

    def intake_page(request: Request, trouble: str = "", done: str = "", status: int = 200) -> Response:
        """The Intake page with what is new in its logs; from the cache where nothing is."""
        found = [(log.name, teacher.news(log.name)) for log in house.source.intake()]
        news = tuple(news_of_log(name, one) for name, one in found if one.news or one.again)
        teach, proxies = house.links.to("/teach"), house.untrusted_proxies()
        if not news and not trouble and not done:
            kept = house.page(
                ("intake", "teach", proxies),
                "intake.html",
                lambda signed: replace(intake_view(house.source, house.links, signed, proxies), teach=teach),
            )
            return kept.answer(request, HTML, PRIVATE)
        view = replace(
            intake_view(house.source, house.links, house.signed_in(), proxies),
            teach=teach,
            news=news,
            accept=house.links.to("/teach/accept"),
            trouble=trouble,
            done=done,
        )
        return page(request, "intake.html", lambda token: replace(view, token=token), status)

    async def form(request: Request, largest: int) -> dict[str, Any]:
        """The fields of a form from a page of ours. PageError where it is none."""
        if not from_our_own_page(request):
            raise PageError(
                403, "Refused", "This form came from another site's page: open these pages and try again there."
            )
        length = request.headers.get("content-length", "")
        if not re.fullmatch("[0-9]{1,12}", length) or int(length) > largest:
            raise PageError(
                413,
                "Too much",
                f"The form holds more than these pages take ({largest >> 20} MB): teach a part of the log.",
            )
        fields = await request.form(max_files=1, max_fields=2000, max_part_size=largest)
        said: dict[str, Any] = {}
        for key, value in fields.items():
            said[key] = (value.filename or "", await value.read()) if isinstance(value, UploadFile) else value
        await fields.close()
        if not sessions.form_good(PURPOSE, request.cookies.get(FORM_COOKIE), str(said.get("token", ""))):
            raise PageError(
                400, "Try again", "This form was open for too long, or cookies are off: open the page again."
            )
        return said

    async def learn(request: Request, work: Callable[[Left], Any]) -> Any:
        """What `work` gives; ended when the visitor leaves, or asks for something else."""
        who = request.cookies.get(SESSION_COOKIE) or request.cookies.get(FORM_COOKIE) or ""
        left = threading.Event()
        learning = asyncio.get_running_loop().run_in_executor(learners, at_work.run, who, work, left.is_set)
        try:
            while not (await asyncio.wait({learning}, timeout=0.25))[0]:
                if await request.is_disconnected():
                    left.set()
            return learning.result()
        finally:
            left.set()

    @routes.api_route("/teach", methods=READ)
    async def teach(request: Request) -> Response:
        return await asyncio.to_thread(begin_page, request)

    @routes.post("/teach")
    async def begin(request: Request) -> Response:
        said = await form(request, LARGEST_UPLOAD)
        upload = said.get("upload")
        called, held = upload if isinstance(upload, tuple) else ("", b"")
        data = held if called else None
        name = called or _text(said, "path") or _text(said, "file")
        if data is None and not name.strip():
            return await asyncio.to_thread(begin_page, request, "Choose a log, name its path, or upload one.", 400)
        try:
            lesson = await learn(request, lambda left: teacher.begin(name.strip(), data, left))
        except StoreError:
            raise
        except AirtallyError as error:
            return await asyncio.to_thread(begin_page, request, str(error), 400)
        return RedirectResponse(house.links.to(f"/teach/{lesson.id}"), 303)

    @routes.api_route("/intake", methods=READ)
    async def intake(request: Request) -> Response:
        return await asyncio.to_thread(intake_page, request)

    @routes.post("/teach/accept")
    async def accept(request: Request) -> Response:
        said = await form(request, LARGEST_TEACH_FORM)
        log = _text(said, "log")
        try:
            done = await learn(request, lambda left: teacher.accept(log, _text(said, "key")))
        except StoreError:
            raise
        except AirtallyError as error:
            return await asyncio.to_thread(intake_page, request, str(error), "", 400)
        return await asyncio.to_thread(intake_page, request, "", done)

    @routes.api_route("/teach/{id}", methods=READ)
    async def lesson(request: Request, id: str) -> Response:
        return await asyncio.to_thread(lesson_page, request, id)

    @routes.post("/teach/{id}")
    async def correct(request: Request, id: str) -> Response:
        said = await form(request, LARGEST_TEACH_FORM)
        before = await asyncio.to_thread(teacher.lesson, id)
        if before is None:
            raise PageError(404, "No such lesson", "This lesson is no longer kept: begin again on the teaching page.")
        answers = answers_of(before, {name: str(value) for name, value in said.items()})
        try:
            await learn(request, lambda left: teacher.correct(id, answers, left))
        except AirtallyError as error:
            return await asyncio.to_thread(lesson_page, request, id, str(error), "", 400)
        return RedirectResponse(house.links.to(f"/teach/{id}"), 303)

    @routes.post("/teach/{id}/save")
    async def save(request: Request, id: str) -> Response:
        said = await form(request, LARGEST_TEACH_FORM)
        try:
            done = await asyncio.to_thread(teacher.save, id, _text(said, "name").strip())
        except AirtallyError as error:
            return await asyncio.to_thread(lesson_page, request, id, str(error), "", 400)
        return await asyncio.to_thread(lesson_page, request, id, "", done)

    return routes


def _text(said: Mapping[str, Any], field: str) -> str:
    """A field of a form as text, as far as it is text."""
    value = said.get(field, "")
    return value if isinstance(value, str) else ""
