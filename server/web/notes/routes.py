"""The addresses of the notes."""

from fastapi import APIRouter
from fastapi.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import READ, House, Housed, PageError
from server.web.notes.compared import compared_view
from server.web.notes.view import Entry, entry_of, keep_entry, note_key, notes_view
from server.web.sign.forms import TOO_LONG_OPEN, form_page, is_good, posted
from shared.zones import DAY

routes = APIRouter(include_in_schema=False)


@routes.api_route("/notes", methods=READ)
def notes(request: Request, house: Housed) -> Response:
    return _page(house, request)


@routes.api_route("/notes/{key}", methods=READ)
def before_and_after(request: Request, house: Housed, key: str) -> Response:
    found = [one for one in house.source.notes() if note_key(one) == key]
    if not found:
        raise PageError(404, "No such note", "That note is gone, or never was.")
    page = ("compared", key, house.source.now() // DAY)
    return house.answer(
        request, page, "notes_compared.html", lambda frame: compared_view(house.source, found[0], frame)
    )


@routes.post("/notes")
async def enter(request: Request, house: Housed) -> Response:
    fields = await posted(request)
    entry = entry_of(fields)
    if not is_good(house, request, "notes", fields):
        return await run_in_threadpool(_page, house, request, TOO_LONG_OPEN, entry, 400)
    return await run_in_threadpool(_enter, house, request, fields.get("drop", ""), entry)


def _enter(house: House, request: Request, drop: str, entry: Entry) -> Response:
    """Drop a note, where the form names one, or keep one."""
    if drop:
        number = int(drop) if drop.isascii() and drop.isdecimal() and len(drop) < 19 else 0
        if not house.source.drop_note(number):
            return _page(house, request, "That note is gone already.", None, 404)
        return house.go_to("/notes")
    try:
        keep_entry(house.source, entry, house.frame())
    except ValueError as error:
        return _page(house, request, str(error), entry, 400)
    return house.go_to("/notes")


def _page(house: House, request: Request, trouble: str = "", entry: Entry | None = None, status: int = 200) -> Response:
    frame = house.frame()

    def view(token: str) -> object:
        return notes_view(house.source, frame, token, trouble, entry)

    return form_page(house, request, "notes", "notes.html", view, status)
