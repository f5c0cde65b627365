"""Figures as a table that a person can read in a terminal."""

from collections.abc import Iterable
from typing import Any

from server.analytics.figure_types import Figures, Stretch
from server.telling.channel import channel_facts
from server.telling.duty import duty_table
from server.telling.lines import lines_of_log
from server.telling.mode_tables import mode_table
from server.telling.numbers import plain
from server.telling.parts import Fact, Table
from server.telling.shut_outs import pair_table, risk_table, waiting_facts
from server.telling.talk import talk_facts
from server.telling.timeouts import timeout_table
from server.telling.traffic import busy_facts
from server.telling.unseen import NOTHING_SEEN
from shared.events import MODE_LABELS
from shared.numbers import grouped
from shared.zones import iso


def figures_table(found: Figures, courtesy_gap_s: float, *, any_wide: bool) -> str:
    """The figures of a window in facts and tables: those of the Week page."""
    window = found.window
    head = f"{found.repeater}, {window_words(window)}"
    lines = facts(lines_of_log(found))
    if not window.seen:
        return plain("\n".join([head, NOTHING_SEEN, "", *lines]))
    tables = [mode_table(found, {}), timeout_table(found), risk_table(found), pair_table(found)]
    return plain(
        "\n".join(
            [
                head,
                *facts(channel_facts(found)),
                *(line for table in tables if table.rows for line in ("", *drawn(table))),
                "",
                *facts(waiting_facts(found)),
                *facts(busy_facts(found)),
                *facts(talk_facts(found, courtesy_gap_s, any_wide)),
                "",
                *drawn(duty_table(found, window.zone)),
                "",
                *lines,
            ]
        )
    )


def facts(told: Iterable[Fact]) -> list[str]:
    """One figure a line: `Occupancy: 18 %`."""
    return [f"{fact.label.text}: {fact.value}" + (f" ({fact.note})" if fact.note else "") for fact in told]


def drawn(table: Table) -> list[str]:
    """A table under its caption."""
    heads = [label.text for label in table.head]
    return [f"{table.caption}:", *columns(heads, [[row.head.text, *row.cells] for row in table.rows])]


def window_words(window: Stretch) -> str:
    """Its two instants with their offsets, and the zone."""
    return f"{iso(window.start_us, window.zone)} to {iso(window.end_us, window.zone)} ({window.zone.key})"


def label(mode: str | None) -> str:
    """A mode's name as the trade writes it."""
    return MODE_LABELS.get(mode or "", mode or "unknown")


def columns(heads: list[str], rows: list[list[Any]]) -> list[str]:
    """Text columns, the first flush left, the others right; whole numbers with thousands separated."""
    table = [heads, *[[plain(_cell(cell)) for cell in row] for row in rows]]
    widths = [max(len(row[place]) for row in table) for place in range(len(heads))]
    return [
        "  ".join(
            cell.ljust(width) if place == 0 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in table
    ]


def _cell(cell: Any) -> str:
    return grouped(cell) if isinstance(cell, int) else str(cell)
