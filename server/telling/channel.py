"""The whole channel in a few figures."""

from server.analytics.figure_types import Channel, Figures
from server.telling import words
from server.telling.lines import blind_fact, unfinished_fact
from server.telling.numbers import stations
from server.telling.parts import Fact, Label


def channel_facts(figures: Figures) -> tuple[Fact, ...]:
    channel = figures.channel
    facts = [
        Fact(Label("On the air", "channel airtime"), words.duration(channel.airtime_s)),
        Fact(Label("Occupancy", "occupancy"), words.percent(channel.occupancy)),
        Fact(Label("Transmitter keyed", "keyed time"), words.duration(channel.keyed_s)),
        Fact(Label("Overs", "over"), words.whole_number(channel.overs)),
        Fact(Label("Stations", "stations"), stations(channel.stations)),
    ]
    if channel.pages:
        facts.append(Fact(Label("Pages", "page"), words.whole_number(channel.pages), estimated_pages(channel)))
    if channel.unfinished:
        facts.append(unfinished_fact(figures))
    if figures.window.blind_s:
        facts.append(blind_fact(figures))
    return tuple(facts)


def estimated_pages(channel: Channel) -> str:
    """What is estimated of pages whose length the log does not tell; empty where nothing is."""
    if not channel.pages_estimated:
        return ""
    many = channel.pages_estimated
    length = words.verb(many, "its length is", "their lengths are")
    return (
        f"{words.count(many, 'page')} without a length in the log: {length} estimated from bit rate and size, "
        f"{words.duration(channel.pages_airtime_estimated_s)} on the air in all, which is in no other figure"
    )


def pages_words(channel: Channel) -> str:
    """The same as a sentence, with the count of all pages; empty where there was none."""
    if not channel.pages:
        return ""
    said = estimated_pages(channel)
    return f"{words.count(channel.pages, 'page')} in all{f'; {said}' if said else ''}."


def key_facts(figures: Figures) -> tuple[Fact, ...]:
    """The four or so numbers that the page begins with."""
    channel = figures.channel
    return (
        Fact(Label("on the air", "channel airtime"), words.duration(channel.airtime_s)),
        Fact(Label("of the time", "occupancy"), words.percent(channel.occupancy)),
        Fact(Label("overs", "over"), words.whole_number(channel.overs)),
        Fact(Label("stations", "stations"), stations(channel.stations)),
        Fact(Label("calls shut out", "shut-out"), words.whole_number(figures.attempts_shut_out)),
    )
