"""Teaching over the pages: new shapes of followed logs, and lessons on logs that nobody described."""

import hashlib
import os
import secrets
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl
import sqlalchemy as sa

from parsers.adopt.answers import known_from
from parsers.adopt.more import Proposal, propose, still_unread, with_proposal
from parsers.dialect import SHIPPED, dialect_from_text, dialect_path, reader
from parsers.reading import Carry
from server.config import Log, Station
from server.intake.files import PACKED, covers, discover
from server.intake.learning import Adopted, adopt_files, adopt_lines, sample_lines
from server.intake.pairing import nothing_open, pair
from server.intake.pieces import split_lines
from server.intake.rereading import last_header, reread
from server.store import schema
from server.store.engine import reading
from server.web.teach_source import HoleShown, Lesson, LineShown, LogNews, News, OverShown, QuestionShown, ShapeShown
from shared.errors import AirtallyError, UnusableError
from shared.events import MODE_LABELS
from shared.private import write_private
from shared.zones import HOUR, from_us

LOOKED_AT = 1500  #: unread lines, the newest
LESSONS = 4
LINES_SHOWN, OVERS_SHOWN, SHAPES_SHOWN = 60, 25, 40
LARGEST_FILE = 1 << 30
NAME = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_"


@dataclass
class _Taught:
    name: str
    path: Path | None
    sample: list[str]
    data: bytes | None
    around_us: int
    answers: dict[str, Any]
    adopted: Adopted
    before: int | None = None


class StationTeacher:
    """server.web.teach_source.Teacher for one station."""

    def __init__(self, engine: sa.Engine, station: Station) -> None:
        self._engine = engine
        self._station = station
        self._lock = threading.Lock()
        self._news: dict[str, tuple[tuple[object, ...], LogNews, list[Proposal]]] = {}
        self._lessons: OrderedDict[str, _Taught] = OrderedDict()

    # --- new shapes of followed logs

    def _setting(self, name: str) -> Log | None:
        for log in self._station.log:
            if covers(self._station.folder, log.path, name):
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
        table, log = schema.unread_line, schema.log
        with reading(self._engine) as connection:
            row = connection.execute(sa.select(log.c.id, log.c.last_us, log.c.unread, log.c.lines).where(log.c.name == name)).first()
            if row is None:
                return LogNews(), []
            newest = connection.execute(sa.select(sa.func.max(table.c.id), sa.func.count()).where(table.c.log_id == row.id)).one()
            key = (newest[0], newest[1], path, path.stat().st_mtime_ns)
            with self._lock:
                kept = self._news.get(name)
            if kept is not None and kept[0] == key:
                return kept[1], kept[2]
            query = sa.select(table.c.t.label("at"), table.c.text).where(table.c.log_id == row.id, ~table.c.cut)
            rows = connection.execute(query.order_by(table.c.id.desc()).limit(LOOKED_AT)).all()[::-1]
            header = last_header(connection, row.id)
            text = path.read_text(encoding="utf-8")
            dialect = dialect_from_text(text, path)
            lines = [one.text for one in rows]
            around = row.last_us or 0
            left = still_unread(dialect, lines, around, header)
            proposals = propose(text, dialect, left, around, header) if len(left) >= 5 else []
            first = next((one.at for one in rows if proposals and one.text in proposals[0].examples and one.at is not None), None)
            rose = self._rose(connection, row.id, first) if first is not None else ""
        shown = tuple(News(_fingerprint(one), one.event, _toml_of(one), one.lines, one.examples, one.sure) for one in proposals)
        found = LogNews(shown, rose, len(lines) - len(left)), proposals
        with self._lock:
            self._news[name] = (key, *found)
        return found

    @staticmethod
    def _rose(connection: sa.Connection, log_id: int, since_us: int) -> str:
        """How the share of unread lines changed when the first of the new lines came."""
        table = schema.line_hour
        shares = []
        for where in (table.c.hour < since_us // HOUR * HOUR, table.c.hour >= since_us // HOUR * HOUR):
            sizes = [sa.func.coalesce(sa.func.sum(sa.func.length(table.c[name])), 0) for name in ("understood", "ignored", "unread")]
            understood, ignored, unread = connection.execute(sa.select(*sizes).where(table.c.log_id == log_id, where)).one()
            whole = understood + ignored + unread
            shares.append(unread / whole if whole else 0.0)
        if round(shares[1], 3) <= round(shares[0], 3):
            return ""
        before, after = (f"{share * 100:.1f}\u00a0%" for share in shares)
        return f"Since {from_us(since_us):%Y-%m-%d %H:%M} UTC {after} of the lines are unread, before it was {before}."

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
            raise UnusableError("That proposal is no longer there: the log or its dialect has changed. See the Intake page again.")
        if chosen:
            text = with_proposal(text, dialect_from_text(text, path), chosen[0])
            if path.parent == SHIPPED:  # what is shipped stays as it is; a file beside the station file comes before it
                path = self._station.folder / f"{setting.dialect}.toml"
            _write(path, text)
        done = reread(self._engine, log_name, text, path, before)
        return f"{path.name}: {done.lines} kept lines were read again, {done.understood} understood and {done.ignored} ignored; {done.overs} overs came of them."

    # --- lessons

    def files(self) -> Sequence[str]:
        """The station's own log files, and what lies beside them."""
        found, _ = discover([log.path for log in self._station.log], self._station.folder)
        return sorted({str(file.path) for file in found})

    def begin(self, name: str, data: bytes | None) -> Lesson:
        """See Teacher. Raises UnusableError, NothingToLearn."""
        path = self._allowed(name) if data is None else None
        if path is not None:
            adopted = adopt_files([path], zone=self._station.repeater.zone, name="taught")
            taught = _Taught(path.name, path, sample_lines([path])[:24_000], None, path.stat().st_mtime_ns // 1000, {}, adopted)
        else:
            lines = split_lines(data or b"").to_list()
            if not lines:
                raise UnusableError("The log is empty, so there is nothing to learn.")
            newest = 4_102_444_800 * 1_000_000  # an upload has no time of its own: any year but the far future will do
            adopted = self._adopt_data(lines, newest, {})
            taught = _Taught(name or "upload", None, lines[:24_000], data, newest, {}, adopted)
        id = secrets.token_urlsafe(9)
        with self._lock:
            self._lessons[id] = taught
            while len(self._lessons) > LESSONS:
                self._lessons.popitem(last=False)
        return _shown(id, taught)

    def _adopt_data(self, lines: list[str], around_us: int, answers: Mapping[str, Any]) -> Adopted:
        series = pl.Series(lines, dtype=pl.String)
        known = known_from(answers, "the form")
        return adopt_lines(lines[:24_000], lambda: iter([series]), around_us, known=known, zone=self._station.repeater.zone, name="taught")

    def _allowed(self, name: str) -> Path:
        """A log file that may be read over the pages: one in a folder of the station's logs, or in /var/log."""
        path = Path(name).expanduser()
        path = (path if path.is_absolute() else self._station.folder / path).resolve()
        folders = {Path("/var/log"), self._station.folder, *(Path(file).resolve().parent for file in self.files())}
        if not any(path.is_relative_to(folder) for folder in folders):
            raise UnusableError(
                f"{path}: lies outside of the folders of the station's logs and of /var/log; run `airtally adopt` on the machine for it."
            )
        if not path.is_file() or not os.access(path, os.R_OK):
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
            taught = self._lessons.get(id)
        return None if taught is None else _shown(id, taught)

    def correct(self, id: str, answers: Mapping[str, Any]) -> Lesson | None:
        """See Teacher. Raises UnusableError, NothingToLearn."""
        with self._lock:
            taught = self._lessons.get(id)
        if taught is None:
            return None
        if taught.path is not None:
            known = known_from(answers, "the form")
            adopted = adopt_files([taught.path], known=known, zone=self._station.repeater.zone, name="taught")
        else:
            adopted = self._adopt_data(split_lines(taught.data or b"").to_list(), taught.around_us, answers)
        taught.before, taught.adopted, taught.answers = taught.adopted.fit.overs, adopted, dict(answers)
        return _shown(id, taught)

    def save(self, id: str, name: str) -> str:
        """See Teacher. Raises UnusableError."""
        with self._lock:
            taught = self._lessons.get(id)
        if taught is None:
            raise UnusableError("This lesson is no longer kept: begin again.")
        if not name or len(name) > 64 or any(char not in NAME for char in name) or name == "activity":
            raise UnusableError("Give the dialect a name of letters, digits, - and _, such as my-host.")
        path = self._station.folder / f"{name}.toml"
        if path.exists() or (SHIPPED / f"{name}.toml").exists():
            raise UnusableError(f"There is a dialect “{name}” already: take another name.")
        text = taught.adopted.learnt.text.replace('name = "taught"', f'name = "{name}"', 1)
        dialect_from_text(text, path)
        _write(path, text)
        return f'Saved as {path.name} beside the station file. Put dialect = "{name}" into the [[log]] of {taught.name}, and start `airtally serve` again.'


def _fingerprint(proposal: Proposal) -> str:
    return hashlib.sha256(f"{proposal.toml}{proposal.words}".encode()).hexdigest()[:16]


def _toml_of(proposal: Proposal) -> str:
    if proposal.toml:
        return proposal.toml
    return "\n".join(f"[words.{table}] {word} = {means}" for table, words in proposal.words.items() for word, means in words.items())


def _write(path: Path, text: str) -> None:
    """Writes a file whole or not at all."""
    try:
        write_private(path, text)
    except OSError as error:
        raise AirtallyError(f"{path}: can't be written ({error.strerror}); see who owns the folder.") from error


def _shown(id: str, taught: _Taught) -> Lesson:
    learnt, fit, told = taught.adopted.learnt, taught.adopted.fit, taught.adopted.account
    shapes = sorted(learnt.shapes, key=lambda shape: -len(shape.rows))[:SHAPES_SHOWN]
    return Lesson(
        id=id,
        log=taught.name,
        poor=told.poor,
        verdict=told.verdict,
        sentences=told.sentences,
        overs=fit.overs,
        overs_before=taught.before,
        questions=tuple(QuestionShown(q.key, q.asks, q.choices, q.guess, q.examples) for q in learnt.questions),
        shapes=tuple(
            ShapeShown(
                shape.name,
                shape.event,
                len(shape.rows),
                learnt.sample.lines[shape.rows[0]],
                tuple(
                    HoleShown(n, column.key, tuple(value for value, _ in column.filled()[:4])) for n, column in enumerate(shape.columns, 1)
                ),
                shape.why,
            )
            for shape in shapes
        ),
        lines=_lines_shown(learnt),
        sample_overs=_overs_shown(taught),
        answers=taught.answers,
    )


def _lines_shown(learnt: Any) -> tuple[LineShown, ...]:
    """The first lines of the sample, each with what was made of its parts."""
    by_row = {row: (shape, at) for shape in learnt.shapes for at, row in enumerate(shape.rows) if row < LINES_SHOWN * 3}
    out = []
    for row, line in enumerate(learnt.sample.lines[:LINES_SHOWN]):
        if row not in by_row:
            out.append(LineShown("unread", ((line, ""),)))
            continue
        shape, at = by_row[row]
        pieces: list[tuple[str, str]] = []
        rest = line
        for key, value in [(column.key, column.values[at]) for column in shape.columns]:
            place = rest.find(value) if value and key != "_" and shape.event != "ignore" else -1
            if place >= 0:
                pieces += [(rest[:place], ""), (value, key)]
                rest = rest[place + len(value) :]
        out.append(LineShown(shape.event, tuple(piece for piece in (*pieces, (rest, "")) if piece[0])))
    return tuple(out)


def _overs_shown(taught: _Taught) -> tuple[OverShown, ...]:
    learnt = taught.adopted.learnt
    read = reader(learnt.dialect).read(pl.Series(taught.sample[:4000], dtype=pl.String), Carry(), taught.around_us)
    overs = pair(nothing_open(), read.events).overs.filter(pl.col("end").is_not_null()).sort("start").head(OVERS_SHOWN)
    return tuple(
        OverShown(
            f"{from_us(row['start']):%Y-%m-%d %H:%M:%S}",
            MODE_LABELS.get(row["mode"], "not told"),
            str(row["slot"] or ""),
            row["side"] or "not told",
            row["station"] or "not told",
            f"{(row['end'] - row['start']) / 1e6:.1f}",
        )
        for row in overs.to_dicts()
    )
