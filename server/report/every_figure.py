"""Every figure of the month as `figures --json` gives it, for whoever checks the report."""

from collections.abc import Iterator
from typing import Any

from server.report.month import Month
from server.telling.modes import by_airtime
from server.telling.parts import Label, Row, Table
from shared.events import MODE_LABELS


def figure_text(value: Any) -> str:
    """A value as JSON has it, numbers to six digits after the point; null is `not known`."""
    if value is None:
        return "not known"
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return str(value)


def single_figures(month: Month) -> tuple[tuple[str, str], ...]:
    """The figures that there is one of: (its name in the JSON, its value)."""
    single = {
        part: value for part, value in month.figures.as_json().items() if part not in ("repeater", "modes", "shut_outs")
    }
    found = sorted(_leaves(single), key=lambda leaf: "." not in leaf[0])
    return tuple((name, figure_text(value)) for name, value in found)


def mode_figures(month: Month) -> Table:
    """Figures downwards, modes across."""
    modes = by_airtime(month.figures)
    found = [dict(_leaves(its.as_json())) for _, its in modes]
    names = list(dict.fromkeys(name for its in sorted(found, key=len, reverse=True) for name in its))
    rows = tuple(Row(Label(name), tuple(_mode_text(name, its) for its in found)) for name in names)
    return Table("Each mode", (Label("modes"), *(Label(MODE_LABELS[mode]) for mode, _ in modes)), rows)


def _mode_text(name: str, its: dict[str, Any]) -> str:
    if name.startswith(("slot_s.", "both_slots_s")) and its.get("both_slots_s") is None:
        return "has no slots"
    return figure_text(its[name]) if name in its else "–"


def pair_figures(month: Month) -> tuple[tuple[str, ...], ...]:
    """Shut-outs by who held and what was wanted: (held_by, wanted, attempts, mean_wait_s)."""
    return tuple(tuple(map(figure_text, pair.as_json().values())) for pair in month.figures.shut_outs or ())


def _leaves(part: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for name, value in part.items():
        if isinstance(value, dict):
            yield from ((f"{name}.{inner}", leaf) for inner, leaf in _leaves(value))
        else:
            yield name, value
