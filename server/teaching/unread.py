"""What the unread lines of followed logs may be: proposals for their dialects."""

import hashlib
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from parsers.adopt.more import Proposal, with_proposal
from parsers.dialect import SHIPPED, dialect_from_text, dialect_path, reader
from server.bounded import run
from server.config import Log, Station
from server.intake.log_names import covers
from server.intake.rereading import reread
from server.store.engine import Connection, Store, reading
from server.store.files import last_header
from server.store.lines import UnreadLine, count_unread, newest_unread, unread_share
from server.store.logs import LogRow, log_named
from server.teaching.learning import Answer, Question, look_at_unread
from server.teaching.lesson import LogNews, News
from server.teaching.writing import write_dialect
from server.telling.moments import instant_words
from server.telling.words import fine_percent
from shared.errors import UnusableError
from shared.numbers import grouped
from shared.zones import HOUR

LOOKED_AT = 1500  #: unread lines, the newest
LOOK_S = 20.0  #: what looking at unread lines may take
LOOK_AGAIN_S = 30.0  #: at lines that come in faster than they can be looked at


@dataclass(frozen=True)
class _State:
    """What the proposals of a log depend on."""

    dialect: Path
    changed_ns: int
    lines: int
    newest: int | None


@dataclass(frozen=True)
class _Proposals:
    """What was proposed for a log, and how it is told."""

    news: LogNews = field(default_factory=LogNews)
    proposals: tuple[Proposal, ...] = ()


@dataclass(frozen=True)
class _Looked:
    """When a log was looked at, in which state, and what came of it."""

    state: _State
    proposals: _Proposals
    at_s: float

    def still_holds(self, now: _State) -> bool:
        """Whether nothing has changed, or no more than that lines came, a moment ago."""
        if now == self.state:
            return True
        same = (now.dialect, now.changed_ns) == (self.state.dialect, self.state.changed_ns)
        return same and now.lines >= self.state.lines and time.monotonic() - self.at_s < LOOK_AGAIN_S


class UnreadShapes:
    """Those of one station's logs; reckoned anew when a log's unread lines or its dialect have changed."""

    def __init__(self, engine: Store, station: Station) -> None:
        self._engine = engine
        self._station = station
        self._lock = threading.Lock()
        self._looked: dict[str, _Looked] = {}
        self._looking = threading.Lock()

    def news(self, log_name: str) -> LogNews:
        """What is new in a log."""
        return self._proposals(log_name).news

    def accept(self, log_name: str, key: str) -> str:
        """Puts a proposal ('' for none: only reads again) into the log's dialect and reads the kept lines again; says
        what came of it. Raises UnusableError.
        """
        setting = self._setting(log_name)
        if setting is None:
            raise UnusableError("The station file names no such log any more.")
        proposals = self._proposals(log_name).proposals
        path = dialect_path(setting.dialect, self._station.folder)
        text = path.read_text(encoding="utf-8")
        before = reader(dialect_from_text(text, path)).meaning
        chosen = [proposal for proposal in proposals if _fingerprint(proposal) == key]
        if key and not chosen:
            raise UnusableError(
                "That proposal is no longer there: the log or its dialect has changed. See the Intake page again."
            )
        if chosen:
            text = with_proposal(text, dialect_from_text(text, path), chosen[0])
            if path.parent == SHIPPED:  # what is shipped stays as it is; a file beside the station file comes before it
                path = self._station.folder / f"{setting.dialect}.toml"
            write_dialect(path, text)
        done = reread(self._engine, log_name, text, path, before)
        return (
            f"{path.name}: {grouped(done.lines)} kept lines were read again, {grouped(done.understood)} understood "
            f"and {grouped(done.ignored)} ignored; {grouped(done.overs)} overs came of them."
        )

    def _setting(self, name: str) -> Log | None:
        folder = self._station.folder
        return next((log for log in self._station.log if covers(folder, log.place(folder), name)), None)

    def _proposals(self, name: str) -> _Proposals:
        setting = self._setting(name)
        if setting is None or setting.dialect == "activity":
            return _Proposals()
        path = dialect_path(setting.dialect, self._station.folder)
        with reading(self._engine) as connection:
            log = log_named(connection, name)
            if log is None:
                return _Proposals()
            newest, count = count_unread(connection, log.id)
            state = _State(path, path.stat().st_mtime_ns, count, newest)
            with self._lock:
                last = self._looked.get(name)
            if last is not None and last.still_holds(state):
                return last.proposals
            lines = newest_unread(connection, log.id, LOOKED_AT, whole=True)[::-1]
            question = _question(connection, log, path, lines)
        if not self._looking.acquire(blocking=False):  # somebody's page is waiting for it: others don't
            return last.proposals if last is not None else _Proposals()
        try:
            answer = run(look_at_unread, question, seconds=LOOK_S)
        except UnusableError:  # too much of everything to be told apart here; Intake shows the lines as they are
            answer = Answer(len(lines), ())
        finally:
            self._looking.release()
        found = self._told(log.id, lines, answer)
        with self._lock:
            self._looked[name] = _Looked(state, found, time.monotonic())
        return found

    def _told(self, log_id: int, lines: list[UnreadLine], answer: Answer) -> _Proposals:
        shown = tuple(
            News(_fingerprint(its), its.event, _toml_of(its), its.lines, its.examples, its.sure)
            for its in answer.proposals
        )
        examples = answer.proposals[0].examples if answer.proposals else ()
        first_us = next((line.at_us for line in lines if line.text in examples and line.at_us is not None), None)
        rose = ""
        if first_us is not None:
            with reading(self._engine) as connection:
                rose = share_rose(connection, log_id, first_us, self._station.zone)
        return _Proposals(LogNews(shown, rose, len(lines) - answer.left), answer.proposals)


def _question(connection: Connection, log: LogRow, dialect: Path, lines: list[UnreadLine]) -> Question:
    return Question(
        dialect.read_text(encoding="utf-8"),
        dialect,
        tuple(line.text for line in lines),
        log.last_us or 0,
        last_header(connection, log.id),
    )


def _fingerprint(proposal: Proposal) -> str:
    return hashlib.sha256(f"{proposal.toml}{proposal.words}".encode()).hexdigest()[:16]


def _toml_of(proposal: Proposal) -> str:
    if proposal.toml:
        return proposal.toml
    return "\n".join(
        f"[words.{table}] {word} = {means}" for table, words in proposal.words.items() for word, means in words.items()
    )


def share_rose(connection: Connection, log_id: int, since_us: int, zone: ZoneInfo) -> str:
    """A sentence on how the share of unread lines changed when the first of the new lines came."""
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
