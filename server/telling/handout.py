"""The users' sheet in words. It names nobody, and counts no station."""

from collections.abc import Iterable, Sequence

from server.analytics.figure_types import Figures
from server.analytics.free_time import FreeTime
from server.telling import words
from server.telling.modes import mode_name
from server.telling.moments import WEEKDAYS, day_words
from server.telling.numbers import seconds_set
from server.telling.parts import Fact, Label, Row, Table
from server.telling.targets import Reach
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND

NO_WEEK = "There is no sheet yet."
NO_WEEK_LOOK = "It is made from whole weeks, Monday to Sunday, and none has ended since the log began."
TITLE = "Using the repeater"
MOSTLY_SEEN = 0.9
SET = "The repeater is set to cut off an over that is longer."
DAYS = tuple(name[:3] for name in WEEKDAYS)
WHOLE_HOUR = "the whole hour"
REACHES = {"local": "this repeater only", "regional": "repeaters of the region", "wide": "far beyond the region"}


def period(figures: Figures) -> str:
    """From which days the sheet is made."""
    window = figures.window
    first, last = (day_words(instant, window.zone) for instant in (window.start_us, window.end_us - SECOND))
    share = window.seen_share
    seen = "" if share >= MOSTLY_SEEN else f"; {words.percent(share)} of that time was logged"
    return f"From the repeater’s own log, {first} to {last}{seen}"


def headline(free: dict[int, FreeTime], modes: Sequence[int]) -> str:
    """Between which shares of the time the repeater is free for these modes."""
    if not modes:
        return "The log of these weeks does not show when the repeater is free."
    least = min(modes, key=lambda mode: free[mode].share)
    most = max(modes, key=lambda mode: free[mode].share)
    if words.percent(free[least].share) == words.percent(free[most].share):
        return f"The repeater is free {words.percent(free[most].share)} of the time."
    return (
        f"The repeater is free between {words.percent(free[least].share)} ({mode_name(MODES[least]).text}) and "
        f"{words.percent(free[most].share)} ({mode_name(MODES[most]).text}) of the time, depending on your mode."
    )


def free_sentence(free: FreeTime) -> str:
    """How much of the time one mode finds the repeater free, and when least."""
    sentence = f"Free {words.percent(free.share)} of the time"
    worst = free.fullest()
    if worst is None:
        return f"{sentence}; too little was seen to tell it by the hour."
    weekday, hour, share = worst
    if share >= 1:
        return f"{sentence}."
    hours = f"{hour:02d}:00 to {(hour + 1) % 24:02d}:00"
    return f"{sentence}; least on {WEEKDAYS[weekday]}s, {hours}: {words.percent(share)}."


def map_alt(label: Label, sentence: str) -> str:
    """What the map of a mode shows, for who can't see it."""
    return f"{label.text} by day of the week and hour of the day. {sentence}"


def hold_table(modes: Sequence[int], timers: Timers) -> Table:
    rows = tuple(Row(mode_name(MODES[mode]), (words.duration(timers.hold_s[mode]),)) for mode in modes)
    return Table("The hold of each mode", (Label("Mode"), Label("Stays")), rows)


def timeout_fact(figures: Figures, timers: Timers) -> Fact:
    counted = sum(its.timeouts for its in figures.modes.values())
    estimated = sum(its.timeouts_estimated for its in figures.modes.values())
    limit = words.duration(timers.timeout_s)
    if not figures.channel.seen_s:
        return Fact(Label("Time-out"), limit, SET)
    cut = f"{words.count(counted, 'over')} {words.verb(counted, 'was', 'were')} cut off in these weeks"
    more = f", and by estimate {words.whole_number(estimated)} more" if estimated else ""
    return Fact(Label("Time-out"), limit, f"{SET} {cut}{more}.")


def gap_fact(figures: Figures, timers: Timers) -> Fact:
    short = figures.talk.short_gap_share if figures.talk else None
    left = "How often it was left is not known."
    if short is not None:
        left = f"It was left in {words.percent(1 - short)} of the pauses."
    return Fact(
        Label("Gap between overs"),
        f"at least {seconds_set(timers.courtesy_gap_s)}",
        f"Wait so long before you answer, so that others can call in. {left}",
    )


def reach_table(reaches: Iterable[Reach]) -> Table:
    """How far each target goes."""
    rows = tuple(
        Row(Label(reach.called), (mode_name(reach.mode).text if reach.mode else "any", REACHES[reach.reach]))
        for reach in reaches
    )
    return Table(
        "Targets as the keeper has named them",
        (Label("Target"), Label("Mode"), Label("Goes to")),
        rows,
        frozenset({0, 1}),
    )


def free_table(label: Label, days: Sequence[str], numbers: Iterable[tuple[str, ...]]) -> Table:
    """The numbers of a mode's map."""
    head = (Label("Day", "free time"), *(Label(f"{hour:02d}") for hour in range(24)))
    rows = tuple(Row(Label(day), row) for day, row in zip(days, numbers, strict=True))
    return Table(f"{label.text}: free, in percent of each hour of local time", head, rows)
