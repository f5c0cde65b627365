"""The pieces that pages are put together from; templates draw them, views fill them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Label:
    """What a figure is called: with `anchor` a link to its definition, with `mode` that mode's pattern before it."""

    text: str
    anchor: str | None = None
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


@dataclass(frozen=True)
class Link:
    label: str
    href: str
