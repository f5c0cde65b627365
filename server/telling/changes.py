"""How airtime moved against the usual, in sentences."""

from collections.abc import Iterator, Mapping

from server.analytics.compare import CHANNEL, SEEN_ENOUGH, Beside
from server.telling import words
from server.telling.modes import mode_words
from server.telling.period import Period
from server.telling.sentences import Finding, Sentence, figure, say

WORTH_SAYING_S = 900.0  # a mode that moved by less in a week is not what the keeper stands in the rain for
MODES_NAMED = 3
NOTABLE = figure("usual", "notable")


def channel_moved(period: Period) -> Iterator[Finding]:
    """The whole channel, where it is far from the usual."""
    channel = period.airtime.get(CHANNEL)
    if channel is not None and channel.notable:
        moved = say(figure("Time on the air", "channel airtime"), f" was {moved_words(channel)}.")
        yield Finding("channel airtime", "note", moved, "airtime")


def modes_that_moved(period: Period) -> Iterator[Finding]:
    """The modes far from their usual, those that moved most first; whether none was, and where nobody can tell."""
    moved = {mode: beside for mode, beside in period.airtime.items() if mode != CHANNEL and beside.notable}
    ranked = sorted(moved, key=lambda mode: -moved[mode].moved_by)
    much = [mode for mode in ranked if moved[mode].moved_by >= WORTH_SAYING_S]
    for mode in much[:MODES_NAMED]:
        yield Finding("airtime", "note", mode_moved(mode, moved[mode]), "airtime")
    if len(much) > MODES_NAMED:
        yield Finding("airtime", "note", say(f"Also unusual: {_named(much[MODES_NAMED:])}."), "airtime")
    if moved and not much:
        little = say(figure("Unusual", "notable"), f", but only by minutes: {_named(ranked)}.")
        yield Finding("notable", "fine", little, "airtime")
    yield from _none_moved(period.airtime, period)


def _none_moved(airtime: Mapping[str, Beside], period: Period) -> Iterator[Finding]:
    known = [beside.notable for beside in airtime.values()]
    if any(known):
        return
    if any(notable is not None for notable in known):
        fine = say("No mode was far from its ", figure("usual airtime", "notable"), ".")
        yield Finding("notable", "fine", fine, "airtime")
        return
    little = (
        f"Too little of this {period.kind} was seen"
        if period.figures.window.seen_share < SEEN_ENOUGH
        else f"Too few {period.kind}s were seen before this one"
    )
    yield Finding("notable", "note", say(f"{little} to call anything far from the ", NOTABLE, "."), "airtime")


def modes_that_came_or_went(period: Period) -> Iterator[Finding]:
    """Each mode that is new, silent or far from its usual, in order of the comparison."""
    for mode, beside in period.airtime.items():
        came_or_went = beside.usual is not None and bool(beside.now) != bool(beside.usual)
        if mode != CHANNEL and beside.usual is not None and (came_or_went or (beside.usual and beside.notable)):
            yield Finding("airtime", "note", mode_moved(mode, beside), "airtime")


def mode_moved(mode: str, beside: Beside) -> Sentence:
    """`DMR was up by half: 14 h against a usual 9 h 20 min.`"""
    return say(figure(mode_words(mode), "airtime"), f" was {moved_words(beside)}.")


def moved_words(beside: Beside) -> str:
    if beside.now <= 0:
        return f"silent, against a usual {words.about(beside.usual or 0)}"
    if not beside.usual:
        return f"on the air for {words.about(beside.now)}, against usually none"
    change, now, usual = words.change(beside.now, beside.usual), words.about(beside.now), words.about(beside.usual)
    return f"{change}: {now} against a usual {usual}"


def _named(modes: list[str]) -> str:
    return ", ".join(map(mode_words, modes))


def change_cell(period: Period, mode: str) -> str:
    """`up by half (+52 %)`, with `notable` where it is."""
    beside = period.airtime.get(mode)
    if not period.over:
        return f"compared when the {period.kind} is over"
    if beside is None or beside.usual is None:
        return "nothing yet to compare with"
    change, signed = words.change(beside.now, beside.usual), words.signed_percent(beside.now, beside.usual)
    return (f"{change} ({signed})" if signed else change) + (", notable" if beside.notable else "")


def change_line(beside: Beside, *, over: bool) -> str:
    """`+52 %, up by half on the usual 3 h 20 min`."""
    if not over:
        return "compared when the week is over"
    change = words.change(beside.now, beside.usual)
    if not beside.usual:
        return change
    usual, signed = words.duration(beside.usual), words.signed_percent(beside.now, beside.usual)
    against = f"{change} on the usual {usual}" if change.startswith(("up", "down")) else f"{change} ({usual})"
    return f"{signed}, {against}" if signed else against
