"""Every link, form action and redirect of every page leads somewhere, with and without a path prefix."""

import re
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin

import pytest

from tests.web.conftest import Opened
from tests.web.test_access import sign_in
from tests.web.web_fakes import FakeSource, empty_source, hostile_source

ADDRESSES = {"href", "src", "action", "data", "poster", "formaction"}


class Addresses(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ids: set[str] = set()
        self.fills: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ADDRESSES:
                self.found.append(value or "")
            elif name == "id":
                self.ids.add(value or "")
            elif name in ("fill", "stroke") and (found := re.fullmatch(r"url\(#(.+)\)", value or "")):
                self.fills.add(found[1])


@pytest.mark.parametrize("prefix", ["", "/airtally", "/club/hill"])
@pytest.mark.parametrize("stripped", [False, True], ids=["passed on whole", "stripped by the proxy"])
@pytest.mark.parametrize(
    "source", [FakeSource(), empty_source(), hostile_source()], ids=["brackenfell", "empty", "hostile"]
)
def test_everything_that_pages_link_to_is_there(
    open_pages: Opened, password: str, prefix: str, stripped: bool, source: FakeSource
) -> None:
    client = open_pages(source, base_url="http://hill.example", path_prefix=prefix)
    cut = len(prefix) if stripped else 0
    if stripped:  # a proxy that takes the prefix off; cookies are for the path that the browser sees
        client.event_hooks["request"] = [lambda request: _strip(request, cut)]
    assert sign_in(client, prefix=prefix).status_code == 303
    waiting, pages = [f"{prefix}/"], {}
    wanted: list[tuple[str, str, str]] = []
    while waiting:
        path = waiting.pop()
        if path in pages:
            continue
        answer = client.get(path)
        assert answer.status_code < 400, (path, answer.status_code)
        pages[path] = Addresses(answer.text if answer.headers.get("content-type", "").startswith("text/html") else "")
        found = [*pages[path].found, *([answer.headers["location"]] if answer.is_redirect else [])]
        for address in found:
            assert address.startswith(("#", f"{prefix}/")), (path, address)
            target, fragment = urldefrag(urljoin(path, address))
            if "/explore?" in path and "/explore?" in target:
                continue  # any stretch leads to others without end
            wanted.append((path, target, fragment))
            waiting.append(target)
    assert len(pages) > 6
    for path, target, fragment in wanted:
        if fragment:
            assert fragment in pages[target].ids, (path, target, fragment)
    for path, page in pages.items():
        assert page.fills <= page.ids, path


def _strip(request, cut: int) -> None:  # type: ignore[no-untyped-def]
    request.url = request.url.copy_with(raw_path=request.url.raw_path[cut:] or b"/")


@pytest.mark.parametrize("path", ["/", "/intake", "/week/x", "/nowhere", "/login"])
def test_under_a_prefix_a_stranger_is_redirected_under_it_and_the_cookie_is_for_it(
    open_pages: Opened, password: str, path: str
) -> None:
    client = open_pages(base_url="http://hill.example", path_prefix="/airtally")
    answer = client.get(f"/airtally{path}")
    if path == "/login":
        assert "path=/airtally" in answer.headers["set-cookie"].lower()
    else:
        assert answer.headers["location"].startswith("/airtally/login")


def test_the_prefix_without_its_slash_leads_to_the_front_page(open_pages: Opened) -> None:
    answer = open_pages(path_prefix="/airtally").get("/airtally")
    assert answer.status_code == 308 and answer.headers["location"] == "/airtally/"
