"""The page of notes: what was done at the station, and the forms to note and to drop."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from server.store.notes import KINDS, TEXT_LIMIT, TIMERS, Note
from server.telling.caution import WORK
from server.telling.moments import instant_words
from server.telling.notes import note_words
from server.telling.outside import VisibleText, visible
from server.web.frame import Frame
from server.web.moment.links import moment_link
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.zones import DAY, instant


@dataclass(frozen=True)
class Entry:
    """What a form gave, as it is shown again."""

    on: str = ""
    time: str = ""
    kind: str = "other"
    text: str = ""
    for_committee: bool = False


@dataclass(frozen=True)
class NoteRow:
    """One note; `number` None: a change of timers, which is taken back elsewhere."""

    number: int | None
    link: Link
    text: tuple[VisibleText, ...]
    for_committee: bool
    compared: Link  #: every figure before and after it


@dataclass(frozen=True)
class NotesView:
    """What notes.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    notes: tuple[NoteRow, ...]  #: newest first
    action: str  #: where the forms go
    token: str  #: ties them to their visitor
    trouble: str  #: why the last entry was not kept; empty
    entry: Entry  #: what it gave
    kinds: tuple[str, ...]  #: to choose from
    limit: int  #: characters
    today: str  #: the last day that can be noted
    timers: Link  #: where changes of timers are entered
    caution: str  #: before anybody works at the station


def note_key(one: Note) -> str:
    """In addresses: `3`; changes of timers have numbers of their own: `timers-3`."""
    return f"timers-{one.id}" if one.kind == TIMERS else str(one.id)


def entry_of(fields: Mapping[str, str]) -> Entry:
    names = ("on", "time", "kind", "text")
    given = {name: fields.get(name, "") for name in names}
    return Entry(**given, for_committee=bool(fields.get("committee")))


def keep_entry(source: Source, entry: Entry, frame: Frame) -> None:
    """Keep a note. ValueError with a sentence where day, time, kind or text can't be used."""
    text = entry.on if not entry.time else f"{entry.on}T{entry.time}"
    try:
        at = instant(text if len(entry.on) == 10 else "", frame.zone)
    except (ValueError, OverflowError):
        raise ValueError("Give the day, such as 2026-11-02, and the time if it matters.") from None
    if not dt.date(1980, 1, 1) <= dt.date.fromisoformat(entry.on) or at > source.now() + DAY:
        raise ValueError("That day is still to come, or long gone: note what was done once it is done.")
    source.add_note(at, entry.kind, entry.text, entry.for_committee)


def notes_view(source: Source, frame: Frame, token: str, trouble: str = "", entry: Entry | None = None) -> NotesView:
    return NotesView(
        shell=frame.shell("Notes", None),
        notes=tuple(_row(one, frame) for one in reversed(source.notes())),
        action=frame.to("/notes"),
        token=token,
        trouble=trouble,
        entry=entry or Entry(),
        kinds=KINDS,
        limit=TEXT_LIMIT,
        today=str(_today(source, frame)),
        timers=frame.link("Changes of the timers", "/sharing/changes"),
        caution=WORK,
    )


def _today(source: Source, frame: Frame) -> dt.date:
    return dt.datetime.fromtimestamp(source.now() / 1_000_000, frame.zone).date()


def _row(one: Note, frame: Frame) -> NoteRow:
    return NoteRow(
        number=None if one.kind == TIMERS else one.id,
        link=moment_link(frame, one.at_us, instant_words(one.at_us, frame.zone, with_year=True)),
        text=visible(note_words(one)),
        for_committee=one.for_committee,
        compared=frame.link("before and after", f"/notes/{note_key(one)}"),
    )
