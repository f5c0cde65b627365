"""The rules about what is around the transmitter: gone silent, link down, intake. Pure functions, as those in
server.alerts.rules.
"""

from typing import Literal

import numpy as np

from server.alerts.history import NEVER, Bools, History
from server.alerts.incident import Incident, Open, levels, stretches
from server.alerts.limits import MINUTE, Limits
from server.analytics.activity import AIR, Ints
from server.telling import evidence
from server.telling.targets import FLAPPING
from shared import spans as sp
from shared.zones import DAY, HOUR

#: Gone silent: a gap is improbable when it is this many times longer than one that came once a week, and at least so
#: long.
LINES_TIMES, LINES_LEAST = 2, 30 * MINUTE
OVERS_TIMES, OVERS_LEAST = 3, 6 * HOUR
HISTORY = 13 * 7 * DAY
LINES_KNOWN, OVERS_KNOWN = 7 * DAY, 28 * DAY  # history without which nothing is said
HOST_DOWN = 10 * MINUTE
FLAPS, FLAPS_CLEAR = 6, 1  # losses of one link within an hour
LINES_AT_LEAST = 50  # in an hour, before a share of them says anything


def gone_silent(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """No line in a log, or no over from the air side, for far longer than is usual by its own history; the host was
    stopped and stays so.
    """
    now = int(nows[-1])
    found = []
    for log, stamps in sorted(history.lines.items()):
        subject = f"log {log.rsplit('/', 1)[-1]}"
        for begun, after, limit in _silences(stamps, stamps, now, LINES_TIMES, LINES_LEAST, LINES_KNOWN):
            says = evidence.no_line(subject.removeprefix("log "), begun, limit, limits.zone)
            found.append(Incident("gone-silent", subject, begun + limit, after, False, says, begun))
    air = (history.side == AIR) & (history.end < NEVER)
    reach = np.maximum.accumulate(history.end[air]) if air.any() else history.end[air]
    for begun, after, limit, since in _seen_silences(history, history.start[air], reach, now):
        says = evidence.no_over(begun, limit, limits.zone)
        found.append(Incident("gone-silent", "air", since, after, False, says, begun))
    for log, (instants, started) in sorted(history.hosts.items()):
        for down, up in _away(instants, started, HOST_DOWN, now):
            short = log.rsplit("/", 1)[-1]
            says = evidence.host_stopped(short, down, up, limits.zone)
            found.append(Incident("gone-silent", f"host {short}", down + HOST_DOWN, up, False, says, down))
    return found


def _silences(
    starts: Ints, ends: Ints, now: int, times: int, least: int, known: int
) -> list[tuple[int, int | None, int]]:
    """Gaps from each end to the next start that became improbable by `now`: (begun, over or None, after how long it was
    improbable).

    What is usual is taken from the gaps that were over before, in the last 13 weeks: the k-th longest of k weeks came
    about once a week.
    """
    if not len(starts):
        return []
    following = np.append(starts[1:], np.int64(NEVER))
    gap = np.minimum(following, now) - ends
    first, found = int(starts[0]), []
    long = np.flatnonzero(gap > least)  # shorter ones can neither be improbable nor make others usual beyond `least`
    half = np.flatnonzero((following - ends > least // times) & (following <= now))
    for place in long.tolist():
        begun, after = int(ends[place]), int(following[place])
        recorded = begun - max(first, begun - HISTORY)
        if recorded < known:
            continue
        before = half[(following[half] <= begun) & (ends[half] >= begun - HISTORY)]
        weeks = max(1, round(recorded / (7 * DAY)))
        gaps = (following - ends)[before]
        usual = int(np.partition(gaps, len(gaps) - weeks)[len(gaps) - weeks]) if len(gaps) >= weeks else 0
        limit = max(least, times * usual)
        if begun + limit < min(after, now + 1):
            found.append((begun, after if after <= now else None, limit))
    return found


def _seen_silences(history: History, starts: Ints, ends: Ints, now: int) -> list[tuple[int, int | None, int, int]]:
    """The same of overs from the air side, by a clock that stands still in time that nobody saw: (begun, over or None,
    after how long it was improbable, since when).
    """
    blind = history.blind
    before = np.concatenate([[0], np.cumsum(blind[:, 1] - blind[:, 0])])  # blind time up to each blind span
    stops = blind[:, 0] - before[:-1]  # by that clock

    def told(seen: int, side: Literal["left", "right"]) -> int:
        return seen + int(before[np.searchsorted(stops, seen, side=side)])

    def seen(instants: Ints) -> Ints:
        return np.asarray(instants - sp.covered_before(blind, instants))

    upto = int(seen(np.array([now], dtype=np.int64))[0])
    found = _silences(seen(starts), seen(ends), upto, OVERS_TIMES, OVERS_LEAST, OVERS_KNOWN)
    return [
        (told(begun, "left"), None if after is None else told(after, "right"), limit, told(begun + limit, "left"))
        for begun, after, limit in found
    ]


def _away(instants: Ints, back: Bools, longer: int, now: int) -> list[tuple[int, int | None]]:
    """Stretches from a loss to the return after it that have lasted longer than `longer` by `now`; one that goes on has
    no end.
    """
    found: list[tuple[int, int | None]] = []
    lost: int | None = None
    for instant, returned in zip(instants.tolist(), back.tolist(), strict=True):
        if returned:
            if lost is not None and instant - lost > longer:
                found.append((lost, instant))
            lost = None
        elif lost is None:
            lost = instant
    if lost is not None and now - lost >= longer:
        found.append((lost, None))
    return found


def link_down(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """A link that was lost for longer than link_down_s, cleared when it is back; and one that is lost again and
    again.
    """
    now = int(nows[-1])
    found = []
    for name, (instants, back) in sorted(history.links.items()):
        for down, up in _away(instants, back, limits.link_down, now):
            says = evidence.link_lost(name, down, up, limits.zone)
            found.append(Incident("link-down", name, down + limits.link_down, up, False, says, down))
        lost = instants[~back]
        count = np.searchsorted(lost, nows, side="right") - np.searchsorted(lost, nows - HOUR, side="right")
        subject = f"{name}{FLAPPING}"
        for one in stretches(levels(count >= FLAPS, count <= FLAPS_CLEAR), nows, open_now.get(("link-down", subject))):
            says = evidence.link_flapped(name, int(count[one.at]), one.raised, limits.zone)
            found.append(Incident("link-down", subject, one.raised, one.cleared, False, says if one.at >= 0 else ""))
    return found


def intake(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """More than a set share of the last hour's lines could not be read. (Disk and clock:
    server.alerts.disk_and_clock.)
    """
    lines, unread = (
        np.searchsorted(stamps, nows, side="right") - np.searchsorted(stamps, nows - HOUR, side="right")
        for stamps in (history.every_line, history.unread)
    )
    share = unread / np.maximum(lines, 1)
    up = (share > limits.unread_share) & (lines >= LINES_AT_LEAST)
    found = []
    for one in stretches(levels(up, share < limits.unread_share / 2), nows, open_now.get(("intake", "lines"))):
        says = evidence.many_unread(int(unread[one.at]), int(lines[one.at]), one.raised, limits.zone)
        found.append(Incident("intake", "lines", one.raised, one.cleared, False, says if one.at >= 0 else ""))
    return found
