"""What the keeper needs to know of the links first, from their figures."""

from collections.abc import Sequence

from server.analytics.links import LinkFigures, Links
from server.telling.link_quiet import now_silent
from server.telling.links import NO_LINKS, shown_name, the_link
from server.telling.moments import instant_words
from server.telling.numbers import count, duration, elapsed, verb, whole_number
from server.telling.sentences import Finding, Sentence, Text, figure, say
from server.telling.targets import TargetNames
from server.telling.words import fine_percent, percent

NAMED = 3  # links that one sentence names
OFTEN = 6  # flaps of one link in a week, from which it is said: as the rule link-down has it for an hour
LOSSY = 0.05  # share of a link's seconds in overs above 5 % loss, from which it is said


def headline(found: Links, names: TargetNames) -> Sentence:
    """Which link is down, or up and silent; else how the least available one did."""
    if not found.links:
        return say(NO_LINKS)
    told = [one for one in found.links if one.known_s and one.turned is not None]
    if not told:
        return say("Nothing is known of the links in these weeks.")
    down = [one for one in told if one.turned and not one.turned[1]]
    if down:
        return _down(down, len(found.links), found, names)
    silent = now_silent(found)
    if silent:
        one, silence = max(silent, key=lambda pair: pair[1].seconds)
        return say(
            f"{the_link(shown_name(one, names))} is up but ",
            figure("silent", "link silence"),
            f": no over has come through it for {elapsed(silence.seconds)}.",
        )
    return _all_up(told, found, names)


def _down(down: Sequence[LinkFigures], of: int, found: Links, names: TargetNames) -> Sentence:
    zone = found.window.zone
    down = sorted(down, key=lambda one: one.turned[0] if one.turned else 0)
    if len(down) == 1 and down[0].turned:
        return say(f"{the_link(shown_name(down[0], names))} is down, since {instant_words(down[0].turned[0], zone)}.")
    listed = "; ".join(
        f"{shown_name(one, names)} since {instant_words(one.turned[0], zone)}" for one in down[:NAMED] if one.turned
    )
    more = f"; and {whole_number(len(down) - NAMED)} more" if len(down) > NAMED else ""
    return say(f"{whole_number(len(down))} of {count(of, 'link')} are down: {listed}{more}.")


def _all_up(told: Sequence[LinkFigures], found: Links, names: TargetNames) -> Sentence:
    all_known, many = len(told) == len(found.links), len(told)
    who = the_link(shown_name(told[0], names)) if len(found.links) == 1 else ""
    opening = f"{who} is up" if who else f"All {count(many, 'link')} are up"
    if not all_known:
        of = f"{whole_number(many)} of {count(len(found.links), 'link')} {verb(many, 'is', 'are')} up"
        opening = f"{of}, and of the others nothing is known"
    worst = min(told, key=lambda one: 2.0 if one.availability is None else one.availability)
    if not worst.down_s:
        never = "it was not seen down" if who else "none of them was seen down"
        return say(f"{opening}; {never} in these weeks.")
    least = "it was" if who else f"the least available, {shown_name(worst, names)}, was"
    outages, flaps = worst.outages or (), worst.flaps or 0
    longest = f", the longest {duration(max(one.length_s for one in outages))}" if outages else ""
    often = [count(len(outages), "outage") + longest] if outages else []
    often += [count(flaps, "flap")] if flaps else []
    return say(
        f"{opening}; {least} ",
        figure("available", "link availability"),
        f" for {fine_percent(worst.availability)} of the known time, with {' and '.join(often)}.",
    )


def findings(found: Links, names: TargetNames) -> tuple[Finding, ...]:
    """What else stands out: a week of flaps, silences, loss, links of which little is known."""
    said: list[Finding] = []
    silent = {one.key for one, _ in now_silent(found)}
    for one in found.links:
        name = the_link(shown_name(one, names))
        worst = max(one.weeks, key=lambda week: week.flaps or 0, default=None)
        if worst is not None and (worst.flaps or 0) >= OFTEN:
            week = f"in the week of {instant_words(worst.start_us, found.window.zone).partition(',')[0]}"
            told = Text(f"flapped {whole_number(worst.flaps)} times", "flap")
            said.append(Finding("flap", "note", say(f"{name} ", told, f" {week}."), "weeks"))
        if one.key in silent:
            told = Text("silent", "link silence")
            said.append(
                Finding(
                    "link silence", "look", say(f"{name} is up but ", told, " for longer than it ever is."), "silences"
                )
            )
        if (one.loss_high_share or 0) >= LOSSY:
            told = Text(f"Above 5\u00a0% loss for {percent(one.loss_high_share)} of its seconds", "link loss")
            said.append(Finding("link loss", "note", say(told, f": {name[0].lower()}{name[1:]}."), "traffic"))
    return tuple(said)
