"""The rules about the transmitter: duty, an hour unlike itself, chatter.

Each is a pure function of what was heard, the instants at which it is asked, the limits and what stands raised; it uses
nothing that was written after the instant it is asked about. Live watch and replay call the same functions
(server.alerts.engine)."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from server.alerts.history import NEVER, PAGE, Bools, History
from server.alerts.incident import Incident, Open, levels, stretches
from server.alerts.limits import MINUTE, TALK_LIMITS, WIDTHS, Limits
from server.analytics.activity import LINK, UNKNOWN, Ints
from server.telling import evidence
from shared import spans as sp
from shared.zones import DAY, HOUR, SECOND

CLEARS_AT = 0.8  # of the limit
#: Unlike itself: how much more of an hour than the usual most, and the least that is looked at.
FAR_ABOVE, STILL_ABOVE, LEAST = 0.35, 0.2, 0.4
WEEKS_BACK, WEEKS_NEEDED = 13, 6
MAD_TO_SIGMA, SIGMAS = 1.4826, 3.0  # 1 / 0.6745: scipy.stats.norm.ppf(0.75), to four digits
TALKING_IN_AN_HOUR = 10  # turns
UNLIKE_STEP = 5 * MINUTE
SHORT = 1500_000  # a keying shorter than a kerchunk's 1.5 s
CHATTER, CHATTER_CLEARS = 20, 8  # short keyings within an hour


def duty(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """Overs fill more of the last 6, 30 or 60 minutes than the limit, and nobody takes turns; or so much that people
    can't be it. And apart from that: the transmitter is keyed, tails and all, for more of an hour than its rating
    allows, whoever talks.

    The limits are asked of overs without their tails: a tail bridges the gaps that people leave, and those tell them
    from a fault.
    """
    shares = {name: history.without_tails.keyed_share(nows, width) for name, width in WIDTHS.items()}
    quiet = limits.is_quiet(nows)
    up, down = np.zeros(len(nows), dtype=np.bool_), np.ones(len(nows), dtype=np.bool_)
    worst, in_turns = np.zeros(len(nows), dtype=np.int64), np.zeros(len(nows), dtype=np.bool_)
    for number, (name, width) in enumerate(WIDTHS.items()):
        limit = np.where(quiet, limits.duty_night[name], limits.duty_day[name])
        talk = _talking(history, nows, width, max(2, width // (6 * MINUTE)))
        crowded = shares[name] > TALK_LIMITS.get(name, 1.0)
        above = np.where(talk, crowded, shares[name] > limit)
        worst[above & ~up], in_turns[above & ~up] = number, talk[above & ~up]
        up |= above
        down &= np.where(talk, ~crowded, shares[name] < CLEARS_AT * limit)
    names = list(WIDTHS)

    def says(place: int) -> str:
        name = names[int(worst[place])]
        span, share = _span(history, int(nows[place]), WIDTHS[name], limits), float(shares[name][place])
        if in_turns[place]:
            return evidence.filled(span, share, TALK_LIMITS[name], "taken", quiet=bool(quiet[place]))
        limit = (limits.duty_night if quiet[place] else limits.duty_day)[name]
        return evidence.filled(span, share, limit, _turns(history, span), quiet=bool(quiet[place]))

    found = _sampled("duty", "transmitter", up, down, nows, open_now, True, says)
    return found + _beyond_rating(history, nows, limits, open_now)


def _beyond_rating(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """The transmitter is keyed, tails and all, for more of an hour than its rating allows."""
    hour = history.keyed_share(nows, HOUR)

    def says(place: int) -> str:
        return evidence.beyond_rating(_span(history, int(nows[place]), HOUR, limits), float(hour[place]), limits.rating)

    over, clear = hour > limits.rating + 1e-9, hour < (1 - (1 - CLEARS_AT) / 2) * limits.rating
    return _sampled("duty", "transmitter/rating", over, clear, nows, open_now, False, says)


def unlike_itself(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """The keyed share of the last hour is far above what the same local hour of the week had in the 13 weeks before,
    the hours beside it counted in, as a net may shift. Silent until six of them are known. It wakes only where people
    are not taking turns.
    """
    asked = nows[nows % UNLIKE_STEP == 0]
    hour = history.keyed_share(asked, HOUR)
    usual = np.full(len(asked), np.inf)
    high = np.flatnonzero(hour >= LEAST)
    if len(high):
        usual[high] = usual_most(history, asked[high], limits)
    up = hour > usual + FAR_ABOVE
    down = (hour < LEAST - 0.1) | (hour < usual + STILL_ABOVE) & np.isfinite(usual)
    talk = _talking(history, asked, HOUR, TALKING_IN_AN_HOUR)

    def says(place: int) -> str:
        span = _span(history, int(asked[place]), HOUR, limits)
        return evidence.far_above_usual(span, float(hour[place]), float(usual[place]), in_turns=bool(talk[place]))

    subject = "transmitter"
    level = levels(up, down)
    found = []
    for one in stretches(level, asked, open_now.get(("unlike-itself", subject))):
        urgent = one.at >= 0 and not bool(talk[one.at])
        found.append(
            Incident("unlike-itself", subject, one.raised, one.cleared, urgent, says(one.at) if one.at >= 0 else "")
        )
    return found


def usual_most(history: History, nows: Ints, limits: Limits) -> npt.NDArray[np.float64]:
    """For each instant, the most of an hour that is usual then; inf where fewer than six weeks are known.

    Of each week the fullest of three hours (the same local hour, and those beside it); of the weeks the greater of the
    second fullest and median + 3 x 1.4826 x MAD, so that one odd week doesn't count."""
    local = nows + limits.offsets(nows)
    weeks = np.arange(1, WEEKS_BACK + 1, dtype=np.int64) * 7 * DAY
    then = local[:, None] - weeks[None, :]  # the same wall clock, so that a clock change moves nothing
    then = then - limits.offsets((then - limits.offsets(nows)[:, None]).ravel()).reshape(then.shape)
    shares = np.stack(
        [history.keyed_share((then + beside).ravel(), HOUR).reshape(then.shape) for beside in (-HOUR, 0, HOUR)]
    ).max(axis=0)
    unseen = sp.covered_before(history.blind, then) - sp.covered_before(history.blind, then - HOUR)
    began = history.began if history.began is not None else NEVER
    known = (then - 2 * HOUR >= began) & (unseen < HOUR // 2)
    shares = np.where(known, shares, np.nan)
    enough = known.sum(axis=1) >= WEEKS_NEEDED
    usual = np.full(len(nows), np.inf)
    if enough.any():
        rows = shares[enough]
        middle = np.nanmedian(rows, axis=1)
        spread = np.nanmedian(np.abs(rows - middle[:, None]), axis=1)
        second = -np.sort(-np.where(np.isnan(rows), -1.0, rows), axis=1)[:, 1]
        usual[enough] = np.maximum(second, np.minimum(1.0, middle + SIGMAS * MAD_TO_SIGMA * spread))
    return usual


def chatter(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
    """Many keyings within an hour that are too short to carry anything and answer nobody, and carriers that were never
    decoded.
    """
    short = (history.end < NEVER) & (history.end - history.start < SHORT) & ~history.answering
    link, page = history.side == LINK, history.side == PAGE
    found: list[Incident] = []
    for subject, instants in (
        ("air", np.sort(np.concatenate([history.told[short & ~link & ~page], history.carriers]))),
        ("link", np.sort(history.told[short & link])),
    ):
        count = np.searchsorted(instants, nows, side="right") - np.searchsorted(instants, nows - HOUR, side="right")

        def says(place: int, subject: str = subject, count: npt.NDArray[np.int64] = count) -> str:
            return evidence.short_keyings(int(count[place]), SHORT / SECOND, subject, int(nows[place]), limits.zone)

        found += _sampled("chatter", subject, count >= CHATTER, count < CHATTER_CLEARS, nows, open_now, False, says)
    return found


def _talking(history: History, nows: Ints, width: int, turns: int) -> Bools:
    """For each instant, whether people took at least so many turns in the `width` before it."""
    count = np.searchsorted(history.turns, nows, side="right") - np.searchsorted(
        history.turns, nows - width, side="right"
    )
    return np.asarray(count >= turns)


def _span(history: History, at: int, width: int, limits: Limits) -> evidence.Span:
    """The `width` before an instant, with the first over in it that had no end in the log yet."""
    runs_on = (history.told > at) & (history.start + limits.timeout + limits.grace < at)
    open_then = ~history.whole & (history.start <= at) & (runs_on | history.lost & (history.end > at - width))
    unended = int(history.start[open_then].min()) if open_then.any() else None
    return evidence.Span(at, width, limits.zone, unended)


def _turns(history: History, span: evidence.Span) -> evidence.Turns:
    """What is known where too few turns were heard: without names nobody can tell them."""
    since, upto = np.searchsorted(history.start, (span.at - span.width, span.at))
    unnamed = upto > since and bool((history.station[since:upto] == UNKNOWN).all())
    return "not logged" if unnamed else "not taken"


def _sampled(
    rule: str,
    subject: str,
    up: Bools,
    down: Bools,
    nows: Ints,
    open_now: Open,
    urgent: bool,
    says: Callable[[int], str],
) -> list[Incident]:
    """The incidents of a level that was asked about at `nows`."""
    return [
        Incident(rule, subject, one.raised, one.cleared, urgent, says(one.at) if one.at >= 0 else "")
        for one in stretches(levels(up, down), nows, open_now.get((rule, subject)))
    ]
