"""The teaching pages in a real Chromium: phone, tablet and screen, by keyboard alone, without a script, and what axe
finds.
"""

import os
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, sync_playwright

from server.source import StoreSource
from server.teaching.teacher import Teacher
from server.web.app import create_app, uvicorn_settings
from server.web.listening import WebOptions
from tests.adopt.test_teach_pages import Hill

pytestmark = pytest.mark.browser
CHROMIUM = Path("/usr/bin/chromium")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    hill = Hill(tmp_path_factory.mktemp("hill"))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    options = WebOptions(hill.folder, f"127.0.0.1:{port}")
    app = create_app(StoreSource(hill.engine, hill.station), options, Teacher(hill.engine, hill.station))
    server = uvicorn.Server(uvicorn.Config(app, **{**uvicorn_settings(options), "log_level": "error"}))
    thread = threading.Thread(target=server.run)
    thread.start()
    until = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < until and thread.is_alive(), "the server did not start"
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()
    hill.web.close()
    hill.engine.dispose()


@pytest.fixture(scope="module")
def new_page() -> Iterator:
    if not CHROMIUM.exists():
        if os.environ.get("CI") == "true":
            pytest.fail(f"no browser at {CHROMIUM}: install chromium to run the browser tests")
        pytest.skip(f"no browser at {CHROMIUM}: install chromium to run the browser tests")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox", "--disable-gpu"])

        def opened(width: int, scripts: bool = True, dark: bool = False) -> Page:
            context = browser.new_context(
                viewport={"width": width, "height": 900},
                java_script_enabled=scripts,
                color_scheme="dark" if dark else "light",
            )
            return context.new_page()

        yield opened
        browser.close()


def taught(page: Page, address: str) -> None:
    """Opens a lesson on the station's own log, by the keyboard alone."""
    page.goto(f"{address}/teach")
    page.focus("#teach-file")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Learn this log"
    with page.expect_navigation(timeout=60_000):
        page.keyboard.press("Enter")


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_the_pages_fit_and_axe_finds_nothing(address: str, new_page, width: int) -> None:  # type: ignore[no-untyped-def]
    page = new_page(width, dark=width == 820)
    taught(page, address)
    lesson = page.url
    for url in (f"{address}/intake", f"{address}/teach", lesson):
        page.goto(url)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, url
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        small = page.evaluate(
            "[...document.querySelectorAll('main button, main select, main input:not([type=hidden])')].filter(e =>"
            " e.getBoundingClientRect().height < 24).length"
        )
        assert small == 0, "targets of 24 by 24 px at least: WCAG 2.2, 2.5.8 (from memory)"
    page.context.close()


def test_lines_are_marked_in_words_and_not_by_colour_alone(address: str, new_page) -> None:  # type: ignore[no-untyped-def]
    page = new_page(820)
    taught(page, address)
    said = page.locator(".teach-lines .said").all_inner_texts()
    assert said and all(said)
    assert page.locator(".teach-lines mark i").count() > 10
    page.context.close()


def test_a_lesson_works_without_any_script(address: str, new_page) -> None:  # type: ignore[no-untyped-def]
    page = new_page(390, scripts=False)
    page.goto(f"{address}/teach")
    page.click("text=Learn this log")
    page.wait_for_url("**/teach/*", timeout=60_000)
    page.select_option("#e0", "ignore")
    page.click("text=Learn again with these corrections")
    page.wait_for_load_state()
    assert "Before the last correction" in page.content()
    page.context.close()
