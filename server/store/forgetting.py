"""Erase an identity from the whole store, so that nothing of it is left in the store's own files.

Every text column of every table is in one of the classes below (a test holds that), so that none is overlooked.
"""

import re
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from server.store import schema
from server.store.engine import explained, place, reading, sqlite_file, writing
from server.store.facts import raise_version
from shared.errors import AirtallyError
from shared.folding import folded, spelt_apart, without
from shared.numbers import grouped

ERASED = "(erased)"
SHORTEST = 3  #: characters of an identity that is looked for inside of texts; shorter ones only as a whole value
WAIT_S = 20.0
#: Values of which an identity is the whole, with or without what follows it: they become unknown.
VALUES = {
    "over": ("station", "target", "session"),
    "open_over": ("station", "target", "session"),
    "event": ("station", "target", "network", "session"),
}
#: Texts that an identity may stand in: it is taken out of them.
TEXTS = {
    "incident": ("subject", "says"),
    "notice": ("title", "body"),
    "delivery": ("label", "trouble"),
    "timer_change": ("note",),
    "note": ("text",),
    "fact": ("value",),
    "file": ("header", "trouble"),
    "waiting_file": ("says",),
}
#: Those of them that are the keeper's own words: an identity is looked for within words too, however it is written.
KEEPERS = ("timer_change", "note")
#: Rows that go whole.
ROWS = {"unread_line": ("text",)}
#: What names files, settings and words of ours: following the logs rests on it, so it is named to the keeper and left.
LEFT = {
    "log": ("name", "dialect", "cursor"),
    "file": ("path", "head_hash", "tail_hash"),
    "read_with": ("how",),
    "waiting_file": ("path", "log_name"),
    "over": ("mode", "side", "cause"),
    "open_over": ("mode", "side"),
    "event": ("event", "mode", "side", "reason"),
    "tally": ("mode",),
    "fact": ("name",),
    "incident": ("rule",),
    "notice": ("kind",),
    "note": ("kind",),
    "delivery": ("channel", "state"),
}
SAID = {
    "over": ("over", "overs"),
    "open_over": ("open over", "open overs"),
    "event": ("other event", "other events"),
    "unread_line": ("unread line", "unread lines"),
    "incident": ("incident", "incidents"),
    "notice": ("notice", "notices"),
    "delivery": ("delivery", "deliveries"),
    "timer_change": ("change of timers", "changes of timers"),
    "note": ("note", "notes"),
    "fact": ("kept result", "kept results"),
    "file": ("header of a log", "headers of logs"),
    "waiting_file": ("waiting file", "waiting files"),
}


@dataclass
class Traces:
    """Where an identity stands in a store: the keys of rows by table, and what is left as it names a file or a log."""

    rows: dict[str, list[tuple[object, ...]]] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)

    def total(self) -> int:
        return sum(map(len, self.rows.values()))

    def says(self) -> str:
        """`1 over, 2 notices`; every table that has any, overs, other events and unread lines always."""
        shown = [name for name in SAID if self.rows.get(name) or name in ("over", "event", "unread_line")]
        counts = [(len(self.rows.get(name, [])), SAID[name]) for name in shown]
        return ", ".join(f"{grouped(count)} {name if count == 1 else many}" for count, (name, many) in counts)


class Identity:
    """All spellings of one person: its call sign and its numeric ids."""

    def __init__(self, ids: Iterable[str]) -> None:
        self.ids = frozenset(ids)
        words = "|".join(re.escape(name) for name in sorted(self.ids, key=len, reverse=True))
        self._value = re.compile(rf"\s*(?:{words})(?:[\s/-].*)?\s*", re.IGNORECASE | re.DOTALL)
        long = "|".join(re.escape(name) for name in sorted(self.ids, key=len, reverse=True) if len(name) >= SHORTEST)
        self._word = (
            re.compile(rf"(?<![A-Za-z0-9])(?:{long})(?:[/-][A-Za-z0-9]+)*(?![A-Za-z0-9])", re.IGNORECASE)
            if long
            else None
        )
        self._part = re.compile(long, re.IGNORECASE) if long else None
        written = "|".join(spelt_apart(name) for name in self.ids if len(name) >= SHORTEST)
        self._written = re.compile(written) if written else None

    def is_value(self, text: str) -> bool:
        """Whether a station, target or network is this person, whatever follows the identity, or holds it as a word."""
        return self._value.fullmatch(text) is not None or self.in_text(text)

    def in_text(self, text: str) -> bool:
        """Whether it stands in a text as a word."""
        return self._word is not None and self._word.search(text) is not None

    def in_line(self, text: str) -> bool:
        """Whether it stands anywhere in a line of a host, even within a word."""
        return self._part is not None and self._part.search(text) is not None

    def in_note(self, text: str) -> bool:
        """Whether it stands anywhere in the keeper's words, even within a word or written apart."""
        return self._written is not None and self._written.search(folded(text).text) is not None

    def without_in_note(self, text: str) -> str:
        """The keeper's words without those that it stands in."""
        seen = folded(text)
        found = () if self._written is None else self._written.finditer(seen.text)
        return without(text, (seen.words(*one.span()) for one in found), ERASED)

    def without(self, text: str) -> str:
        return text if self._word is None else self._word.sub(ERASED, text)

    def narrowed(self, column: sa.ColumnElement[str]) -> sa.ColumnElement[bool]:
        """What the database can do to leave most rows out."""
        return sa.or_(*(sa.func.upper(column).contains(name.upper(), autoescape=True) for name in sorted(self.ids)))


def traces_of(connection: sa.Connection, who: Identity) -> Traces:
    """Where an identity stands."""
    traces = Traces()
    for table in schema.metadata.sorted_tables:
        matched = [
            key
            for *key, _ in _matching(connection, table, VALUES.get(table.name, ()), who, who.is_value)
        ]  # fmt: skip
        in_text = who.in_note if table.name in KEEPERS else who.in_text
        matched += [key for *key, _ in _matching(connection, table, TEXTS.get(table.name, ()), who, in_text)]
        matched += [key for *key, _ in _matching(connection, table, ROWS.get(table.name, ()), who, who.in_line)]
        if matched:
            traces.rows[table.name] = list(dict.fromkeys(map(tuple, matched)))
        for name in LEFT.get(table.name, ()):
            texts = (str(row[-1]) for row in _matching(connection, table, (name,), who, who.in_text))
            traces.left += [f"{table.name}.{name}: {text}" for text in dict.fromkeys(texts)]
    return traces


def _matching(
    connection: sa.Connection, table: sa.Table, names: Iterable[str], who: Identity, holds: Callable[[str], bool]
) -> Iterator[sa.Row[*tuple[Any, ...]]]:
    """(key..., text) of the rows whose column holds the identity."""
    for name in names:
        column = table.c[name]
        query = sa.select(*table.primary_key.columns, column.label("held")).where(column.is_not(None))
        if table.name not in KEEPERS:  # few, and written in ways that the database can't compare
            query = query.where(who.narrowed(column))
        yield from [row for row in connection.execute(query) if holds(str(row.held))]


def erase(engine: sa.Engine, who: Identity) -> Traces:
    """Take an identity out of every table; what was found. The files still hold it until `scrub`. Raises StoreError."""
    with writing(engine) as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("PRAGMA secure_delete = ON")
        traces = traces_of(connection, who)
        for name, keys in traces.rows.items():
            table = schema.metadata.tables[name]
            for at in range(0, len(keys), 200):
                _erase_rows(connection, table, keys[at : at + 200], who)
        connection.execute(sa.delete(schema.tally))
        raise_version(connection)
    return traces


def _erase_rows(connection: sa.Connection, table: sa.Table, keys: list[tuple[object, ...]], who: Identity) -> None:
    key = sa.tuple_(*table.primary_key.columns)
    if table.name in ROWS:
        connection.execute(sa.delete(table).where(key.in_(keys)))
        return
    names = [*VALUES.get(table.name, ()), *TEXTS.get(table.name, ())]
    width = len(table.primary_key.columns)
    rows = connection.execute(
        sa.select(*table.primary_key.columns, *(table.c[name].label(f"_{name}") for name in names)).where(key.in_(keys))
    ).all()
    for row in rows:
        changed = _without(who, table.name, dict(zip(names, row[width:], strict=True)))
        if table.name == "incident" and "subject" in changed:
            changed["subject"] = (
                f"{changed['subject']} {row[0]}"  # rule, subject and instant name an incident: two must not become one
            )
        connection.execute(sa.update(table).where(key == sa.tuple_(*row[:width])).values(**changed))


def _without(who: Identity, table: str, held: Mapping[str, str | None]) -> dict[str, str | None]:
    """The columns of a row that tell of an identity, without it."""
    changed: dict[str, str | None] = {}
    for name, text in held.items():
        if text is None:
            continue
        if name in VALUES.get(table, ()) and who.is_value(text):
            changed[name] = None
        if table in KEEPERS and name in TEXTS[table]:
            changed[name] = who.without_in_note(text)
        elif name in TEXTS.get(table, ()) and who.in_text(text):
            changed[name] = who.without(text)
    return changed


def scrub(engine: sa.Engine) -> None:
    """Rewrite the store's files, so that free pages and the write-ahead log keep nothing of what was erased. Raises
    AirtallyError where another program reads them all the time.
    """
    file = sqlite_file(engine)
    if file is None:
        _scrub_postgresql(engine)
        return
    until = time.monotonic() + WAIT_S
    with explained(engine), engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        assert raw is not None
        raw.execute("PRAGMA secure_delete = ON")
        raw.execute("VACUUM")
        while raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[
            0
        ]:  # the rewritten pages lie in the write-ahead log until then
            if time.monotonic() > until:
                raise AirtallyError(
                    f"{place(engine)}: is erased, but another program reads the store, so {file.name} and "
                    f"{file.name}-wal may still hold traces: "
                    "stop `airtally serve` and run the same command again."
                )
            time.sleep(0.1)


def _scrub_postgresql(engine: sa.Engine) -> None:
    """Rewrites each table. The server's own write-ahead log is beyond what a client can clean."""
    with explained(engine), engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for name in sorted({*VALUES, *TEXTS, *ROWS, "tally"}):
            connection.exec_driver_sql(f"VACUUM FULL {name}")


def look(engine: sa.Engine, who: Identity) -> Traces:
    """What `erase` would take out. Raises StoreError."""
    with reading(engine) as connection:
        return traces_of(connection, who)
