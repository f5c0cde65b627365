"""Notes on the pages: entered and dropped by forms of ours, drawn on every picture that has days, text only as text."""

import html
import re

import pytest
from starlette.testclient import TestClient

from server.store.notes import Note
from server.store.timers import TimerChange
from shared.zones import instant
from tests.web.conftest import Opened
from tests.web.web_fakes import WEEK, ZONE, FakeSource

SHARING = "/sharing?first=2026-11-18&last=2026-11-18"
EVIL = '<script>alert(1)</script> \u202egnp " onfocus=x'


def noted(*more: Note) -> FakeSource:
    first = Note(1, instant("2026-11-18T14:30", ZONE), "feeder", "new feeder, 20 m", for_committee=True)
    changes = (TimerChange(1, instant("2026-10-12T00:00", ZONE), "hold of DMR from 20 s to 10 s"),)
    return FakeSource(noted=(first, *more), changes=changes)


def send(client: TestClient, **fields: str) -> tuple[int, str]:
    page = client.get("/notes").text
    (token,) = set(re.findall(r'name="token" value="([^"]+)"', page))
    answer = client.post("/notes", data={"token": token} | fields)
    return answer.status_code, html.unescape(answer.text)


def test_a_note_is_kept_shown_and_dropped(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    assert "Nothing is noted yet." in client.get("/notes").text
    given = {"on": "2026-11-18", "time": "14:30", "kind": "feeder", "text": "new feeder", "committee": "1"}
    assert send(client, **given)[0] == 303
    assert source.noted == [Note(1, instant("2026-11-18T14:30", ZONE), "feeder", "new feeder", for_committee=True)]
    page = client.get("/notes").text
    assert "Wed 18 Nov 2026, 14:30" in page and "feeder: new feeder" in page and "(for the committee)" in page
    assert send(client, drop="1")[0] == 303 and source.noted == []
    status, page = send(client, drop="1")
    assert status == 404 and "That note is gone already." in page


def test_a_change_of_timers_stands_among_the_notes_and_is_not_dropped_there(open_pages: Opened) -> None:
    page = open_pages(noted()).get("/notes").text
    assert "hold of DMR from 20 s to 10 s" in page and page.count('name="drop"') == 1


@pytest.mark.parametrize(
    "fields, sentence",
    [
        ({"on": "soon", "text": "x"}, "Give the day, such as 2026-11-02"),
        ({"on": "2026-11-18", "time": "99:99", "text": "x"}, "Give the day, such as 2026-11-02"),
        ({"on": "2199-01-01", "text": "x"}, "That day is still to come"),
        ({"on": "1900-01-01", "text": "x"}, "or long gone"),
        ({"on": "2026-11-18", "text": "  "}, "Say what was done"),
        ({"on": "2026-11-18", "kind": "tower", "text": "kept as given"}, "Say what was done"),
    ],
)
def test_what_is_no_note_is_said_and_the_entry_stands_in_the_form(
    open_pages: Opened, fields: dict[str, str], sentence: str
) -> None:
    source = FakeSource()
    status, page = send(open_pages(source), **{"kind": "other", **fields})
    assert status == 400 and sentence in page and source.noted == ()
    assert fields["text"].strip() in page


def test_a_form_from_elsewhere_or_without_its_token_keeps_nothing(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    given = {"on": "2026-11-18", "kind": "other", "text": "x"}
    assert client.post("/notes", data=given).status_code == 400
    page = client.get("/notes").text
    (token,) = set(re.findall(r'name="token" value="([^"]+)"', page))
    other = {"origin": "http://elsewhere.example"}
    assert client.post("/notes", data={"token": token, **given}, headers=other).status_code == 403
    assert source.noted == ()


def test_a_stranger_neither_reads_nor_writes_notes(open_pages: Opened, password: str) -> None:
    client = open_pages(noted(), base_url="http://hill.example")
    assert client.get("/notes").status_code in (302, 303) and "feeder" not in client.get("/notes").text
    assert client.post("/notes", data={"on": "2026-11-18", "text": "x"}).status_code in (302, 303, 401, 403)


@pytest.mark.parametrize(
    "path, drawn",
    [
        (f"/week/{WEEK}", "new feeder, 20 m"),
        ("/month/2026-10", "hold of DMR"),
        ("/transmitter", "new feeder, 20 m"),
        ("/transmitter", "hold of DMR"),
    ],
)
def test_notes_stand_on_every_picture_that_has_days(open_pages: Opened, path: str, drawn: str) -> None:
    page = open_pages(noted()).get(path).text
    assert drawn in page and 'class="noted"' in page and 'href="/notes"' in page


def test_days_without_notes_have_no_mark_and_lead_to_the_form(open_pages: Opened) -> None:
    page = open_pages(noted()).get("/week/2026-W46").text
    assert 'class="noted"' not in page and 'href="/notes"' in page and "new feeder" not in page
    sharing = open_pages(noted()).get("/sharing?first=2026-11-16&last=2026-11-22").text
    assert "new feeder, 20 m" in sharing


@pytest.mark.parametrize(
    "path", ["/notes", f"/week/{WEEK}", "/transmitter", "/sharing?first=2026-11-16&last=2026-11-22"]
)
def test_hostile_words_of_a_note_are_text(open_pages: Opened, path: str) -> None:
    page = open_pages(noted(Note(2, instant("2026-11-18T15:00", ZONE), "other", EVIL))).get(path).text
    assert "&lt;script&gt;" in page and "<script" not in page and "\u202e" not in page and '" onfocus' not in page


def test_every_figure_before_and_after_a_note_is_compared(open_pages: Opened) -> None:
    source = noted(Note(2, instant("2026-11-04T12:00", ZONE), "antenna", "antenna moved"))
    client = open_pages(source)
    page = html.unescape(client.get("/notes/2").text).replace("\u00a0", " ")
    assert "antenna: antenna moved" in page and "whole weeks before and as many after" in page
    assert "Refused calls (a day)" in page and "Airtime, DMR (min a day)" in page and "estimated" in page
    others = page[page.index("What else was done in these weeks") :]
    assert "new feeder, 20 m" in others and "hold of DMR" not in others
    changes = client.get("/sharing/changes").text
    assert 'href="/notes/timers-1"' in changes and client.get("/notes/timers-1").status_code == 200
    assert 'href="/notes/2"' in client.get("/notes").text


def test_where_there_are_too_few_weeks_the_page_says_so(open_pages: Opened) -> None:
    page = open_pages(noted()).get("/notes/1").text
    assert "There are not yet two whole weeks of log on both sides of it" in page and "<table" not in page


@pytest.mark.parametrize("key", ["7", "timers-7", "x", "0", "1e9", "%00"])
def test_of_a_note_that_is_gone_the_page_says_so(open_pages: Opened, key: str) -> None:
    assert open_pages(noted()).get(f"/notes/{key}").status_code == 404


def test_notes_stand_on_the_weeks_of_links_too(open_pages: Opened) -> None:
    page = open_pages(noted()).get("/links").text
    assert "new feeder, 20 m" in page and 'class="noted"' in page
