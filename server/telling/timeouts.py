"""What ran into the time-out."""

from server.analytics.figure_types import Figures, Mode
from server.telling import words
from server.telling.modes import by_airtime, mode_name
from server.telling.parts import Label, Row, Table


def timeout_table(figures: Figures) -> Table:
    """Modes that had any; counted and estimated stand apart."""
    head = (
        Label("Mode"),
        Label("Logged", "timeout"),
        Label("By length", "timeout estimated"),
        Label("Near", "near timeout"),
        Label("Locked out", "lockout"),
    )
    rows = [Row(mode_name(mode), cells) for mode, its in by_airtime(figures) if (cells := _cells(its))]
    return Table("Time-outs by mode", head, tuple(rows))


def _cells(its: Mode) -> tuple[str, ...] | None:
    """Logged, by length (with the word `estimated`), near, locked out; None for a mode that had none of them."""
    counts = (its.timeouts, its.timeouts_estimated, its.near_timeouts, its.timeout_lockouts)
    if not any(counts):
        return None
    logged, inferred, near, locked = map(words.whole_number, counts)
    return logged, f"{inferred} estimated" if its.timeouts_estimated else words.NONE, near, locked
