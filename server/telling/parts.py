"""The pieces that pages and reports are put together from; templates draw them, and turn a figure's name
into a link.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Label:
    """What a figure is called: with `figure` its name among the definitions, with `mode` that mode's pattern
    before it.
    """

    text: str
    figure: str | None = None
    mode: str | None = None


@dataclass(frozen=True)
class Fact:
    """One figure with its name, and what else is to say of it."""

    label: Label
    value: str
    note: str = ""


@dataclass(frozen=True)
class Row:
    head: Label
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Numbers. `head` has the corner first; with `text_columns` those columns (0 is the first cell) hold words."""

    caption: str
    head: tuple[Label, ...]
    rows: tuple[Row, ...]
    text_columns: frozenset[int] = frozenset()
