"""Lessons on logs that nobody described."""

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from parsers.dialect import SHIPPED, dialect_from_text
from server.bounded import run
from server.config import Station
from server.store.engine import Store
from server.teaching.learning import Task, Taught, learn_log
from server.teaching.lesson import Lesson
from server.teaching.teachable import teachable_file, teachable_files
from server.teaching.uploads import Uploads
from server.teaching.writing import write_dialect
from shared.errors import UnusableError

MOST_LESSONS = 4
LONGEST_NAME = 64
NAME = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_"
Left = Callable[[], bool]  #: whether the visitor has gone


def _stays() -> bool:
    return False


@dataclass
class _Lesson:
    """A lesson as it is kept."""

    task: Task
    taught: Taught
    overs_before: int | None = None  #: before the last correction
    uploaded: bool = False


class Lessons:
    """Those of one station, the last few."""

    def __init__(self, engine: Store, station: Station) -> None:
        self._station = station
        self._lock = threading.Lock()
        self._lessons: OrderedDict[str, _Lesson] = OrderedDict()
        self._uploads = Uploads(engine)

    def files(self) -> list[str]:
        """Log files on this machine that may be taught."""
        return teachable_files(self._station)

    def begin(self, name: str, data: bytes | None, left: Left = _stays) -> Lesson:
        """A lesson on an uploaded log (`data`), or on a file of this machine. Raises UnusableError; Left as soon as
        `left()`.
        """
        id, zone = secrets.token_urlsafe(9), self._station.repeater.zone
        if data is None:
            path = teachable_file(self._station, name)
            task = Task(path, path.name, zone)
        else:
            task = Task(self._kept_upload(id, data), name or "upload", zone)
        try:
            lesson = _Lesson(task, run(learn_log, task, left=left), uploaded=data is not None)
        except BaseException:
            if data is not None:
                task.path.unlink()
            raise
        with self._lock:
            self._lessons[id] = lesson
            while len(self._lessons) > MOST_LESSONS:
                _, oldest = self._lessons.popitem(last=False)
                if oldest.uploaded:
                    oldest.task.path.unlink(missing_ok=True)
        return _shown(id, lesson)

    def lesson(self, id: str) -> Lesson | None:
        """One of them, as far as it has come."""
        lesson = self._kept(id)
        return None if lesson is None else _shown(id, lesson)

    def correct(self, id: str, answers: Mapping[str, Any], left: Left = _stays) -> Lesson | None:
        """Learns again with all that has been said. Raises UnusableError; Left as soon as `left()`."""
        lesson = self._kept(id)
        if lesson is None:
            return None
        task = replace(lesson.task, answers=dict(answers))
        taught = run(learn_log, task, left=left)
        lesson.overs_before, lesson.taught, lesson.task = lesson.taught.lesson.overs, taught, task
        return _shown(id, lesson)

    def save(self, id: str, name: str) -> str:
        """Writes the dialect beside the station file; says where. Raises UnusableError."""
        lesson = self._kept(id)
        if lesson is None:
            raise UnusableError("This lesson is no longer kept: begin again.")
        if not name or len(name) > LONGEST_NAME or any(char not in NAME for char in name) or name == "activity":
            raise UnusableError("Give the dialect a name of letters, digits, - and _, such as my-host.")
        path = self._station.folder / f"{name}.toml"
        if path.exists() or (SHIPPED / f"{name}.toml").exists():
            raise UnusableError(f"There is a dialect “{name}” already: take another name.")
        text = lesson.taught.text.replace('name = "taught"', f'name = "{name}"', 1)
        dialect_from_text(text, path)
        write_dialect(path, text)
        return (
            f'Saved as {path.name} beside the station file. Put dialect = "{name}" into the [[log]] of '
            f"{lesson.task.name}, and start `airtally serve` again."
        )

    def _kept(self, id: str) -> _Lesson | None:
        with self._lock:
            return self._lessons.get(id)

    def _kept_upload(self, id: str, data: bytes) -> Path:
        if not data.strip():
            raise UnusableError("The log is empty, so there is nothing to learn.")
        with self._lock:
            return self._uploads.keep(id, data)


def _shown(id: str, lesson: _Lesson) -> Lesson:
    return replace(lesson.taught.lesson, id=id, overs_before=lesson.overs_before)
