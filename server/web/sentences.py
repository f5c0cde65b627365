"""Sentences whose figures link to their definitions."""

from dataclasses import dataclass
from typing import Literal

from server.web.definitions import ANCHORS

Level = Literal["look", "note", "fine"]


@dataclass(frozen=True)
class Part:
    """A piece of a sentence; with `anchor` a figure that links to its definition."""

    text: str
    anchor: str | None = None


@dataclass(frozen=True)
class Finding:
    """One sentence or two of the verdict, and the part of the page that has more."""

    level: Level
    parts: tuple[Part, ...]
    section: str = ""
    about_duty: bool = False  #: the caution goes with it


@dataclass(frozen=True)
class Verdict:
    headline: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()
    caution: str = ""  #: where a finding is about the transmitter's duty


def text_of(parts: tuple[Part, ...]) -> str:
    """A sentence without its links."""
    return "".join(part.text for part in parts)


def figure(text: str, name: str) -> Part:
    """A figure in a sentence, linked to its definition by the name it has in definitions.ANCHORS."""
    return Part(text, ANCHORS[name])


def say(*pieces: str | Part) -> tuple[Part, ...]:
    return tuple(Part(piece) if isinstance(piece, str) else piece for piece in pieces)
