"""What is taught is bounded in time and memory, ends when its visitor leaves, and keeps nobody waiting."""

import asyncio
import gc
import os
import random
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from parsers.constants import KEYS
from server import bounded
from server.bounded import Left, OneAtATime, run
from server.cli import cli
from server.teaching.learning import Task, learn_log
from server.teaching.lesson import Lesson, ShapeHole, ShapeShown
from server.teaching.teacher import Teacher
from server.teaching.uploads import still_kept, take_away_left
from server.web.teach.view import HOLE_WORDS, answers_of
from shared.errors import UnusableError
from shared.scratch import MARK
from tests.adopt.errands import die, double, refuse, shout, take, turn_for_ever, wait_for_ever
from tests.adopt.test_teach_pages import OURS, Hill, begin


def test_work_gives_its_result_or_its_refusal_in_words() -> None:
    assert run(double, 21) == 42 and run(shout, None) == "done" and run(take, 8) == 8 << 20
    with pytest.raises(UnusableError, match=r"^hill\.log: no\.$"):
        run(refuse, "hill.log")


@pytest.mark.parametrize("work, task", [(turn_for_ever, None), (take, 2000), (die, None)])
def test_work_beyond_its_bounds_is_ended_and_told(work: Callable[[Any], Any], task: Any) -> None:
    began = time.monotonic()
    with pytest.raises(UnusableError, match="more than 1 s or more than 640 MB"):
        run(work, task, seconds=1.0)
    assert time.monotonic() - began < 15


def is_running(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    return True


def test_work_that_nobody_waits_for_is_ended(tmp_path: Path) -> None:
    file = tmp_path / "process"
    began = time.monotonic()
    with pytest.raises(Left):
        run(wait_for_ever, file, left=file.exists)
    assert time.monotonic() - began < 20 and not is_running(int(file.read_text()))


def test_other_work_of_the_same_visitor_ends_the_former_and_others_go_on() -> None:
    queue, ended, begun = OneAtATime(), [], threading.Barrier(3)

    def long(left: Callable[[], bool]) -> str:
        begun.wait(10)
        end = time.monotonic() + 20
        while time.monotonic() < end:
            if left():
                raise Left("left")
            time.sleep(0.01)
        return "never"

    def asked(who: str) -> None:
        try:
            queue.run(who, long, stop.is_set)
        except Left:
            ended.append(who)

    stop = threading.Event()
    threads = [threading.Thread(target=asked, args=(who,)) for who in ("one", "other")]
    for thread in threads:
        thread.start()
    begun.wait(10)
    assert queue.run("one", lambda left: "new", lambda: False) == "new"
    threads[0].join(10)
    assert ended == ["one"] and threads[1].is_alive()
    stop.set()
    threads[1].join(10)
    assert ended == ["one", "other"]


def words(seed: int, bytes_: int, stamped: bool = False) -> bytes:
    some, lines, size = random.Random(seed), [], 0
    while size < bytes_:
        line = " ".join(
            "".join(some.choices("abcdefghijklmnopqrstuvwxyz", k=some.randint(1, 12)))
            for _ in range(some.randint(1, 16))
        )
        lines.append(f"2026-06-01 10:{len(lines) // 60 % 60:02d}:{len(lines) % 60:02d} {line}" if stamped else line)
        size += len(lines[-1]) + 1
    return "\n".join(lines).encode()


@pytest.mark.parametrize("bytes_, stamped", [(47 << 10, False), (47 << 10, True), (31 << 20, False)])
def test_random_words_are_refused_or_learnt_within_the_bounds(tmp_path: Path, bytes_: int, stamped: bool) -> None:
    path = tmp_path / "words.log"
    path.write_bytes(words(1, 1 << 20 if bytes_ > 1 << 20 else bytes_, stamped) * max(1, bytes_ >> 20))
    began = time.monotonic()
    try:
        assert run(learn_log, Task(path, "words.log", "UTC"), seconds=20).lesson.overs >= 0
    except UnusableError as refused:
        assert "\n" not in str(refused)
    assert time.monotonic() - began < 40


# --- over the pages


@pytest.fixture
def hill(tmp_path: Path) -> Hill:
    return Hill(tmp_path)


def test_a_visitor_who_leaves_ends_the_learning_and_pages_answer_meanwhile(
    hill: Hill, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, ended = threading.Event(), threading.Event()

    def slow(work: object, task: object, *, left: Callable[[], bool] = lambda: False, seconds: float = 0) -> None:
        begun.set()
        while not left():
            time.sleep(0.01)
        ended.set()
        raise Left("left")

    monkeypatch.setattr("server.teaching.lessons.run", slow)
    said = hill.fields(hill.web.get("/teach").text, "/teach") | {"file": str(hill.log)}
    body = "&".join(f"{name}={value}" for name, value in said.items()).replace("/", "%2F").encode()
    cookies = "; ".join(f"{name}={value}" for name, value in hill.web.cookies.items())
    head = {
        "host": "127.0.0.1:8087",
        "origin": OURS["origin"],
        "cookie": cookies,
        "content-length": str(len(body)),
        "content-type": "application/x-www-form-urlencoded",
    }

    async def visit() -> None:
        gone = asyncio.Event()
        messages = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive() -> dict[str, Any]:
            if messages:
                return messages.pop()
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(_: Any) -> None:
            pass

        scope = {
            "type": "http", "http_version": "1.1", "method": "POST", "path": "/teach", "raw_path": b"/teach", "query_string": b"", "scheme": "http",
            "root_path": "", "client": ("127.0.0.1", 50000), "server": ("127.0.0.1", 8087), "headers": [(k.encode(), v.encode()) for k, v in head.items()],
        }  # fmt: skip
        visit = asyncio.create_task(hill.web.app(scope, receive, send))
        assert await asyncio.to_thread(begun.wait, 20)
        answer = await asyncio.wait_for(asyncio.to_thread(hill.web.get, "/definitions"), 10)
        assert answer.status_code == 200 and not ended.is_set()
        gone.set()
        assert await asyncio.to_thread(ended.wait, 10)
        await visit

    asyncio.run(visit())


def test_changing_one_hole_keeps_the_others() -> None:
    holes = tuple(ShapeHole(n, key, ()) for n, key in enumerate(("mode", "station", "_", "duration"), 1))
    lesson = Lesson(
        "x",
        "log",
        False,
        "",
        (),
        1,
        None,
        (),
        (ShapeShown("a", "over", 9, "", holes, ""), ShapeShown("b", "over", 9, "", holes, "")),
        (),
        (),
    )
    form = {f"h{n}_{hole.number}": hole.key for n in (0, 1) for hole in holes} | {"e0": "over", "e1": "over"}
    assert answers_of(lesson, form) == {}
    assert answers_of(lesson, form | {"h0_3": "target"}) == {
        "hole": {"a": {"1": "mode", "2": "station", "3": "target", "4": "duration"}}
    }
    moved = answers_of(lesson, form | {"h0_3": "station"})
    assert moved == {"hole": {"a": {"1": "mode", "2": "_", "3": "station", "4": "duration"}}}, (
        "what one hole has, no other has"
    )


def test_changing_one_hole_on_the_page_keeps_the_others_there(hill: Hill) -> None:
    page = begin(hill, file=str(hill.log))
    before = hill.fields(hill.web.get(page).text, page)
    hole = next(name for name, value in before.items() if name.startswith("h") and value == "target")
    assert hill.web.post(page, data=before | {hole: "_"}, headers=OURS).status_code == 303
    after = hill.fields(hill.web.get(page).text, page)
    # A question that was shown is answered by what stood there, so it is not asked again.
    assert {name for name in before if name[0] in "he" and before[name] != after.get(name)} == {hole}


def test_uploads_are_private_and_go_with_the_lesson_and_the_teacher(hill: Hill) -> None:
    teacher = Teacher(hill.engine, hill.station)
    log = hill.log.read_bytes()
    lessons = [teacher.lessons.begin(f"{n}.log", log) for n in range(2)]
    folder = teacher.lessons._uploads.folder
    assert folder is not None and stat.S_IMODE(folder.stat().st_mode) == 0o700
    files = [file for file in folder.iterdir() if file.name != MARK]
    assert sorted(file.name for file in files) == sorted(lesson.id for lesson in lessons)
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    with pytest.raises(UnusableError):
        teacher.lessons.begin("words.log", b"no log at all\n" * 9)
    assert len(list(folder.iterdir())) == 2 + 1
    assert still_kept(hill.engine) == [folder] and take_away_left(hill.engine) == 0  # they are in use
    del teacher
    gc.collect()
    assert not folder.exists()


def test_uploads_that_a_killed_process_left_are_taken_away_by_forget_and_by_the_next_start(hill: Hill) -> None:
    keep = (
        "import os, sys; from server.store.engine import open_store; from server.teaching.uploads import Uploads; "
        "up = Uploads(open_store(sys.argv[1])); print(up.keep('one', b'QA1XYZ'), flush=True); os.kill(os.getpid(), 9)"
    )
    command = [sys.executable, "-c", keep, hill.station.store_url()]

    def left() -> Path:
        said = subprocess.run(command, cwd=Path(__file__).parents[2], capture_output=True, text=True)
        return Path(said.stdout.strip())

    path = left()
    assert path.read_bytes() == b"QA1XYZ" and path.parent.parent == hill.station.folder
    asked = ["forget", "QA1XYZ", "--yes", "--station", str(hill.station.path)]
    assert "Taken away: logs that were uploaded" in CliRunner().invoke(cli, asked).output
    assert not path.parent.exists()
    path = left()
    Teacher(hill.engine, hill.station)
    assert not path.parent.exists()


def test_every_key_that_a_hole_may_have_is_called_something() -> None:
    assert set(KEYS) - {"seconds"} <= set(HOLE_WORDS)


def test_bounds_are_what_the_sentence_says() -> None:
    assert bounded.MEMORY_BYTES == 640 << 20 and bounded.SECONDS == 60
