"""The address of a moment, for every page that tells of one."""

import datetime as dt
from urllib.parse import urlencode

from server.web.frame import Frame
from server.web.shell import Link
from shared.zones import from_us


def moment_path(at_us: int, mode: str | None = None) -> str:
    """`/moment?at=2026-11-17T20:15:00Z&mode=c4fm`: an instant, whatever the clocks do."""
    at = f"{from_us(at_us, dt.UTC):%Y-%m-%dT%H:%M:%SZ}"
    return "/moment?" + urlencode({"at": at} | ({"mode": mode} if mode else {}), safe=":")


def moment_link(frame: Frame, at_us: int, mode: str | None = None, label: str = "That moment") -> Link:
    """The whole second, rounded down."""
    return frame.link(label, moment_path(at_us, mode))
