"""The rule about how well the repeater hears: a change of its level that is sure, raised once. Pure.

It is asked once a day, of the whole local days before, and knows nothing of later ones.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from server.alerts.history import History
from server.alerts.incident import Incident, Open
from server.alerts.limits import Limits
from server.analytics.activity import Ints
from server.analytics.polish import Floats, Readings, common_of, medians, overs_of
from server.analytics.reception import regulars
from server.analytics.reception_changes import STAYS, Change, level_changes
from server.telling.evidence import reception_changed
from shared.zones import DAY, HOUR, from_us, midnight

RULE, WEAKER, STRONGER = "reception", "weaker", "stronger"
LEAST_DB = 3.0
ASKED = 4 * HOUR  # after the local midnight: who began to talk the day before has ended
SPAN = 63  # days before a morning that are looked at
NEWS = 28  # days: what was not sure by then is no news
HINT_DB = 2.0  # a day is looked at more closely where the shift moved by so much


def reception(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """The whole 95 % interval of a change of level lies beyond three decibels. Cleared when the level goes back, or
    after four weeks: then it is what is usual.
    """
    standing = {
        subject: Incident(RULE, subject, open_now[RULE, subject], None, False, "")
        for subject in (WEAKER, STRONGER)
        if (RULE, subject) in open_now
    }
    if not len(history.heard.start):
        return list(standing.values())
    asked = list(_mornings(int(nows[0]), int(nows[-1]), limits))
    if not asked:
        return list(standing.values())
    days = _days(history, limits, asked[-1][0])
    over: list[Incident] = []
    for day, morning in asked:
        _ask(days, day, morning, standing, over, limits)
    return [*over, *standing.values()]


def _mornings(after: int, upto: int, limits: Limits) -> Iterator[tuple[dt.date, int]]:
    """The days whose mornings lie in [after, upto], with the instant at which the rule is asked."""
    day = from_us(after, limits.zone).date()
    while (morning := midnight(day, limits.zone) + ASKED) <= upto:
        if morning >= after:
            yield day, morning
        day += dt.timedelta(days=1)


@dataclass
class Days:
    """The readings of all days that are known, and what was made of them on each morning."""

    dates: Sequence[dt.date]
    readings: Readings  #: levels only
    shift: Floats  #: what all have in common, for a first look
    found: dict[dt.date, list[Change]] = field(default_factory=dict)

    def changes(self, morning: dt.date) -> list[Change]:
        """Of the level, as they were known on a morning."""
        if not self.dates:  # on the log's first morning
            return []
        if morning not in self.found:
            self.found[morning] = self._changes((morning - self.dates[0]).days)
        return self.found[morning]

    def _changes(self, after: int) -> list[Change]:
        low = max(0, after - SPAN)
        if not self._moved(low, after):
            return []
        part = self.readings
        cut = Readings(part.station, part.mode, part.level[:, low:after], part.errors[:, low:after])
        regular = cut.where(regulars(cut.heard()))
        return level_changes(regular, self.dates[low:after]) if len(regular.station) else []

    def _moved(self, low: int, after: int) -> bool:
        """Whether the shift was elsewhere for a week after some day of the last weeks than for two before it."""
        for place in range(max(low + STAYS, after - NEWS), after - STAYS + 1):
            before, then = self.shift[max(low, place - 2 * STAYS) : place], self.shift[place : place + 2 * STAYS]
            then = then[: after - place]
            if abs(medians(then[None], 1)[0] - medians(before[None], 1)[0]) >= HINT_DB:
                return True
        return False


def _days(history: History, limits: Limits, last: dt.date) -> Days:
    """All whole days before a morning."""
    first = from_us(int(history.heard.start.min()), limits.zone).date()
    dates = [first + dt.timedelta(days=n) for n in range(max(0, (last - first).days))]
    edges = np.array([midnight(day, limits.zone) for day in [*dates, last]], dtype=np.int64)
    heard = history.heard
    levels = replace(heard, ber_pct=np.full(len(heard.start), np.nan))
    readings = overs_of(levels, edges, np.zeros(len(heard.start), dtype=np.int64)).readings()
    return Days(dates, readings, common_of(readings.level, readings.station).shift)


def _ask(
    days: Days, day: dt.date, morning: int, standing: dict[str, Incident], over: list[Incident], limits: Limits
) -> None:
    """What is raised and what is cleared on a morning."""
    changes = days.changes(day)
    latest = _subject(changes[-1]) if changes else None
    for subject, one in list(standing.items()):
        if latest not in (None, subject) or morning >= one.raised + NEWS * DAY:
            over.append(replace(standing.pop(subject), cleared=morning))
    for change in changes:
        if not _is_news(days, change, day):
            continue
        subject = _subject(change)
        if subject in standing:
            over.append(replace(standing.pop(subject), cleared=morning))
        began = midnight(change.day, limits.zone)
        standing[subject] = Incident(RULE, subject, morning, None, False, reception_changed(change, day), began)


def _is_news(days: Days, change: Change, day: dt.date) -> bool:
    """Whether it is sure on this morning, and was on none before."""
    if not _is_sure(change) or (day - change.day).days > NEWS:
        return False
    first = max(change.day + dt.timedelta(days=STAYS), days.dates[0])
    earlier = [first + dt.timedelta(days=n) for n in range((day - first).days)]
    return not any(_is_same(change, one) for before in earlier for one in days.changes(before) if _is_sure(one))


def _is_sure(change: Change) -> bool:
    return change.level is not None and change.level.beyond(LEAST_DB)


def _is_same(change: Change, other: Change) -> bool:
    return _subject(change) == _subject(other) and abs((change.day - other.day).days) <= STAYS


def _subject(change: Change) -> str:
    return STRONGER if change.level is not None and change.level.size > 0 else WEAKER
