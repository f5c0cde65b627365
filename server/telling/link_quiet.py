"""When links were down longest, and when they were up and silent for longer than is their habit."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from server.analytics.link_silence import TIMES, Silence
from server.analytics.links import LinkFigures, Links, Outage
from server.telling.links import shown_name, the_link
from server.telling.moments import instant_words
from server.telling.numbers import count, elapsed
from server.telling.targets import TargetNames

LISTED = 6  # silences of one link


def longest_outages(found: Links, names: TargetNames, most: int) -> tuple[list[str], int]:
    """A sentence for each of the longest outages of all links, the longest first, and how many are left out."""
    every = [(one, outage) for one in found.links for outage in one.outages or ()]
    every.sort(key=lambda pair: (-pair[1].length_s, pair[1].start_us))
    zone = found.window.zone
    said = [outage_words(shown_name(one, names), outage, zone) for one, outage in every[:most]]
    return said, max(0, len(every) - most)


def outage_words(name: str, outage: Outage, zone: ZoneInfo) -> str:
    since = instant_words(outage.start_us, zone, with_year=True)
    back = f"to {instant_words(outage.end_us, zone)}" if outage.back else "not back in this window"
    return f"{name} was down from {since}, {back}."


def silence_sentences(found: Links, names: TargetNames) -> list[str]:
    """What is to say of silences that are longer than a link's own history knows, link by link."""
    said: list[str] = []
    for one in found.links:
        longest = sorted(one.quiet.silences or (), key=lambda silence: -silence.seconds)
        shown = sorted(longest[:LISTED], key=lambda silence: silence.start_us)
        name, usual = shown_name(one, names), one.quiet.usual_gap_s
        said += [silence_words(name, each, usual, found.window.zone) for each in shown]
        if len(longest) > LISTED:
            said.append(f"{name} had {count(len(longest) - LISTED, 'shorter silence')} more.")
    return said


def silence_words(name: str, silence: Silence, usual_s: float | None, zone: ZoneInfo) -> str:
    """One silence, and what it is measured by."""
    end = f"to {instant_words(silence.end_us, zone)}" if silence.over else "and still is, as far as the log tells"
    since = instant_words(silence.start_us, zone, with_year=True)
    usual = "" if usual_s is None else f"; a gap of {elapsed(usual_s)} comes about once a week"
    return f"{the_link(name)} was up and silent from {since}, {end}: {elapsed(silence.seconds)}{usual}."


def now_silent(found: Links) -> Sequence[tuple[LinkFigures, Silence]]:
    """Links that are up and have been silent beyond their habit until the end of what is known."""
    last = [(one, one.quiet.silences[-1]) for one in found.links if one.quiet.silences]
    return [(one, silence) for one, silence in last if not silence.over and one.turned and one.turned[1]]


QUIET_NOTE = (
    f"A silence is told where it is longer than {TIMES} times the gap that came about once a week in the link’s last "
    "13 weeks."
)
