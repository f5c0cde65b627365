"""Explore in a real Chromium: its pictures, its brush, its keyboard, a finger, and no script at all."""

# ruff: noqa: F401, F811 (fixtures of other pages' tests)
from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.web.test_browser import brackenfell, browser, open_page, serve

pytestmark = pytest.mark.browser
STRETCH = "/explore?from=2026-10-26T00:00&to=2026-11-23T00:00&measure=airtime&back=4"
Open = Callable[..., Page]


def drawn(page: Page, address: str) -> list[str]:
    """Opens Explore and waits for its pictures; what the console complained of."""
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    page.wait_for_selector("#by-hour .main-svg", timeout=60_000)
    return said


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_the_pictures_are_drawn_within_the_page_and_its_policy(open_page: Open, brackenfell: str, width: int) -> None:
    page = open_page(width)
    assert drawn(page, brackenfell + STRETCH) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for name in ("by-span", "by-hour"):
        box = page.locator(f"#{name}").bounding_box()
        assert box is not None and box["width"] <= width and box["height"] > 200


@pytest.mark.parametrize("width, scheme", [(390, "light"), (1280, "dark")])
def test_axe_finds_nothing_to_mend_with_the_pictures(
    open_page: Open,
    brackenfell: str,
    width: int,
    scheme: str,
) -> None:
    # axe-core's rules for WCAG 2.0 to 2.2 A and AA and its best practices.
    page = open_page(width, color_scheme=scheme, bypass_csp=True)
    drawn(page, brackenfell + STRETCH)
    found = Axe().run(page)
    assert found.response["violations"] == [], found.generate_report()


def test_brushing_leads_to_that_stretch_and_an_address_that_shows_it_again(open_page: Open, brackenfell: str) -> None:
    page = open_page(1280)
    drawn(page, brackenfell + STRETCH)
    box = page.locator("#by-span .nsewdrag").first.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] * 0.3, middle)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.6, middle, steps=8)
    with page.expect_navigation():
        page.mouse.up()
    asked = parse_qs(urlsplit(page.url).query)
    assert "2026-10-26" < asked["from"][0][:10] < asked["to"][0][:10] < "2026-11-23" and asked["back"] == ["4"]
    again = page.get_by_role("link", name="This stretch, to keep").get_attribute("href")
    heading = page.locator("h1").inner_text()
    page.goto(brackenfell + str(again))
    assert page.locator("h1").inner_text() == heading


def test_a_stretch_is_reached_by_the_keyboard_alone(open_page: Open, brackenfell: str) -> None:
    page = open_page(1280)
    drawn(page, brackenfell + STRETCH)
    link = page.locator("section a", has_text="Tue 27 Oct 2026").first
    link.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Tue 27 Oct 2026")
    page.locator("select[name=measure]").focus()
    page.keyboard.press("o")
    page.locator("button[type=submit]").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "measure=overs" in page.url


def test_a_finger_scrolls_over_the_pictures_as_over_text(open_page: Open, brackenfell: str) -> None:
    page = open_page(390, has_touch=True, is_mobile=True)
    drawn(page, brackenfell + STRETCH)
    assert not page.locator("#brush").is_visible()
    touch = page.context.new_cdp_session(page)
    moved = []
    for name in ("#h-totals", "#by-span", "#by-hour"):
        x, y = page.evaluate(
            "name => { const it = document.querySelector(name); it.scrollIntoView({block: 'center'});"
            " const box = it.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2] }",
            name,
        )
        page.wait_for_timeout(200)
        before = page.evaluate("scrollY")
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for step in range(1, 16):
            touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - step * 12}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.wait_for_timeout(500)
        moved.append(page.evaluate("scrollY") - before)
    assert all(one > 100 for one in moved), moved


def test_without_scripts_the_form_and_the_tables_still_work(open_page: Open, brackenfell: str) -> None:
    page = open_page(390, java_script_enabled=False)
    page.goto(brackenfell + STRETCH)
    assert not page.locator("#drawn").is_visible()
    page.select_option("select[name=measure]", "shut-outs")
    with page.expect_navigation():
        page.locator("button[type=submit]").click()
    expect(page.locator("#h-spans")).to_contain_text("Shut-outs, by day")
    assert page.locator("#h-spans ~ .sheet tbody tr").count() == 28
