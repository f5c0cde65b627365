"""Sentences whose figures are named, so that a page can link them to their definitions."""

from dataclasses import dataclass
from typing import Literal

Level = Literal["look", "note", "fine"]


@dataclass(frozen=True)
class Text:
    """A stretch of a sentence; with `figure` the name of that figure among the definitions."""

    text: str
    figure: str | None = None


Sentence = tuple[Text, ...]


@dataclass(frozen=True)
class Finding:
    """One thing worth knowing, in a sentence or two, and the part of the page that has more."""

    figure: str  #: its name among the definitions
    level: Level
    parts: Sentence
    section: str = ""
    about_duty: bool = False  #: the caution goes with it


@dataclass(frozen=True)
class Verdict:
    headline: Sentence
    findings: tuple[Finding, ...] = ()
    caution: str = ""  #: where a finding is about the transmitter's duty


def text_of(sentence: Sentence) -> str:
    """A sentence as plain text."""
    return "".join(part.text for part in sentence)


def figure(text: str, name: str) -> Text:
    """A figure in a sentence, by its name among the definitions."""
    return Text(text, name)


def say(*pieces: str | Text) -> Sentence:
    return tuple(Text(piece) if isinstance(piece, str) else piece for piece in pieces)
