"""Teaching over the pages: new shapes of followed logs, and lessons on logs that nobody described."""

import hashlib
import os
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from parsers.adopt.more import Proposal, with_proposal
from parsers.dialect import SHIPPED, dialect_from_text, dialect_path, reader
from server.bounded import run
from server.config import Log, Station
from server.intake.discovery import discover
from server.intake.log_names import PACKED, covers
from server.intake.rereading import reread
from server.lessons import Answer, Question, Task, Taught, learn_log, look_at_unread
from server.store.engine import Connection, Store, reading
from server.store.files import last_header
from server.store.lines import count_unread, newest_unread, unread_share
from server.store.logs import log_named
from server.telling.moments import instant_words
from server.telling.words import fine_percent
from server.uploads import Uploads
from server.web.teach.source import Lesson, LogNews, News
from shared.errors import AirtallyError, UnusableError
from shared.numbers import grouped
from shared.private import write_private
from shared.zones import HOUR

LOOKED_AT = 1500  #: unread lines, the newest
LESSONS = 4
NEWS_S = 20.0  #: what looking at unread lines may take
LOOK_AGAIN_S = 30.0  #: at lines that come in faster than they can be looked at
LARGEST_FILE = 1 << 30
LONGEST_PATH = 4096
NAME = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_"


@dataclass
class _Lesson:
    """A lesson as it is kept."""

    task: Task
    taught: Taught
    before: int | None = None  #: overs before the last correction
    uploaded: bool = False


@dataclass(frozen=True)
class _Kept:
    """What was found in a log's unread lines."""

    key: tuple[Path, int, int, int | None]  #: dialect, its time of change, how many lines, the newest
    found: tuple[LogNews, list[Proposal]]
    when: float

    def still_does(self, now: tuple[Path, int, int, int | None]) -> bool:
        """Whether all that has changed is that more lines came, a moment ago."""
        return now[:2] == self.key[:2] and now[2] >= self.key[2] and time.monotonic() - self.when < LOOK_AGAIN_S


class StationTeacher:
    """server.web.teach.source.Teacher for one station."""

    def __init__(self, engine: Store, station: Station) -> None:
        self._engine = engine
        self._station = station
        self._lock = threading.Lock()
        self._news: dict[str, _Kept] = {}
        self._lessons: OrderedDict[str, _Lesson] = OrderedDict()
        self._uploads = Uploads(engine)
        self._looking = threading.Lock()

    # --- new shapes of followed logs

    def _setting(self, name: str) -> Log | None:
        for log in self._station.log:
            if covers(self._station.folder, log.place(self._station.folder), name):
                return log
        return None

    def news(self, log_name: str) -> LogNews:
        """What is new in a log; reckoned anew when its unread lines or its dialect have changed."""
        return self._look(log_name)[0]

    def _look(self, name: str) -> tuple[LogNews, list[Proposal]]:
        setting = self._setting(name)
        if setting is None or setting.dialect == "activity":
            return LogNews(), []
        path = dialect_path(setting.dialect, self._station.folder)
        with reading(self._engine) as connection:
            log = log_named(connection, name)
            if log is None:
                return LogNews(), []
            newest, count = count_unread(connection, log.id)
            key = (path, path.stat().st_mtime_ns, count, newest)
            with self._lock:
                kept = self._news.get(name)
            if kept is not None and (kept.key == key or kept.still_does(key)):
                return kept.found
            rows = newest_unread(connection, log.id, LOOKED_AT, whole=True)[::-1]
            question = Question(
                path.read_text(encoding="utf-8"),
                path,
                tuple(one.text for one in rows),
                log.last_us or 0,
                last_header(connection, log.id),
            )
        if not self._looking.acquire(blocking=False):  # somebody's page is waiting for it: others don't
            return kept.found if kept is not None else (LogNews(), [])
        try:
            answer = run(look_at_unread, question, seconds=NEWS_S)
        except UnusableError:  # too much of everything to be told apart here; Intake shows the lines as they are
            answer = Answer(len(rows), ())
        finally:
            self._looking.release()
        proposals = list(answer.proposals)
        first = next(
            (one.at for one in rows if proposals and one.text in proposals[0].examples and one.at is not None), None
        )
        rose = ""
        if first is not None:
            with reading(self._engine) as connection:
                rose = _rose(connection, log.id, first, self._station.zone)
        shown = tuple(
            News(_fingerprint(one), one.event, _toml_of(one), one.lines, one.examples, one.sure) for one in proposals
        )
        found = LogNews(shown, rose, len(rows) - answer.left), proposals
        with self._lock:
            self._news[name] = _Kept(key, found, time.monotonic())
        return found

    def accept(self, log_name: str, key: str) -> str:
        """See Teacher."""
        setting = self._setting(log_name)
        if setting is None:
            raise UnusableError("The station file names no such log any more.")
        _, proposals = self._look(log_name)
        path = dialect_path(setting.dialect, self._station.folder)
        text = path.read_text(encoding="utf-8")
        before = reader(dialect_from_text(text, path)).meaning
        chosen = [one for one in proposals if _fingerprint(one) == key]
        if key and not chosen:
            raise UnusableError(
                "That proposal is no longer there: the log or its dialect has changed. See the Intake page again."
            )
        if chosen:
            text = with_proposal(text, dialect_from_text(text, path), chosen[0])
            if path.parent == SHIPPED:  # what is shipped stays as it is; a file beside the station file comes before it
                path = self._station.folder / f"{setting.dialect}.toml"
            _write(path, text)
        done = reread(self._engine, log_name, text, path, before)
        return (
            f"{path.name}: {grouped(done.lines)} kept lines were read again, {grouped(done.understood)} understood "
            f"and {grouped(done.ignored)} ignored; {grouped(done.overs)} overs came of them."
        )

    # --- lessons

    def files(self) -> Sequence[str]:
        """The station's own log files, and what lies beside them."""
        found, _ = discover([log.path for log in self._station.log], self._station.folder)
        return sorted({str(file.path) for file in found})

    def begin(self, name: str, data: bytes | None, left: Callable[[], bool] = lambda: False) -> Lesson:
        """See Teacher. Raises UnusableError, Left."""
        id = secrets.token_urlsafe(9)
        path = self._allowed(name) if data is None else self._kept_upload(id, data)
        called, zone = (
            (path.name, self._station.repeater.zone)
            if data is None
            else (name or "upload", self._station.repeater.zone)
        )
        task = Task(path, called, zone)
        try:
            lesson = _Lesson(task, run(learn_log, task, left=left), uploaded=data is not None)
        except BaseException:
            if data is not None:
                path.unlink()
            raise
        with self._lock:
            self._lessons[id] = lesson
            while len(self._lessons) > LESSONS:
                _, old = self._lessons.popitem(last=False)
                if old.uploaded:
                    old.task.path.unlink(missing_ok=True)
        return _shown(id, lesson)

    def _kept_upload(self, id: str, data: bytes) -> Path:
        if not data.strip():
            raise UnusableError("The log is empty, so there is nothing to learn.")
        with self._lock:
            return self._uploads.keep(id, data)

    def _allowed(self, name: str) -> Path:
        """A log file that may be read over the pages: one in a folder of the station's logs, or in /var/log."""
        if any(ord(char) < 32 or 0xD800 <= ord(char) < 0xE000 for char in name) or len(name) > LONGEST_PATH:
            raise UnusableError("That is no path of a file: name the log as the system has it.")
        try:
            path = Path(name).expanduser()
            path = (path if path.is_absolute() else self._station.folder / path).resolve()
            readable = path.is_file() and os.access(path, os.R_OK)
        except (OSError, RuntimeError, ValueError):  # a part of it is too long, a loop of links, nobody's home
            raise UnusableError(
                f"{name[:100]}: is no path of a file here: name the log as the system has it."
            ) from None
        folders = {Path("/var/log"), self._station.folder, *(Path(file).resolve().parent for file in self.files())}
        if not any(path.is_relative_to(folder) for folder in folders):
            raise UnusableError(
                f"{path}: lies outside of the folders of the station's logs and of /var/log; run `airtally adopt` on "
                "the machine for it."
            )
        if not readable:
            raise UnusableError(f"{path}: is no file that can be read.")
        if path.stat().st_size > LARGEST_FILE:
            raise UnusableError(f"{path}: is larger than 1 GB; teach a part of it.")
        with path.open("rb") as file:
            binary = b"\0" in file.read(4096)
        if binary and path.suffix not in PACKED:
            raise UnusableError(f"{path}: holds no text.")
        return path

    def lesson(self, id: str) -> Lesson | None:
        """See Teacher."""
        with self._lock:
            lesson = self._lessons.get(id)
        return None if lesson is None else _shown(id, lesson)

    def correct(self, id: str, answers: Mapping[str, Any], left: Callable[[], bool] = lambda: False) -> Lesson | None:
        """See Teacher. Raises UnusableError, Left."""
        with self._lock:
            lesson = self._lessons.get(id)
        if lesson is None:
            return None
        task = replace(lesson.task, answers=dict(answers))
        taught = run(learn_log, task, left=left)
        lesson.before, lesson.taught, lesson.task = lesson.taught.lesson.overs, taught, task
        return _shown(id, lesson)

    def save(self, id: str, name: str) -> str:
        """See Teacher. Raises UnusableError."""
        with self._lock:
            lesson = self._lessons.get(id)
        if lesson is None:
            raise UnusableError("This lesson is no longer kept: begin again.")
        if not name or len(name) > 64 or any(char not in NAME for char in name) or name == "activity":
            raise UnusableError("Give the dialect a name of letters, digits, - and _, such as my-host.")
        path = self._station.folder / f"{name}.toml"
        if path.exists() or (SHIPPED / f"{name}.toml").exists():
            raise UnusableError(f"There is a dialect “{name}” already: take another name.")
        text = lesson.taught.text.replace('name = "taught"', f'name = "{name}"', 1)
        dialect_from_text(text, path)
        _write(path, text)
        return (
            f'Saved as {path.name} beside the station file. Put dialect = "{name}" into the [[log]] of '
            f"{lesson.task.name}, and start `airtally serve` again."
        )


def _fingerprint(proposal: Proposal) -> str:
    return hashlib.sha256(f"{proposal.toml}{proposal.words}".encode()).hexdigest()[:16]


def _toml_of(proposal: Proposal) -> str:
    if proposal.toml:
        return proposal.toml
    return "\n".join(
        f"[words.{table}] {word} = {means}" for table, words in proposal.words.items() for word, means in words.items()
    )


def _write(path: Path, text: str) -> None:
    """Writes a file whole or not at all."""
    try:
        write_private(path, text)
    except OSError as error:
        raise AirtallyError(f"{path}: can't be written ({error.strerror}); see who owns the folder.") from error


def _shown(id: str, lesson: _Lesson) -> Lesson:
    return replace(lesson.taught.lesson, id=id, overs_before=lesson.before)


def _rose(connection: Connection, log_id: int, since_us: int, zone: ZoneInfo) -> str:
    """How the share of unread lines changed when the first of the new lines came."""
    hour = since_us // HOUR * HOUR
    shares = [
        unread_share(connection, log_id, before=hour, since=None),
        unread_share(connection, log_id, before=None, since=hour),
    ]
    if round(shares[1], 3) <= round(shares[0], 3):
        return ""
    before, after = (fine_percent(share) for share in shares)
    when = instant_words(since_us, zone, with_year=True)
    return f"Since {when}: {after} of the lines are unread, before it was {before}."
