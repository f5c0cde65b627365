"""What `airtally reception` shows in a terminal."""

from server.analytics.reception import Reception
from server.analytics.reception_changes import Change, Size
from server.cli.show import columns, label, window_words
from server.telling.caution import WORK
from server.telling.numbers import count, plain
from server.telling.reception import (
    NO_LEVEL,
    TEACH,
    change_words,
    checks,
    date_words,
    day_bounds_words,
    few,
    headline,
    leads_to_the_mast,
    level_counts,
    not_known,
    range_words,
    signed,
)


def reception_table(found: Reception) -> str:
    """How it stands, the days in rows, then the changes with what to check first."""
    lines = [window_words(found.window), headline(found), *_basis(found)]
    if not not_known(found):
        lines += ["", *_days(found), *_changes(found)]
    return plain("\n".join(lines))


def _basis(found: Reception) -> list[str]:
    if found.overs.every and not found.readings:
        return [TEACH]
    said = [
        f"{count(found.readings, 'reading')}; regulars (station and mode, heard on ten days or more): "
        f"{few(found.regulars)}."
    ]
    if found.readings and not found.levels:
        said += [f"{NO_LEVEL}, so only error rates are told. {TEACH}"]
    return said


def _days(found: Reception) -> list[str]:
    rows = [
        [
            f"{date_words(one.day)} {one.day.year}", signed(one.shift_db, " dB"), range_words(one.low_db, one.high_db),
            signed(one.errors_pct, " points"), few(one.stations),
        ]
        for one in found.days
    ]  # fmt: skip
    return columns(["day", "level", "95 % interval", "errors", "stations"], rows)


def _changes(found: Reception) -> list[str]:
    caution = [WORK] if any(leads_to_the_mast(one) for one in found.changes) else []
    return [line for one in found.changes for line in _change(one)] + caution


def _change(one: Change) -> list[str]:
    said = [change_words(one)]
    other = _size("level", one.level, "dB") if not level_counts(one) else _size("errors", one.errors, "points")
    by_mode = one.modes.items() if level_counts(one) else ()
    modes = ", ".join(f"{label(mode)} {signed(size, ' dB')}" for mode, size in by_mode)
    bounds = day_bounds_words(one)
    said += [f"The day lies {bounds}."] if bounds else []
    said += [other] if other else []
    said += [f"By mode: {modes}."] if modes else []
    return ["", " ".join(said), "Check first:", *(f"  {check}" for check in checks(one))]


def _size(what: str, size: Size | None, unit: str) -> str:
    return (
        "" if size is None else f"{what.capitalize()}: {signed(size.size)} {unit} ({range_words(size.low, size.high)})."
    )
