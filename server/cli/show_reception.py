"""What `airtally reception` shows in a terminal."""

from server.analytics.reception import LEAST_DB, Change, Day, Kind, Reception, Size
from server.cli.show import columns, label, plain, window_words
from server.telling.caution import WORK
from server.telling.numbers import UNKNOWN, count
from shared.numbers import grouped

FEW = 5  #: a smaller count could tell of a person
CHECKS = {
    Kind.DEAF: "Check first: feeder and connectors, water in them, the preamplifier, the antenna.",
    Kind.BETTER: "Check first: whether something was mended or changed at the station that day.",
    Kind.NOISE: "Check first: a new transmitter or a source of noise nearby, and the hours in which it is heard.",
}


def reception_table(found: Reception) -> str:
    """The days in rows, then the changes with what to check first."""
    lines = [window_words(found.window), *_basis(found)]
    if any(day.shift_db is not None or day.errors_pct is not None for day in found.days):
        lines += ["", *_days(found), "", *_changes(found)]
    return plain("\n".join(lines))


def _basis(found: Reception) -> list[str]:
    said = (
        f"{count(found.readings, 'reading')}; regulars (station and mode, heard on ten days or more): "
        f"{few(found.regulars)}."
    )
    if not found.readings:
        return [
            "No over in this window tells its level or its errors: a dialect gives `rssi_dbm` or `ber_pct` where the "
            "host logs them."
        ]
    if not found.levels:
        said += " The host logs no level (`rssi_dbm`), so only errors are told."
    if all(day.shift_db is None and day.errors_pct is None for day in found.days):
        said += " On no day were three regulars heard, so nothing is known of the reception yet."
    return [said]


def few(n: int) -> str:
    """A count of stations, without telling of a small group."""
    return "fewer than 5" if n < FEW else grouped(n)


def _days(found: Reception) -> list[str]:
    rows = [
        [
            f"{one.day:%a %d %b %Y}",
            _signed(one.shift_db, " dB"),
            _range(one),
            _signed(one.errors_pct, " points"),
            few(one.stations),
        ]
        for one in found.days
    ]
    return columns(["day", "level", "95 % interval", "errors", "stations"], rows)


def _range(day: Day) -> str:
    if day.low_db is None or day.high_db is None:
        return UNKNOWN
    return f"{_signed(day.low_db)} to {_signed(day.high_db)}"


def _signed(value: float | None, unit: str = "") -> str:
    if value is None:
        return UNKNOWN
    shown = grouped(abs(value), 1)
    return f"{'' if float(shown.replace(',', '')) == 0 else '−' if value < 0 else '+'}{shown}{unit}"


def _changes(found: Reception) -> list[str]:
    if not found.changes:
        return ["No change is sure: no day from which the shift stayed elsewhere for a week."]
    return [line for one in found.changes for line in _change(one)] + [WORK]


def _change(one: Change) -> list[str]:
    parts = [_size(size, unit) for size, unit in ((one.level, "dB"), (one.errors, "points of errors")) if size]
    when = f"{one.day:%a %d %b %Y}"
    if one.earliest != one.latest:
        when += f" (between {one.earliest:%d %b} and {one.latest:%d %b})"
    modes = ", ".join(f"{label(mode)} {_signed(size, ' dB')}" for mode, size in one.modes.items())
    return [
        f"From {when} {_what(one)}: {'; '.join(parts)}." + (f" By mode: {modes}." if modes else ""),
        f"  {CHECKS[one.kind]}",
    ]


def _what(one: Change) -> str:
    if one.kind is Kind.BETTER:
        return "levels rose" if one.level is not None and one.level.counts(LEAST_DB) else "errors fell"
    return "levels fell" if one.kind is Kind.DEAF else "errors rose, and levels did not fall"


def _size(size: Size, unit: str) -> str:
    return f"{_signed(size.size)} {unit} ({_signed(size.low)} to {_signed(size.high)})"
