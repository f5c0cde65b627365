"""What several figures of a window rest on, reckoned once."""

from functools import cached_property

import numpy as np
import numpy.typing as npt

from server.analytics import airtime, sharing, talk
from server.analytics.activity import Activity, Mask, Window, in_window
from server.analytics.sharing import Attempts
from shared import spans as sp
from shared.timers import Timers
from shared.zones import SECOND


class WindowActivity:
    """An activity as one window of it is looked at. Masks are over the columns that they are named after."""

    def __init__(self, activity: Activity, window: Window, timers: Timers) -> None:
        self.activity = activity
        self.window = window
        self.timers = timers
        self.overs = activity.overs
        self.sent = activity.sent
        self.pages = activity.pages
        self.unfinished = activity.unfinished
        self.blind = sp.clip(activity.blind, *window)

    @cached_property
    def seen(self) -> sp.Spans:
        return self.activity.seen(self.window)

    @cached_property
    def seen_us(self) -> int:
        return sp.length(self.seen)

    @cached_property
    def streams(self) -> dict[tuple[int, int], sp.Spans]:
        """What was sent, by mode code and slot."""
        return airtime.stream_airtime(self.sent)

    @cached_property
    def keyed(self) -> sp.Spans:
        return self.seen_part(airtime.keyed(self.sent, self.timers), self.activity.blind)

    @cached_property
    def holds(self) -> sp.Spans:
        """One hold for each row of `sent`, as they are: they may overlap."""
        return sharing.hold_spans(self.sent, self.timers)

    @cached_property
    def idle(self) -> sp.Spans:
        """The idle part of each of the holds."""
        return sharing.idle_holds(self.sent, self.holds)

    @cached_property
    def held_by(self) -> dict[int, sp.Spans]:
        """When each mode held the channel, by mode code."""
        return sharing.held(self.sent, self.holds)

    @cached_property
    def attempts(self) -> Attempts:
        return sharing.attempts(self.activity.refusals)

    @cached_property
    def shut_outs(self) -> sharing.ShutOuts:
        return sharing.shut_outs(self.attempts, self.held_by)

    @cached_property
    def conversations(self) -> talk.Conversations:
        return talk.conversations(self.overs)

    @cached_property
    def shut_out_risk(self) -> npt.NDArray[np.float64]:
        """By mode code, 0 to 1."""
        return sharing.shut_out_risk(self.held_by, self.seen)

    @cached_property
    def began(self) -> Mask:
        """Overs that start in the window."""
        return in_window(self.overs.start, self.window)

    @cached_property
    def inside(self) -> Mask:
        """What was sent, at least in part, within the window."""
        start, end = self.sent.start, self.sent.end
        return in_window(start, self.window) | (np.minimum(end, self.window[1]) > np.maximum(start, self.window[0]))

    @cached_property
    def holding(self) -> Mask:
        """What was sent and held the channel into the window, or within it."""
        return np.minimum(self.holds[:, 1], self.window[1]) > np.maximum(self.sent.start, self.window[0])

    @cached_property
    def paged(self) -> Mask:
        """Pages of the window."""
        return in_window(self.pages.start, self.window)

    @cached_property
    def unmeasured(self) -> Mask:
        """Pages of the window whose length the log does not tell."""
        return self.paged & (self.pages.end < self.pages.start)

    @cached_property
    def estimated(self) -> Mask:
        """Of these, those whose length can be estimated."""
        return self.unmeasured & (self.pages.likely_end >= self.pages.start)

    @cached_property
    def likely_pages(self) -> sp.Spans:
        """One span a page; empty where its length is known, or can't be estimated."""
        return np.stack([self.pages.start, np.maximum(self.pages.likely_end, self.pages.start)]).T

    @cached_property
    def failed(self) -> Mask:
        """Unfinished overs of the window."""
        return in_window(self.unfinished.start, self.window)

    @cached_property
    def attempted(self) -> Mask:
        """Attempts in the window."""
        return in_window(self.attempts.t, self.window)

    @cached_property
    def shut_out(self) -> Mask:
        """Shut-outs in the window."""
        return in_window(self.shut_outs.t, self.window)

    def idle_after(self, which: Mask | slice = slice(None)) -> sp.Spans:
        """When the channel was held and idle, and seen, after all that was sent, or what the mask over `sent` names."""
        return self.seen_part(sp.union(self.idle[which]), self.blind)

    @staticmethod
    def seen_part(covered: sp.Spans, blind: sp.Spans) -> sp.Spans:
        return sp.difference(covered, blind) if len(blind) else covered


def seconds_within(covered: sp.Spans, window: Window) -> float:
    """How long a set covers a window."""
    return sp.length(sp.clip(covered, *window)) / SECOND
