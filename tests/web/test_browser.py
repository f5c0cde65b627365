"""The pages in a real Chromium: on a phone and on a screen, by day and by night, with scripts and without."""

import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Error, Page, Request, expect, sync_playwright

from server.web.app import create_app, uvicorn_settings
from server.web.listening import WebOptions
from server.web.sign import auth as auth
from tests.web.conftest import PASSWORD
from tests.web.web_fakes import WEEK, FakeSource, empty_source, hostile_source

pytestmark = pytest.mark.browser
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
SHARING = [
    "/sharing",
    "/sharing/replay?hold_dmr=5&timeout=20",
    "/sharing/planning?mode=dmr&begin=20&end=6",
    "/sharing/changes",
]
PATHS = [
    f"/week/{WEEK}",
    "/",
    "/month/2026-10",
    "/intake",
    "/transmitter",
    "/links",
    "/reception",
    "/transmitter/note/4",
    *SHARING,
    "/moment?day=2026-11-18&time=19:01&mode=c4fm",
    "/notes",
    "/notes/1",
    "/handout",
    "/explore",
    "/definitions",
    "/nowhere",
]
Serve = Callable[..., str]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        missing = f"no browser at {CHROMIUM}: install chromium to run the browser tests"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def serve(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serve]:
    """Serves a source on loopback: gives its address. `password=True` sets one; `prefix` shows the pages under it."""
    servers: list[tuple[uvicorn.Server, threading.Thread]] = []

    def served(source: FakeSource, password: bool = False, prefix: str = "") -> str:
        folder = tmp_path_factory.mktemp("web")
        if password:
            auth.set_password(folder, PASSWORD)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        options = WebOptions(folder, f"127.0.0.1:{port}", prefix)
        server = uvicorn.Server(
            uvicorn.Config(create_app(source, options), **{**uvicorn_settings(options), "log_level": "error"})
        )
        thread = threading.Thread(target=server.run)
        thread.start()
        servers.append((server, thread))
        until = time.monotonic() + 20
        while not server.started:
            assert time.monotonic() < until and thread.is_alive(), "the server did not start"
            time.sleep(0.02)
        return f"http://127.0.0.1:{port}{prefix}"

    yield served
    for server, thread in servers:
        server.should_exit = True
        thread.join()


@pytest.fixture(scope="module")
def brackenfell(serve: Serve) -> str:
    return serve(FakeSource())


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    contexts: list[BrowserContext] = []

    def opened(width: int = 390, **options: object) -> Page:
        context = browser.new_context(viewport={"width": width, "height": 844}, **options)  # type: ignore[arg-type]
        contexts.append(context)
        return context.new_page()

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing_to_mend(open_page: Callable[..., Page], brackenfell: str, width: int, scheme: str) -> None:
    # axe-core's rules for WCAG 2.0 to 2.2 A and AA and its best practices; bypass_csp lets its script in, the pages
    # have none.
    page = open_page(width, color_scheme=scheme, bypass_csp=True)
    # Colours differ by scheme and layout by width: the week in all four, the plainer pages once in each scheme and
    # width.
    for path in PATHS if (width == 390) == (scheme == "light") else PATHS[:1]:
        page.goto(brackenfell + path)
        page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}, "resultTypes": ["violations"]})
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"


def test_axe_finds_nothing_to_mend_where_there_is_nothing_yet_and_at_the_door(
    open_page: Callable[..., Page], serve: Serve
) -> None:
    page = open_page(390, bypass_csp=True)
    empty, guarded = serve(empty_source()), serve(FakeSource(), password=True)
    for address in (f"{empty}/", f"{empty}/intake", f"{guarded}/login"):
        page.goto(address)
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"


@pytest.mark.parametrize("scripts", [True, False])
def test_a_page_is_the_same_with_scripts_and_without(
    open_page: Callable[..., Page], brackenfell: str, scripts: bool
) -> None:
    page = open_page(390, java_script_enabled=scripts)
    page.goto(brackenfell + "/week")
    assert page.url.endswith(f"/week/{WEEK}")
    expect(page.locator(".headline")).to_contain_text("31 h on the air")
    page.get_by_text("The map in numbers").click()
    expect(page.get_by_role("table", name="Minutes on the air, by local clock hour")).to_be_visible()
    page.get_by_role("link", name="Occupancy").click()
    assert page.url.endswith("/definitions#occupancy")


def test_the_browser_finds_nothing_that_the_policy_forbids(
    open_page: Callable[..., Page], brackenfell: str, serve: Serve
) -> None:
    page = open_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    for path in PATHS[:3]:
        page.goto(brackenfell + path)
    hostile = serve(hostile_source())
    page.on("dialog", lambda dialog: said.append(f"a script ran: {dialog.message}"))
    for path in PATHS[:2]:
        page.goto(hostile + path)
    assert said == []


@pytest.mark.parametrize("width", [360, 390, 430, 1280])
def test_nothing_scrolls_sideways(open_page: Callable[..., Page], brackenfell: str, serve: Serve, width: int) -> None:
    page = open_page(width)
    hostile = serve(hostile_source())
    for address in [*(brackenfell + path for path in PATHS), f"{hostile}/intake"]:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address


@pytest.mark.parametrize("width", [360, 390, 430])
def test_no_table_but_an_hourly_one_is_cut_on_a_phone_and_it_is_still_a_table(
    open_page: Callable[..., Page], brackenfell: str, width: int
) -> None:
    page = open_page(width)
    for path in (f"/week/{WEEK}", "/month/2026-10", "/sharing", "/transmitter"):
        page.goto(brackenfell + path)
        page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
        sheets = page.locator(".sheet:not(.small)")
        assert sheets.count() > 0, path
        cut = sheets.evaluate_all("all => all.filter(it => it.scrollWidth > it.clientWidth).map(it => it.ariaLabel)")
        assert cut == [], path
        first = page.locator(".stack").first
        assert first.get_by_role("rowheader").count() == first.locator("tbody tr").count() > 0, path
        assert first.get_by_role("cell").first.get_attribute("data-label"), path


def test_no_table_is_cut_on_a_desk_and_no_card_is_empty_at_its_foot(
    open_page: Callable[..., Page], brackenfell: str
) -> None:
    page = open_page(1280)
    foot = 40  # pixels: a card's padding and the margin of what stands last in it
    for path in (f"/week/{WEEK}", "/month/2026-10", "/transmitter", *SHARING):
        page.goto(brackenfell + path)
        page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
        sheets = page.locator(".sheet")
        assert sheets.evaluate_all("all => all.filter(it => it.scrollWidth > it.clientWidth).length") == 0, path
        feet = page.locator("main section").evaluate_all("""all => all.map(it => it.getBoundingClientRect().bottom
                - Math.max(...[...it.children].map(its => its.getBoundingClientRect().bottom)))""")
        assert feet and max(feet) < foot, (path, feet)


@pytest.mark.parametrize("path", PATHS[:4])
def test_a_page_weighs_at_most_100_kb_over_the_wire_in_at_most_6_requests(
    open_page: Callable[..., Page], brackenfell: str, path: str
) -> None:
    page = open_page()
    requests: list[Request] = []
    page.on("requestfinished", lambda request: requests.append(request))
    page.goto(brackenfell + ("/week" if path.startswith("/week") else path), wait_until="networkidle")
    weight = 0
    for request in requests:
        sizes = request.sizes()
        weight += sizes["responseBodySize"] + sizes["responseHeadersSize"]
    assert 0 < len(requests) <= 6 and 0 < weight <= 100_000


def test_the_verdict_is_on_the_first_screen_of_a_phone(open_page: Callable[..., Page], brackenfell: str) -> None:
    page = open_page(360)
    page.goto(f"{brackenfell}/week/{WEEK}")
    box = page.locator(".findings").bounding_box()
    assert box is not None and box["y"] + box["height"] < 740  # a small phone held upright


def test_targets_are_24_pixels_high_but_for_links_within_a_sentence(
    open_page: Callable[..., Page], brackenfell: str
) -> None:
    # WCAG 2.2, 2.5.8 (24 px; from memory), with its exception for links in a sentence.
    page = open_page(390)
    for path in PATHS:
        page.goto(brackenfell + path)
        page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
        small = page.evaluate(
            """() => [...document.querySelectorAll('a, summary, button, select, input:not([type=hidden])')]
                .filter(it => !it.closest('.findings p, .headline, .hint, p:not(.change):not(.line), h3')
                    && !it.matches('.skip'))
                .map(it => [it.textContent, it.getBoundingClientRect().height])
                .filter(([, height]) => height < 24)"""
        )
        assert small == [], path


def test_the_keyboard_reaches_the_content_first_and_shows_where_it_is(
    open_page: Callable[..., Page], brackenfell: str
) -> None:
    page = open_page(390)
    page.goto(f"{brackenfell}/week/{WEEK}")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the content")
    expect(skip).to_be_focused()
    assert skip.evaluate("it => getComputedStyle(it).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "page-content"


def test_the_keeper_signs_in_and_out_with_a_real_browser_under_a_prefix(
    open_page: Callable[..., Page], serve: Serve
) -> None:
    page = open_page(390, java_script_enabled=False)
    address = serve(FakeSource(), password=True, prefix="/airtally")
    page.goto(f"{address}/intake")
    page.get_by_label("Password").fill("not this one")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_have_text("That is not the password.")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    assert page.url == f"{address}/intake"
    page.get_by_role("link", name="Sign out").click()
    page.get_by_role("button", name="Sign out").click()
    assert page.url == f"{address}/login"
    page.goto(f"{address}/intake")
    assert "/login" in page.url


def test_another_sites_page_can_not_sign_anybody_in(open_page: Callable[..., Page], serve: Serve) -> None:
    page = open_page(390)
    address = serve(FakeSource(), password=True)
    page.goto(f"{address}/login")
    token = page.locator("input[name=token]").get_attribute("value")
    form = (
        f'<form method=post action="{address}/login"><input name=token value="{token}"><input name=password'
        f' value="{PASSWORD}"></form>'
    )
    page.route("http://elsewhere.test/", lambda route: route.fulfill(body=form, content_type="text/html"))
    try:
        page.goto("http://elsewhere.test/")
        with page.expect_navigation():
            page.evaluate("document.forms[0].submit()")
        answered = page.content()
    except Error as refused:  # the browser itself may refuse to send it
        answered = str(refused)
    assert "another site" in answered or "blocked" in answered.lower() or "ERR_" in answered
    page.goto(f"{address}/intake")
    assert "/login" in page.url
