"""Notes on pictures that have days: a letter on the day, and what it stands for below."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from server.store.notes import Note
from server.telling.moments import instant_words
from server.telling.notes import note_words
from server.telling.outside import VisibleText, visible
from server.web.frame import Frame
from server.web.moment.links import moment_link
from server.web.shell import Link
from server.web.source import Source
from shared.zones import from_us

LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True)
class NoteLine:
    """One note below a picture."""

    letter: str
    link: Link  #: when it was, and its moment
    text: tuple[VisibleText, ...]


@dataclass(frozen=True)
class NotesShown:
    """The notes of a picture's days, and where more are entered."""

    rows: tuple[NoteLine, ...]
    page: Link


@dataclass(frozen=True)
class DayMark:
    """Where a note stands: its local day, how far into it in local clock hours, and its letter."""

    day: dt.date
    hour: float
    letter: str


def notes_of(source: Source, start_us: int, end_us: int) -> Sequence[Note]:
    """The notes of a picture's days, the latest of them where they are many."""
    return [one for one in source.notes() if start_us <= one.at_us < end_us][-len(LETTERS) :]


def notes_shown(found: Sequence[Note], frame: Frame) -> NotesShown:
    lines = (
        NoteLine(letter, moment_link(frame, one.at_us, instant_words(one.at_us, frame.zone)), visible(note_words(one)))
        for letter, one in zip(LETTERS, found, strict=False)
    )
    return NotesShown(tuple(lines), frame.link("Note what was done at the station", "/notes"))


def day_marks(found: Sequence[Note], frame: Frame) -> tuple[DayMark, ...]:
    """By the local clock; the hour that a clock change repeats stands where it stands first."""
    return tuple(_mark(one, letter, frame) for letter, one in zip(LETTERS, found, strict=False))


def _mark(one: Note, letter: str, frame: Frame) -> DayMark:
    local = from_us(one.at_us, frame.zone)
    return DayMark(local.date(), local.hour + local.minute / 60, letter)
