"""What the keeper needs to know of the links first, from their figures."""

from collections.abc import Sequence

from server.analytics.links import LinkFigures, Links
from server.telling.link_quiet import now_silent
from server.telling.links import NO_LINKS, shown_name, the_link
from server.telling.moments import instant_words
from server.telling.numbers import count, duration, elapsed, verb, whole_number
from server.telling.sentences import Finding, Sentence, figure, say
from server.telling.targets import TargetNames
from server.telling.words import fine_percent, percent

NAMED = 3  # links that one sentence names
OFTEN = 6  # flaps of one link in a week, from which it is said: as the rule link-down has it for an hour
LOSSY = 0.05  # share of a link's seconds in overs above 5 % loss, from which it is said


def headline(found: Links, names: TargetNames, ended_us: int | None = None) -> Sentence:
    """Which link is down, or up and silent; else how the least available one did. With `ended_us`, the last line of a
    log that has stopped: what was so then.
    """
    if not found.links:
        return say(NO_LINKS)
    told = [one for one in found.links if one.known_s and one.turned is not None]
    if not told:
        return say("Nothing is known of the links in these weeks.")
    down = [one for one in told if one.turned and not one.turned[1]]
    when = "" if ended_us is None else f" when the log ended, {instant_words(ended_us, found.window.zone)}"
    if down:
        return _down(down, len(found.links), found, names, when)
    return (() if when else _silent(found, names)) or _all_up(told, found, names, when)


def _silent(found: Links, names: TargetNames) -> Sentence:
    """Of the links that are up and silent, the one that is so for longest; empty where none is."""
    silent = now_silent(found)
    if not silent:
        return ()
    one, silence = max(silent, key=lambda pair: pair[1].seconds)
    return say(
        f"{the_link(shown_name(one, names))} is up but ",
        figure("silent", "link silence"),
        f": no over has come through it for {elapsed(silence.seconds)}.",
    )


def _down(down: Sequence[LinkFigures], of: int, found: Links, names: TargetNames, when: str) -> Sentence:
    zone = found.window.zone
    down = sorted(down, key=lambda one: one.turned[0] if one.turned else 0)
    if len(down) == 1 and down[0].turned:
        since = instant_words(down[0].turned[0], zone)
        return say(f"{the_link(shown_name(down[0], names))} {_was(when, 'is')} down{when}, since {since}.")
    listed = "; ".join(
        f"{shown_name(one, names)} since {instant_words(one.turned[0], zone)}" for one in down[:NAMED] if one.turned
    )
    more = f"; and {whole_number(len(down) - NAMED)} more" if len(down) > NAMED else ""
    return say(f"{whole_number(len(down))} of {count(of, 'link')} {_was(when, 'are')} down{when}: {listed}{more}.")


def _was(when: str, now: str) -> str:
    """The verb: of now, or of when the log ended."""
    return ("was" if now == "is" else "were") if when else now


def _all_up(told: Sequence[LinkFigures], found: Links, names: TargetNames, when: str) -> Sentence:
    only = len(found.links) == 1
    opening = _up_words(told, found, names, when)
    worst = min(told, key=lambda one: 2.0 if one.availability is None else one.availability)
    if not worst.down_s:
        return say(f"{opening}; {'it was not' if only else 'none of them was'} seen down in these weeks.")
    least = "it was" if only else f"the least available, {shown_name(worst, names)}, was"
    return say(
        f"{opening}; {least} ",
        figure("available", "link availability"),
        f" for {fine_percent(worst.availability)} of the known time, with {_how_often(worst)}.",
    )


def _up_words(told: Sequence[LinkFigures], found: Links, names: TargetNames, when: str) -> str:
    many, every = len(told), len(found.links)
    if many < every:
        up = f"{whole_number(many)} of {count(every, 'link')} {_was(when, verb(many, 'is', 'are'))} up{when}"
        return f"{up}, and of the others nothing is known"
    if every == 1:
        return f"{the_link(shown_name(told[0], names))} {_was(when, 'is')} up{when}"
    return f"All {count(many, 'link')} {_was(when, 'are')} up{when}"


def _how_often(its: LinkFigures) -> str:
    outages, flaps = its.outages or (), its.flaps or 0
    longest = f", the longest {duration(max(one.length_s for one in outages))}" if outages else ""
    often = [count(len(outages), "outage") + longest] if outages else []
    return " and ".join([*often, *([count(flaps, "flap")] if flaps else [])])


def findings(found: Links, names: TargetNames) -> tuple[Finding, ...]:
    """What else stands out, a sentence a kind: links that are silent, that flapped, that lost much."""
    silent = [shown_name(one, names) for one, _ in now_silent(found)]
    lossy = [shown_name(one, names) for one in found.links if (one.loss_high_share or 0) >= LOSSY]
    said: list[Finding] = []
    if silent:
        told = verb(len(silent), "This link is up but ", "These links are up but ")
        habit = verb(len(silent), "its habit", "their habit")
        parts = say(told, figure("silent", "link silence"), f" for longer than is {habit}: {_listed(silent)}.")
        said.append(Finding("link silence", "look", parts, "silences"))
    flapped = sorted((one for one in found.links if _worst_week(one)), key=lambda one: -(_worst_week(one) or (0, 0))[0])
    for one in flapped[:NAMED]:
        many, week = _worst_week(one) or (0, 0)
        when = instant_words(week, found.window.zone).partition(",")[0]
        flaps = figure(f"flapped {whole_number(many)} times", "flap")
        parts = say(f"{the_link(shown_name(one, names))} ", flaps, f" in the week of {when}.")
        said.append(Finding("flap", "note", parts, "weeks"))
    if lossy:
        loss = figure("Overs above 5\u00a0% loss", "link loss")
        share = f" are {percent(LOSSY)} or more of the time that came over {_listed(lossy)}."
        said.append(Finding("link loss", "note", say(loss, share), "traffic"))
    return tuple(said)


def _worst_week(one: LinkFigures) -> tuple[int, int] | None:
    """How often a link flapped in its worst week, and when that began; None where that is not worth a sentence."""
    many, week = max(((week.flaps or 0, week.start_us) for week in one.weeks), default=(0, 0))
    return (many, week) if many >= OFTEN else None


def _listed(shown: Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    more = f"; and {whole_number(len(shown) - NAMED)} more" if len(shown) > NAMED else ""
    return f"{'; '.join(shown[:NAMED])}{more}"
