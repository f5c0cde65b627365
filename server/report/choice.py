"""What the report takes from the lists of findings and of advice."""

from server.analytics.compare import CHANNEL, Beside
from server.report.month import Month
from server.telling.advice import IDLE_MONTHS, IDLE_SHARE, Advice, caution_of
from server.telling.advice import advice as advice_on
from server.telling.findings import findings as findings_of
from server.telling.month_headline import month_headline
from server.telling.period import Period
from server.telling.sentences import Sentence

SEEN_ENOUGH = 0.5  #: below, the month is too thin for advice
CHOSEN = ("overruns", "shut out", "timed out", "came or went", "busy hour", "links")
MOST = 6  #: findings


def period_of(month: Month) -> Period:
    return Period(
        figures=month.figures,
        zone=month.zone,
        timeout_s=month.timers.timeout_s,
        kind="month",
        over=month.completeness.over,
        airtime={mode: beside for mode in month.changes if (beside := _beside(month, mode))},
        overruns=month.overruns,
        overruns_whole=True,
        links=month.links,
        shorter_hold=month.shorter_hold,
        courtesy_gap_s=month.timers.courtesy_gap_s,
        duty_rating=month.duty_rating,
        idle_modes=_idle_modes(month),
    )


def _beside(month: Month, mode: str) -> Beside | None:
    """A mode's airtime, or the channel's; None where it is not known."""
    change, figures = month.changes[mode], month.figures
    its = figures.channel if mode == CHANNEL else figures.modes.get(mode)
    now = 0.0 if its is None else its.airtime_s
    usual = None if change.since_usual is None else change.usual
    return None if now is None else Beside(now, usual, None, change.notable)


def _idle_modes(month: Month) -> tuple[str, ...]:
    """Modes that hardly anybody used for half a year, all of it seen well enough."""
    recent = month.trend[-IDLE_MONTHS:]
    if len(recent) < IDLE_MONTHS or any(one.seen < SEEN_ENOUGH or not one.airtime_s.get(CHANNEL) for one in recent):
        return ()
    return tuple(
        mode
        for mode in month.figures.modes
        if max(one.airtime_s.get(mode, 0.0) / one.airtime_s[CHANNEL] for one in recent) < IDLE_SHARE
    )


def is_known(month: Month) -> bool:
    """Whether anything of the month is known."""
    return month.completeness.seen > 0


def headline(month: Month) -> Sentence:
    """The month in one or two sentences."""
    return month_headline(period_of(month), month.title, month.completeness.seen)


def findings(month: Month) -> tuple[Sentence, ...]:
    """What is worth knowing, at most six sentences, each with its figures."""
    if not is_known(month):
        return ()
    return tuple(finding.parts for finding in findings_of(period_of(month), CHOSEN)[:MOST])


def _given(month: Month) -> list[Advice]:
    """Of a month of which little is known, only what is advised of overs that ran on."""
    return advice_on(period_of(month), ["overrun"]) if _thin(month) else advice_on(period_of(month))


def advice(month: Month) -> tuple[Sentence, ...]:
    """What is advised, each with the figures that it rests on; nothing where nothing calls for it."""
    return tuple(one.sentence for one in _given(month))


def advice_caution(month: Month) -> str:
    """The caution that goes with what is advised of timers and of the transmitter; empty where neither is."""
    return caution_of(_given(month))


def _thin(month: Month) -> bool:
    return month.completeness.seen < SEEN_ENOUGH or not month.figures.channel.overs


def no_advice(month: Month) -> str:
    """Why nothing is advised."""
    if _thin(month):
        return "Too little is known of the month to recommend anything."
    return "Nothing in the month’s figures calls for a change."
