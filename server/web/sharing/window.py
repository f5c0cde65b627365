"""The stretch of days that the Sharing pages look at: the last four whole weeks, or the days that a form names."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.telling.moments import dates_words
from server.web.source import Source
from server.web.weeks import last_whole_week, week_of
from shared.zones import midnight

WEEKS = 4
MOST_DAYS = 93  # a quarter: more is for `airtally replay`


@dataclass(frozen=True)
class Stretch:
    """Whole local days, first to last."""

    first: dt.date
    last: dt.date
    zone: ZoneInfo

    @property
    def window(self) -> tuple[int, int]:
        """[start, end), microseconds UTC."""
        return midnight(self.first, self.zone), midnight(self.last + dt.timedelta(days=1), self.zone)

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1

    @property
    def query(self) -> str:
        """For addresses."""
        return f"first={self.first}&last={self.last}"

    @property
    def words(self) -> str:
        """`2 to 29 November 2026`."""
        return dates_words(self.first, self.last)


def usual_stretch(source: Source) -> Stretch:
    """The four weeks up to the last whole one with data, fewer where the log is younger."""
    known, now, zone = source.first_and_last(), source.now(), source.station().zone
    week = last_whole_week(known[1] if known else now, now, zone)
    first = week.monday - dt.timedelta(weeks=WEEKS - 1)
    if known:  # weeks before the first line would only thin the shares out
        first = max(first, min(week_of(known[0], zone).monday, week.monday))
    return Stretch(first, week.days[-1], zone)


def chosen_stretch(source: Source, first: str | None, last: str | None) -> Stretch:
    """The days of a form; the usual ones where it names none. ValueError with a sentence where they are no days."""
    if not first and not last:
        return usual_stretch(source)
    try:
        stretch = Stretch(dt.date.fromisoformat(first or ""), dt.date.fromisoformat(last or ""), source.station().zone)
    except ValueError:
        raise ValueError("Give a first and a last day, such as 2026-11-02 and 2026-11-29.") from None
    if not 1980 <= stretch.first.year <= stretch.last.year < 9998 or stretch.days < 1:
        raise ValueError("The last day comes before the first: change one of them.")
    if stretch.days > MOST_DAYS:
        raise ValueError(
            f"That is more than {MOST_DAYS} days: choose fewer, or use `airtally replay` for longer stretches."
        )
    if stretch.window[0] >= source.now():
        raise ValueError("These days have not begun: choose earlier ones.")
    return stretch


def months_before(stretch: Stretch, many: int) -> list[tuple[dt.date, int, int]]:
    """(first day, start, end) of the calendar months up to the one that holds the last day, oldest first."""
    found = []
    day = stretch.last.replace(day=1)
    for _ in range(many):
        after = (day + dt.timedelta(days=32)).replace(day=1)
        found.append((day, midnight(day, stretch.zone), midnight(after, stretch.zone)))
        day = (day - dt.timedelta(days=1)).replace(day=1)
    return found[::-1]
