"""Every shut-out, time-out and incident that a page tells of leads to its moment."""

import html
import re
from urllib.parse import parse_qs, urlsplit

import pytest

from server.telling.addresses import moment_path
from shared.zones import iso
from tests.web.conftest import Opened
from tests.web.web_fakes import NOW, WEEK, FakeSource


def moments(page: str) -> list[str]:
    return [html.unescape(one) for one in re.findall(r'href="(/moment\?at=[^"]+)"', page)]


@pytest.mark.parametrize(
    "path", [f"/week/{WEEK}", "/sharing?first=2026-11-16&last=2026-11-22", "/month/2026-10", "/transmitter", "/"]
)
def test_pages_lead_to_moments_that_are_there(open_pages: Opened, path: str) -> None:
    client = open_pages()
    found = moments(client.get(path).text)
    assert found and all(client.get(one).status_code == 200 for one in found[:4])


def test_a_list_is_cut_and_says_how_much_is_left_out(open_pages: Opened) -> None:
    page = open_pages(FakeSource()).get(f"/week/{WEEK}").text
    assert "The longest waits, and their moments" in page and "more refused calls." in page.replace("\u00a0", " ")
    assert len(moments(page)) == 12


def test_the_address_of_a_moment_keeps_its_fraction_of_a_second() -> None:
    at = NOW + 1
    (text,) = parse_qs(urlsplit(moment_path(at)).query)["at"]
    assert text.replace("Z", "+00:00") == iso(at)
