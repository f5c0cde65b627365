"""Templates to bytes, and the cache of rendered pages."""

import gzip
import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import Response

from server.web.definitions import ANCHORS

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"
FILES = {
    "style.css": "text/css; charset=utf-8",
    "icon.svg": "image/svg+xml",
    "explore.js": "text/javascript; charset=utf-8",
}
KEPT = 64  # pages
HTML = "text/html; charset=utf-8"


@dataclass(frozen=True)
class Rendered:
    """A body as it goes over the wire, plain and gzipped."""

    plain: bytes
    packed: bytes
    tag: str

    @classmethod
    def of(cls, plain: bytes) -> "Rendered":
        return cls(plain, gzip.compress(plain, 6, mtime=0), f'"{hashlib.sha256(plain).hexdigest()[:20]}"')

    def answer(self, request: Request, media: str, cache: str) -> Response:
        """The response that suits what the browser takes and has already."""
        headers = {"ETag": self.tag, "Cache-Control": cache, "Vary": "Accept-Encoding, Cookie"}
        if self.tag in request.headers.get("if-none-match", ""):
            return Response(status_code=304, headers=headers)
        if _takes_gzip(request.headers.get("accept-encoding", "")):
            return Response(self.packed, media_type=media, headers={**headers, "Content-Encoding": "gzip"})
        return Response(self.plain, media_type=media, headers=headers)


def _takes_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding has gzip, and not with q=0."""
    for choice in accepted.lower().split(","):
        name, _, weight = choice.partition(";")
        if name.strip() == "gzip":
            return weight.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False


def environment() -> Environment:
    """The templates: everything escaped, an unknown name is an error. `anchor` gives the place of a figure's
    definition."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["anchor"] = ANCHORS.__getitem__
    return made


def context(view: Any) -> dict[str, Any]:
    """What a template gets: the fields of its view, and nothing else."""
    return {field.name: getattr(view, field.name) for field in fields(view)}


def fixed_files() -> tuple[dict[str, str], dict[str, tuple[Rendered, str]]]:
    """Style sheet and icon: name -> path with the fingerprint of what it holds, and path -> (content, media type)."""
    paths: dict[str, str] = {}
    contents: dict[str, tuple[Rendered, str]] = {}
    for name, media in FILES.items():
        body = (TEMPLATES / name).read_bytes()
        stem, _, ending = name.rpartition(".")
        paths[name] = f"/static/{stem}.{hashlib.sha256(body).hexdigest()[:12]}.{ending}"
        contents[paths[name]] = (Rendered.of(body), media)
    return paths, contents


class PageCache:
    """The pages rendered last, by a key that holds all they depend on. One page is made at a time: the machine on the
    hill is small, and whoever asks for the same page meanwhile gets it from here. A page that is kept waits for none.
    """

    def __init__(self, kept: int = KEPT) -> None:
        self._kept = kept
        self._pages: OrderedDict[tuple[object, ...], Rendered] = OrderedDict()
        self._making, self._keeping = threading.Lock(), threading.Lock()

    def get_or_make(self, key: tuple[object, ...], make: Callable[[], bytes]) -> Rendered:
        page = self._page(key)
        if page is not None:
            return page
        with self._making:
            page = self._page(key)
            if page is None:
                page = Rendered.of(make())
                self._keep(key, page)
            return page

    def _page(self, key: tuple[object, ...]) -> Rendered | None:
        with self._keeping:
            if key in self._pages:
                self._pages.move_to_end(key)
            return self._pages.get(key)

    def _keep(self, key: tuple[object, ...], page: Rendered) -> None:
        with self._keeping:
            self._pages[key] = page
            while len(self._pages) > self._kept:
                self._pages.popitem(last=False)
