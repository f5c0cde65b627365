"""Addresses of pages that are told elsewhere too: in notices, and wherever a page leads to a moment."""

import datetime as dt
from urllib.parse import urlencode

from shared.zones import from_us


def moment_path(at_us: int, mode: str | None = None) -> str:
    """`/moment?at=2026-11-17T20:15:00Z&mode=c4fm`: an instant, whatever the clocks do."""
    at = from_us(at_us, dt.UTC).isoformat().replace("+00:00", "Z")
    return "/moment?" + urlencode({"at": at} | ({"mode": mode} if mode else {}), safe=":")


def week_path(monday: dt.date) -> str:
    """`/week/2026-W47`."""
    year, week, _ = monday.isocalendar()
    return f"/week/{year}-W{week:02d}"
