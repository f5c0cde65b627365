"""What the keeper noted of the station: what was done there, and when; list, add, drop. Changes of the timers, which
have a table of their own, stand among them where they are shown.
"""

from dataclasses import dataclass

import sqlalchemy as sa

from server.store.engine import reading, writing
from server.store.facts import raise_version
from server.store.rows import may_be_id
from server.store.schema import note
from server.store.timers import plain_line, timer_changes

KINDS = ("antenna", "feeder", "receiver", "transmitter", "host", "site", "other")
TIMERS = "timers"  #: the kind of a change of timers, which is entered and taken back as such
TEXT_LIMIT = 240  # characters


@dataclass(frozen=True)
class Note:
    """One note: its number, when it was (microseconds UTC), its kind, the keeper's words, and whether the committee's
    report has it.
    """

    id: int
    at_us: int
    kind: str
    text: str
    for_committee: bool = False


def notes(engine: sa.Engine) -> list[Note]:
    """The keeper's notes, oldest first. Raises StoreError."""
    columns = (note.c.id, note.c.at, note.c.kind, note.c.text, note.c.for_committee)
    with reading(engine) as connection:
        rows = connection.execute(sa.select(*columns).order_by(note.c.at, note.c.id))
        return [Note(number, at, kind, text, bool(committee)) for number, at, kind, text, committee in rows]


def notes_and_timers(engine: sa.Engine) -> list[Note]:
    """The notes, and the changes of timers as one kind of them (with numbers of their own), oldest first. Raises
    StoreError.
    """
    changes = [Note(change.id, change.at_us, TIMERS, change.note) for change in timer_changes(engine)]
    return sorted([*notes(engine), *changes], key=lambda entry: entry.at_us)


def add_note(engine: sa.Engine, at_us: int, kind: str, text: str, *, for_committee: bool = False) -> Note:
    """Keep a note. Raises ValueError where it says nothing or too much, or is of no known kind; StoreError."""
    if kind not in KINDS:
        raise ValueError(f"The kind is one of {', '.join(KINDS)}.")
    line = plain_line(text, TEXT_LIMIT, "Say what was done, such as: new feeder, 20 m of half-inch.")
    with writing(engine) as connection:
        same = sa.select(note.c.id).where(note.c.at == at_us, note.c.kind == kind, note.c.text == line)
        number = connection.execute(same).scalar()
        if number is None:  # a form that is sent twice is one note
            values = {"at": at_us, "kind": kind, "text": line, "for_committee": for_committee}
            number = connection.execute(sa.insert(note).values(**values).returning(note.c.id)).scalar_one()
            raise_version(connection)
    return Note(number, at_us, kind, line, for_committee)


def drop_note(engine: sa.Engine, number: int) -> bool:
    """Take a note away; False where there is none of that number. Raises StoreError."""
    if not may_be_id(number):
        return False
    with writing(engine) as connection:
        gone = connection.execute(sa.delete(note).where(note.c.id == number)).rowcount > 0
        if gone:
            raise_version(connection)
        return gone
