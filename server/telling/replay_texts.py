"""What a replay takes for granted, and what the log left open."""

from server.analytics.replay_result import Replay, ReplayTexts
from server.telling.suggestion import suggestion_reasons, suggestion_sentence

#: Printed with every result.
ASSUMPTIONS = (
    "Demand does not change with the timers: people call when, where and for as long as they did.",
    "Refused callers come back as they did: a caller who is spared now is still heard at the later over that the log "
    "shows.",
    "An over that another mode's hold would have met is displaced: nobody hears it, and it is not tried again.",
    "An over longer than the time-out is cut there, and the hold after it begins when it did.",
    "Spared attempts are counted in the log; displaced overs are simulated, and stand apart under effects.",
    "The 95 % intervals come from resampling these days; they allow for nothing that these days did not contain.",
)
CROSSED = "A change of timers lies in these days: the settings of the station file are taken for all of them."
WINDOW_CROSSED = "A change of timers lies in this window; the settings of the station file are taken for all of it."


def assumptions(replay: Replay) -> tuple[str, ...]:
    """For a page, a command and JSON."""
    unsided, pages = replay.displaced_unsided, replay.displaced_pages
    more = [f"{unsided} displaced overs have no side in the log; they are in no count of shut-outs."] if unsided else []
    what = "1 page" if pages == 1 else f"{pages} pages"
    paged = [f"{what} would have been displaced; a page is no over, and in no count of overs."] if pages else []
    return (*ASSUMPTIONS, *more, *paged)


def replay_texts(replay: Replay, *more: str) -> ReplayTexts:
    """The sentences of its JSON; `more` is taken for granted too."""
    taken = (*assumptions(replay), *more)
    if replay.suggestion is None:
        return ReplayTexts(taken)
    return ReplayTexts(taken, suggestion_sentence(replay.suggestion), suggestion_reasons(replay.suggestion))
