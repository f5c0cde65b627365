"""The forms of the teaching pages: larger than others, and with a file."""

import re
from collections.abc import Mapping
from typing import Any

from starlette.datastructures import UploadFile
from starlette.requests import Request

from server.web.house import House, PageError
from server.web.sign.forms import is_good, require_own_page

PURPOSE = "teach"


async def taught(house: House, request: Request, largest: int) -> dict[str, Any]:
    """The fields of a form from a page of ours; a file is its name and its content. PageError where it is none."""
    require_own_page(request)
    length = request.headers.get("content-length", "")
    if not re.fullmatch("[0-9]{1,12}", length) or int(length) > largest:
        raise PageError(
            413,
            "Too much",
            f"The form holds more than these pages take ({largest >> 20} MB): teach a part of the log.",
        )
    posted = await request.form(max_files=1, max_fields=2000, max_part_size=largest)
    fields: dict[str, Any] = {}
    for key, value in posted.items():
        fields[key] = (value.filename or "", await value.read()) if isinstance(value, UploadFile) else value
    await posted.close()
    if not is_good(house, request, PURPOSE, fields):
        raise PageError(400, "Try again", "This form was open for too long, or cookies are off: open the page again.")
    return fields


def text_of(fields: Mapping[str, Any], name: str) -> str:
    """A field as text, as far as it is text."""
    value = fields.get(name, "")
    return value if isinstance(value, str) else ""
