"""The whole channel in a few figures."""

from server.analytics.figure_types import Figures
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
        facts.append(Fact(Label("Pages", "page"), words.whole_number(channel.pages)))
    if channel.unfinished:
        facts.append(unfinished_fact(figures))
    if figures.window.blind_s:
        facts.append(blind_fact(figures))
    return tuple(facts)


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
