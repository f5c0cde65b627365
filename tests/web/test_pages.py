"""The pages themselves: what they hold, what they weigh, and that what came from outside stays text."""

import gzip
import importlib
import inspect
import pkgutil
import re
import threading
from dataclasses import fields, is_dataclass
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from jinja2 import meta

import server.web
from server.service import Fault
from server.web.definitions import ANCHORS, definitions_file, render
from server.web.rendering import TEMPLATES, PageCache, environment, fixed_files
from server.web.shell import PAGES
from shared.zones import DAY, SECOND
from tests.figures_like import changed
from tests.web.conftest import Opened
from tests.web.web_fakes import (
    EXAMPLES,
    HOSTILE,
    NOW,
    START,
    WEEK,
    FakeSource,
    empty_source,
    figures_of_a_week,
    hostile_source,
)


def found_views() -> dict[str, type]:
    """Template -> view. A view is a dataclass of server.web with a shell, and its docstring names its template."""
    views: dict[str, type] = {}
    for module in pkgutil.walk_packages(server.web.__path__, "server.web."):
        for view in vars(importlib.import_module(module.name)).values():
            mine = inspect.isclass(view) and view.__module__ == module.name and is_dataclass(view)
            if mine and any(field.name == "shell" for field in fields(view)):
                named = re.match(r"What (\w+\.html) gets, and nothing else", view.__doc__ or "")
                assert named is not None, f"{view.__qualname__} does not say which template it is for"
                assert named[1] not in views, f"{named[1]} has two views"
                views[named[1]] = view
    return views


VIEWS = found_views()


def test_every_template_of_a_page_has_a_view() -> None:
    extends = [path.name for path in TEMPLATES.glob("*.html") if '{% extends "base.html" %}' in path.read_text()]
    assert sorted(extends) == sorted(VIEWS)


class Page(HTMLParser):
    """The elements of a page, read by the standard library's parser."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, attribute: str) -> list[str]:
        return [attrs[attribute] or "" for _, attrs in self.elements if attribute in attrs]


SHARING = [
    "/sharing",
    "/sharing/replay?hold_dmr=5&timeout=20",
    "/sharing/planning?mode=dmr&begin=20&end=6",
    "/sharing/changes",
]
PATHS = [
    "/",
    f"/week/{WEEK}",
    "/week/2026-W48",
    "/week/2026-W20",
    *SHARING,
    "/links",
    "/reception",
    "/reception/year",
    "/handout",
    "/intake",
    "/definitions",
    "/week/x",
    "/nowhere",
]


@pytest.mark.parametrize("template", VIEWS)
def test_a_template_uses_just_what_its_view_holds(template: str) -> None:
    loader = environment()
    used: set[str] = set()
    for name in (template, "base.html"):
        source = loader.loader.get_source(loader, name)[0]  # type: ignore[union-attr]
        used |= meta.find_undeclared_variables(loader.parse(source))
    macros = {name for name in vars(loader.get_template("macros.html").module) if not name.startswith("_")}
    assert used - macros == {field.name for field in fields(VIEWS[template])}


@pytest.mark.parametrize("view", VIEWS.values())
def test_every_field_of_a_view_is_documented(view: type) -> None:
    source = inspect.getsource(view)
    assert [
        field.name for field in fields(view) if not re.search(rf"^    {field.name}: .+  #: [\w`]", source, re.M)
    ] == []


def test_every_anchor_that_pages_link_to_is_on_the_definitions_page(open_pages: Opened) -> None:
    page = Page(open_pages().get("/definitions").text)
    ids = page.all("id")
    assert len(ids) == len(set(ids))
    assert set(ANCHORS.values()) <= set(ids)


def test_every_row_of_the_definitions_has_an_anchor_made_from_its_name() -> None:
    text = definitions_file().read_text(encoding="utf-8")
    names = [line.split("|")[1].strip() for line in text.splitlines() if line.startswith("| ")]
    anchors = render(text).anchors
    for name in set(names) - {"figure", "---"}:
        assert re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") in anchors


def test_code_with_upright_strokes_stays_in_its_cell() -> None:
    body = render("| a | b |\n| --- | --- |\n| x | `|∪ overs|` <script> |\n").body
    assert "<td><code>|∪ overs|</code> &lt;script&gt;</td>" in body


@pytest.mark.parametrize(
    "source", [FakeSource(), empty_source(), hostile_source()], ids=["brackenfell", "empty", "hostile"]
)
@pytest.mark.parametrize("path", PATHS)
def test_a_page_holds_no_script_no_inline_style_and_nothing_from_elsewhere(
    open_pages: Opened, source: FakeSource, path: str
) -> None:
    page = Page(open_pages(source).get(path).text)
    tags = {tag for tag, _ in page.elements}
    assert not tags & {"script", "style", "iframe", "object", "embed", "img", "base", "meta http-equiv"}
    for _, attrs in page.elements:
        assert not [name for name in attrs if name == "style" or name.startswith("on")]
    for address in [*page.all("href"), *page.all("src"), *page.all("action")]:
        assert address.startswith(("/", "#")) and not address.startswith("//")


@pytest.mark.parametrize("path", PATHS)
def test_a_page_has_language_title_landmarks_one_heading_and_a_skip_link(open_pages: Opened, path: str) -> None:
    page = Page(open_pages().get(path).text)
    tags = [tag for tag, _ in page.elements]
    assert tags.count("h1") == tags.count("main") == tags.count("header") == 1
    assert next(attrs for tag, attrs in page.elements if tag == "title") == {}
    assert page.elements[0] == ("html", {"lang": "en-GB"})
    levels = [int(tag[1]) for tag in tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1 and all(later - earlier <= 1 for earlier, later in pairwise(levels))
    first_link = next(attrs for tag, attrs in page.elements if tag == "a")
    assert first_link["href"] == "#page-content" and "page-content" in page.all("id")


def test_the_navigation_lists_only_pages_that_exist(open_pages: Opened) -> None:
    client = open_pages()
    page = Page(client.get("/intake").text)
    listed = [attrs["href"] for tag, attrs in page.elements if tag == "a"][1 : 1 + len(PAGES)]
    assert listed == [path for _, path in PAGES]
    assert all(client.get(str(address)).status_code in (200, 302) for address in listed)


def test_the_verdict_comes_before_everything_else_of_the_week(open_pages: Opened) -> None:
    text = open_pages().get(f"/week/{WEEK}").text
    order = [
        "31\u00a0h on the air",
        'id="airtime"',
        'id="hours"',
        'id="shut-outs"',
        'id="time-outs"',
        'id="duty"',
        'id="talk"',
        'id="lines"',
    ]
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_every_chart_is_named_and_has_its_numbers_as_a_table(open_pages: Opened) -> None:
    page = Page(open_pages().get(f"/week/{WEEK}").text)
    charts = [attrs for tag, attrs in page.elements if tag == "svg" and attrs.get("role") == "img"]
    assert len(charts) == 7 + 3 * 6  # six modes, the map, and three lines of each mode
    assert all(chart.get("aria-label") or chart.get("aria-labelledby") for chart in charts)
    assert all("aria-hidden" in attrs for tag, attrs in page.elements if tag == "svg" and attrs.get("role") != "img")
    assert "Minutes on the air, by local clock hour" in page.text and "Each mode in numbers" in page.text


def test_the_table_of_the_map_holds_the_same_minutes_as_the_source(open_pages: Opened) -> None:
    text = open_pages().get(f"/week/{WEEK}").text
    rows = re.findall(r'<th scope="row">(\d\d):00</th>((?:<td>[^<]*</td>)+)', text.replace("&lt;", "‹"))
    assert len(rows) == 24
    assert re.findall("<td>([^<]*)</td>", rows[19][1])[2] == f"{2_910 / 60:.0f}"


def test_every_label_of_a_figure_links_to_its_definition(open_pages: Opened) -> None:
    text = open_pages().get(f"/week/{WEEK}").text
    terms = re.findall(r"<dt>(.*?)</dt>", text)
    assert len(terms) >= 15
    assert [term for term in terms if "/definitions#" not in term] == []


def test_the_word_estimated_stands_at_each_estimate(open_pages: Opened) -> None:
    figures = changed(figures_of_a_week(), dmr={"timeouts": 2, "timeouts_estimated": 917})
    text = open_pages(FakeSource(week=figures)).get(f"/week/{WEEK}").text
    for found in re.finditer(r"\b917\b", text):
        assert "estimated" in text[found.start() : found.end() + 18]
    assert re.search(r">6 estimated<", text)
    assert "919" not in re.sub(r"<[^>]+>", " ", text)  # 2 counted and 917 estimated are not added up


def test_nobody_is_named_on_any_page(open_pages: Opened) -> None:
    # Call signs of the demo world begin with Q; QB0BFR is the repeater's own.
    for path in PATHS:
        assert set(re.findall(r"\bQ[A-Z]\d[A-Z]{2,3}\b", open_pages().get(path).text)) <= {"QB0BFR"}


@pytest.mark.parametrize("path", ["/intake", f"/week/{WEEK}", "/nowhere"])
def test_hostile_names_stay_text(open_pages: Opened, path: str) -> None:
    text = open_pages(hostile_source()).get(path).text
    assert HOSTILE not in text and "<img" not in text
    assert HOSTILE in Page(text).text


def test_unread_lines_show_what_would_not_be_seen(open_pages: Opened) -> None:
    text = open_pages().get("/intake").text
    assert not set(text) & set("\0\x07\x1b\u202e\u202c\u200b\u2066\u2069")
    page = Page(text)
    for shown in ("NUL", "U+0007", "ESC", "U+202E", '=cmd("calc")!A1', HOSTILE, "U+0301 × 2"):
        assert shown in page.text
    assert len(text) < 40_000 and len(EXAMPLES[-1][1]) > 4_000


def test_intake_says_what_is_unread_and_how_to_teach_it(open_pages: Opened) -> None:
    text = Page(open_pages().get("/intake").text).text
    assert "260 of 621,520" in text.replace("\xa0", " ")
    assert "airtally dialect try FILE LOG" in text and "The compressed data ends early" in text
    assert "Nothing was read from this log." in text and "airtally check" in text


def test_an_empty_store_tells_on_both_pages_what_to_do_next(open_pages: Opened) -> None:
    client = open_pages(empty_source())
    week = client.get(client.get("/week").headers["location"])
    assert "Nothing has been read yet" in week.text and "<code>airtally ingest</code>" in week.text
    assert "airtally init" in client.get("/intake").text


def test_the_week_page_begins_with_the_last_whole_week_with_data(open_pages: Opened) -> None:
    assert open_pages().get("/week").headers["location"] == f"/week/{WEEK}"
    assert (
        open_pages(FakeSource(span=(START - 30 * DAY, START - 20 * DAY))).get("/week").headers["location"]
        == "/week/2026-W44"
    )


def test_where_the_first_data_is_of_this_week_the_week_page_begins_with_the_week_so_far(open_pages: Opened) -> None:
    assert open_pages(FakeSource(span=(NOW - DAY, NOW))).get("/week").headers["location"] == "/week/2026-W48"


def test_weeks_turn_from_the_first_with_data_to_the_one_that_runs(open_pages: Opened) -> None:
    client = open_pages()
    assert 'rel="prev"' not in client.get("/week/2026-W36").text and 'rel="next"' in client.get("/week/2026-W36").text
    assert 'rel="prev"' in client.get("/week/2026-W48").text and 'rel="next"' not in client.get("/week/2026-W48").text


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("/nowhere", 404, "There is nothing at this address."),
        ("/week/2026-W49", 404, "has not begun"),
        ("/week/9999-W52", 404, "no log of 9999-W52"),
        ("/week/0001-W01", 404, "no log of 0001-W01"),
        ("/week/2026-W54", 400, "is not a week such as 2026-W47"),
        ("/week/2026-W00", 400, "is not a week"),
        ("/week/%3Cscript%3E", 400, "“<script>” is not a week"),
        ("/week/٢٠٢٦-W47", 400, "is not a week"),
        ("/week/", 404, "nothing at this address"),
        ("/static/style.css", 404, "nothing at this address"),
        ("/docs", 404, "nothing at this address"),
        ("/openapi.json", 404, "nothing at this address"),
    ],
)
def test_what_can_not_be_shown_is_said_in_one_sentence(open_pages: Opened, path: str, status: int, says: str) -> None:
    answer = open_pages().get(path)
    assert answer.status_code == status
    assert says in Page(answer.text).text


def test_a_store_that_can_not_be_read_is_a_503_with_the_sentence_and_no_traceback(open_pages: Opened) -> None:
    client = open_pages(FakeSource(broken=True))
    answer = client.get(f"/week/{WEEK}")
    assert answer.status_code == 503 and answer.headers["retry-after"] == "60"
    assert "airtally.db is locked by another program." in answer.text and "Traceback" not in answer.text


def test_health_touches_the_store_and_says_nothing_private(open_pages: Opened) -> None:
    good = open_pages().get("/health")
    assert good.status_code == 200 and good.json() == {"status": "ok"}
    bad = open_pages(FakeSource(broken=True)).get("/health")
    assert bad.status_code == 503 and "airtally.db" not in bad.text


def test_health_is_503_with_what_does_not_work_and_nothing_private(open_pages: Opened) -> None:
    fault = Fault("intake", "Reading the logs fails, and is tried again.", "/srv/private/host.log: Permission denied")
    answer = open_pages(FakeSource(faults=(fault,))).get("/health")
    assert answer.status_code == 503 and answer.json() == {"status": "Reading the logs fails, and is tried again."}


def test_a_page_that_fails_unforeseen_is_a_plain_500_with_the_same_headers(
    open_pages: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(self: FakeSource) -> Any:
        raise RuntimeError("something nobody thought of")

    monkeypatch.setattr(FakeSource, "intake", fails)
    client = open_pages()
    with pytest.raises(RuntimeError):  # it goes on to the log of the server
        client.get("/intake")
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    answer = client.get("/intake")
    assert answer.status_code == 500 and "nobody thought of" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_a_page_is_made_once_for_each_state_of_the_store(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    first = client.get(f"/week/{WEEK}")
    assert client.get(f"/week/{WEEK}").text == first.text and source.asked == 1
    source.state = "2"
    client.get(f"/week/{WEEK}")
    assert source.asked == 2


def test_the_week_that_runs_is_drawn_anew_when_a_minute_has_passed(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    for seconds, asked in ((0, 1), (30, 1), (61, 2)):
        source.instant = NOW + seconds * SECOND
        client.get("/week/2026-W48")
        assert source.asked == asked


def test_a_browser_that_has_the_page_gets_a_304(open_pages: Opened) -> None:
    client = open_pages()
    first = client.get(f"/week/{WEEK}")
    again = client.get(f"/week/{WEEK}", headers={"If-None-Match": first.headers["etag"]})
    assert again.status_code == 304 and not again.content
    assert first.headers["cache-control"] == "private, no-cache"


def test_a_page_goes_out_gzipped_only_to_who_takes_it(open_pages: Opened) -> None:
    client = open_pages()
    with client.stream("GET", f"/week/{WEEK}", headers={"Accept-Encoding": "br, gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
        assert packed.headers["content-encoding"] == "gzip"
    plain = client.get(f"/week/{WEEK}", headers={"Accept-Encoding": "gzip;q=0"})
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(raw) == plain.content


def test_page_and_style_sheet_weigh_little_over_the_wire(open_pages: Opened) -> None:
    client = open_pages()
    weight = 0
    page = Page(client.get(f"/week/{WEEK}").text)
    linked = [str(attrs["href"]) for tag, attrs in page.elements if tag == "link"]
    for path in [f"/week/{WEEK}", *linked]:
        with client.stream("GET", path, headers={"Accept-Encoding": "gzip"}) as answer:
            weight += len(b"".join(answer.iter_raw()))
    assert len(linked) + 1 <= 6 and weight <= 20_000  # the promise is 100 kB; a slow link is happier with less


def test_the_style_sheet_is_kept_for_ever_under_a_name_made_from_what_it_holds(open_pages: Opened) -> None:
    paths, _ = fixed_files()
    answer = open_pages().get(paths["style.css"])
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/css")
    assert "immutable" in answer.headers["cache-control"]


def test_the_cache_forgets_the_page_longest_unasked_for() -> None:
    cache, made = PageCache(kept=2), []

    def make(name: str) -> None:
        cache.get_or_make((name,), lambda: made.append(name) or name.encode())  # type: ignore[func-returns-value]

    for name in ("a", "b", "a", "c", "a", "b"):
        make(name)
    assert made == ["a", "b", "c", "b"]


def test_two_who_ask_at_once_have_a_page_made_once() -> None:
    cache, made, begun = PageCache(), [], threading.Event()

    def slow() -> bytes:
        begun.wait(0.2)
        made.append(1)
        return b"page"

    readers = [threading.Thread(target=cache.get_or_make, args=(("a",), slow)) for _ in range(4)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert made == [1]


def _luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_stands_out_from_its_ground_by_day_and_by_night() -> None:
    # WCAG 2.2, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for what a chart is read by; relative luminance of the same document.
    # All from memory.
    css = fixed_files()[1][fixed_files()[0]["style.css"]][0].plain.decode()
    for scheme in re.findall(r":root \{(.*?)\}", css, re.S):
        colour = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", scheme))

        def contrast(one: str, other: str, colour: dict[str, str] = colour) -> float:
            high, low = sorted((_luminance(colour[one]), _luminance(colour[other])), reverse=True)
            return (high + 0.05) / (low + 0.05)

        text = [(ink, ground) for ink in ("ink", "soft", "link", "mark") for ground in ("ground", "sheet", "strip")]
        text += [(level, f"{level}-ground") for level in ("look", "note", "fine")]
        text += [("ink", "note-ground"), ("look", "sheet"), ("on-head", "head")]
        assert {pair: contrast(*pair) for pair in text if contrast(*pair) < 4.5} == {}
        drawn = [("moss", "sheet"), ("moss", "strip"), ("moss", "tint"), ("ink", "strip")]
        assert {pair: contrast(*pair) for pair in drawn if contrast(*pair) < 3} == {}


def test_a_sheet_for_users_of_a_log_that_nobody_read_says_what_to_do(open_pages: Opened) -> None:
    text = open_pages(empty_source()).get("/handout").text
    assert "Nothing has been read yet" in text and "<code>airtally ingest</code>" in text
    assert "There is no sheet yet" not in text
