"""Changes of the repeater's timers that the keeper has confirmed: list, add, remove."""

import unicodedata
from dataclasses import dataclass

import sqlalchemy as sa

from server.store.engine import reading, writing
from server.store.facts import raise_version
from server.store.rows import may_be_id
from server.store.schema import timer_change

NOTE_LIMIT = 120  # characters


@dataclass(frozen=True)
class TimerChange:
    """One change: its number, when it came into force (microseconds UTC), and the keeper's words for it."""

    id: int
    at_us: int
    note: str


def timer_changes(engine: sa.Engine) -> list[TimerChange]:
    """All changes, oldest first. Raises StoreError."""
    query = sa.select(timer_change.c.id, timer_change.c.at, timer_change.c.note).order_by(
        timer_change.c.at, timer_change.c.id
    )
    with reading(engine) as connection:
        return [TimerChange(*row) for row in connection.execute(query)]


def add_timer_change(engine: sa.Engine, at_us: int, note: str) -> None:
    """Keep a change. Raises ValueError where the note says nothing or too much, StoreError."""
    line = plain_note(note)
    with writing(engine) as connection:
        there = sa.select(timer_change.c.id).where(timer_change.c.at == at_us, timer_change.c.note == line)
        if connection.execute(there).first() is None:  # a form that is sent twice is one change
            connection.execute(sa.insert(timer_change).values(at=at_us, note=line))
            raise_version(connection)


def remove_timer_change(engine: sa.Engine, number: int) -> bool:
    """Take a change back; False where there is none of that number. Raises StoreError."""
    if not may_be_id(number):
        return False
    with writing(engine) as connection:
        gone = connection.execute(sa.delete(timer_change).where(timer_change.c.id == number)).rowcount > 0
        if gone:
            raise_version(connection)
        return gone


def plain_note(note: str) -> str:
    """One line of plain text. Raises ValueError."""
    return plain_line(note, NOTE_LIMIT, "Say what was changed, such as: hold of DMR from 20 s to 10 s.")


def plain_line(text: str, limit: int, nothing: str) -> str:
    """One line of plain text. Raises ValueError: with `nothing` where it says nothing."""
    kinds = [(character, unicodedata.category(character)) for character in text]
    # a soft hyphen is not seen: a blank in its place would part a word in two
    line = " ".join("".join(" " if kind[0] in "CZ" else one for one, kind in kinds if kind != "Cf").split())
    if not line:
        raise ValueError(nothing)
    if len(line) > limit:
        raise ValueError(f"Say it in at most {limit} characters.")
    return line
