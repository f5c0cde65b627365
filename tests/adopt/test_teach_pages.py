"""The pages that teach: new lines are shown on Intake and accepted with one click, and a log is taught by picking from
lists.
"""

import re
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from parsers.adopt.learn import learn
from server.config import load_station
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store import schema
from server.store.engine import open_store, reading
from server.teaching.lesson import LogNews, News
from server.teaching.teacher import Teacher
from server.web.app import create_app
from server.web.listening import WebOptions
from server.web.teach.view import news_of_log
from tests.adopt.book import book
from tests.adopt.hands_held import numbered
from tests.adopt.hands_seen import storyteller
from tests.adopt.test_rereading import STATION, new_ends

OURS = {"origin": "http://127.0.0.1:8087"}


@lru_cache
def dialect_before() -> str:
    """What was learnt of the host before it was upgraded."""
    lines = list(storyteller(book(days=1), np.random.default_rng(1)))
    return learn(lines, book(days=1).rows[-1]["t"], name="host").text


class Hill:
    """A station whose host was upgraded while it was followed, and its pages."""

    def __init__(self, folder: Path) -> None:
        lines = list(storyteller(book(days=1), np.random.default_rng(1)))
        half = len(lines) // 2
        (folder / "host.toml").write_text(dialect_before())
        self.log = folder / "host.log"
        self.log.write_text("".join(line + "\n" for line in [*lines[:half], *map(new_ends, lines[half:])]))
        (folder / "station.toml").write_text(STATION.format(store="a.db"))
        self.folder, self.station = folder, load_station(folder / "station.toml")
        self.engine = open_store(self.station.store_url())
        self.intake = Intake(self.engine, self.station)
        self.intake.catch_up()
        teacher = Teacher(self.engine, self.station)
        app = create_app(StoreSource(self.engine, self.station), WebOptions(folder=folder), teacher)
        self.web = TestClient(
            app, base_url="http://127.0.0.1:8087", client=("127.0.0.1", 50000), follow_redirects=False
        )

    def unread(self) -> int:
        with reading(self.engine) as connection:
            return connection.execute(sa.select(sa.func.sum(schema.log.c.unread))).scalar() or 0

    def fields(self, html: str, action: str, nth: int = 0) -> dict[str, str]:
        """What a browser would send of the nth form with an action, as it stands."""
        forms = [form for form in re.findall(r"<form.*?</form>", html, re.S) if f'action="{action}"' in form]
        said = {}
        for tag in re.findall(r"<input[^>]*>", forms[nth]):
            name = re.search(r'name="([^"]*)"', tag)
            value = re.search(r'value="([^"]*)"', tag)
            if name and 'type="file"' not in tag:
                said[name[1]] = value[1] if value else ""
        for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', forms[nth], re.S):
            chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
            assert chosen
            said[name] = chosen[1]
        return said


@pytest.fixture
def hill(tmp_path: Path) -> Iterator[Hill]:
    made = Hill(tmp_path)
    yield made
    made.web.close()
    made.engine.dispose()


def test_new_lines_are_shown_on_intake_and_accepted_one_click_each_until_nothing_is_unread(hill: Hill) -> None:
    before = hill.unread()
    assert before > 100
    for _ in range(12):
        html = hill.web.get("/intake").text
        if "/teach/accept" not in html:
            break
        assert "having spoken for" in html or "Everything is fine" in html
        done = hill.web.post("/teach/accept", data=hill.fields(html, "/teach/accept"), headers=OURS)
        assert done.status_code == 200 and "kept lines were read again" in done.text
        left = hill.unread()
        assert left < before
        before = left
    assert hill.unread() == 0
    with hill.log.open("a") as log:
        log.write("2026-06-08 10:00:00.000 Everything is fine.\n")
    assert hill.intake.catch_up().unread == 0, "the follower takes the grown dialect"


def test_a_proposal_that_is_sent_twice_is_read_once(hill: Hill) -> None:
    said = hill.fields(hill.web.get("/intake").text, "/teach/accept")
    assert hill.web.post("/teach/accept", data=said, headers=OURS).status_code == 200
    left = hill.unread()
    again = hill.web.post("/teach/accept", data=said, headers=OURS)
    assert again.status_code == 400 and "no longer there" in again.text
    assert hill.unread() == left


@pytest.mark.parametrize("headers", [{"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}])
def test_a_form_from_another_site_is_refused(hill: Hill, headers: dict[str, str]) -> None:
    said = hill.fields(hill.web.get("/intake").text, "/teach/accept")
    before = hill.unread()
    assert hill.web.post("/teach/accept", data=said, headers=headers).status_code == 403
    assert hill.unread() == before


def test_a_form_without_its_token_is_refused(hill: Hill) -> None:
    said = hill.fields(hill.web.get("/intake").text, "/teach/accept") | {"token": ""}
    assert hill.web.post("/teach/accept", data=said, headers=OURS).status_code == 400


def begin(hill: Hill, **more: object) -> str:
    said = hill.fields(hill.web.get("/teach").text, "/teach")
    files = {"upload": more.pop("upload")} if "upload" in more else None
    answer = hill.web.post("/teach", data=said | more, files=files, headers=OURS)  # type: ignore[arg-type]
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_an_uploaded_log_is_taught_by_picking_from_lists_and_saved(hill: Hill) -> None:
    lines = list(numbered(book(days=1), np.random.default_rng(1)))
    page = begin(hill, upload=("codes.log", "\n".join(lines).encode()))
    html = hill.web.get(page).text
    assert "The fit is poor" in html and "stand for?" in html
    said = hill.fields(html, page)
    asked = dict(re.findall(r'<label for="(q\d)">Which mode does “(\d)” stand for', html))
    truth = {"3": "dstar", "7": "dmr", "2": "c4fm", "9": "p25", "4": "m17", "5": "fm"}
    assert len(asked) <= 5
    said |= {field: truth[code] for field, code in asked.items()}
    assert hill.web.post(page, data=said, headers=OURS).status_code == 303
    taught = hill.web.get(page).text
    assert "The fit is good" in taught and "Before the last correction" in taught
    done = hill.web.post(f"{page}/save", data=hill.fields(taught, f"{page}/save") | {"name": "codes"}, headers=OURS)
    assert "Saved as codes.toml" in done.text
    assert tomllib.loads((hill.folder / "codes.toml").read_text())["words"]["mode"]["7"] == "dmr"
    twice = hill.web.post(f"{page}/save", data=hill.fields(taught, f"{page}/save") | {"name": "codes"}, headers=OURS)
    assert twice.status_code == 400 and "already" in twice.text


def test_a_hole_that_is_corrected_changes_what_comes_out(hill: Hill) -> None:
    page = begin(hill, file=str(hill.log))
    html = hill.web.get(page).text
    overs = int(re.search(r"([\d,]+) overs come out", html)[1].replace(",", ""))  # type: ignore[index]
    said = hill.fields(html, page)
    ends = [name for name, value in said.items() if re.fullmatch(r"e\d+", name) and value == "over-end"]
    said |= {name: "ignore" for name in ends}
    assert hill.web.post(page, data=said, headers=OURS).status_code == 303
    after = hill.web.get(page).text
    assert int(re.search(r"([\d,]+) overs come out", after)[1].replace(",", "")) < overs  # type: ignore[index]
    assert f"it was {overs}" in after


@pytest.mark.parametrize("path", ["/etc/passwd", "/etc/shadow", "../../../etc/passwd", "/nowhere/at/all.log"])
def test_a_path_outside_of_the_logs_folders_is_not_read(hill: Hill, path: str) -> None:
    said = hill.fields(hill.web.get("/teach").text, "/teach") | {"path": path}
    answer = hill.web.post("/teach", data=said, headers=OURS)
    assert answer.status_code == 400 and "root:" not in answer.text
    assert "outside of the folders" in answer.text


def test_hostile_lines_are_escaped_on_the_lesson(hill: Hill) -> None:
    hostile = "<script>alert(1)</script>"
    lines = [
        f"2026-06-01 10:{n // 60:02d}:{n % 60:02d} QA{n % 9 + 1}XYZ in DMR slot 1 from the aerial to "
        f"{hostile} spoke for {n % 30}.5 s"
        for n in range(200)
    ]
    lines[3] += "\x1b[2J"
    html = hill.web.get(begin(hill, upload=("x.log", "\n".join(lines).encode()))).text
    assert "&lt;script&gt;" in html
    assert "<script>" not in html and "\x1b" not in html


def test_a_proposal_is_shown_line_by_line_and_other_control_characters_as_marks() -> None:
    news = LogNews((News("key", "ignore", 'event = "ignore"\ntext = "\x07<b>"', 9, ("x",), True),), "", 0)
    (item,) = news_of_log("host.log", news).items
    assert ["".join(piece.text for piece in line if not piece.mark) for line in item.toml] == [
        'event = "ignore"',
        'text = "<b>"',
    ]
    assert [piece.mark for piece in item.toml[1]].count(True) == 1
