"""How people talk."""

from server.analytics.figure_types import Figures, Talk
from server.telling import words
from server.telling.parts import Fact, Label


def talk_facts(figures: Figures, courtesy_gap_s: float, any_wide: bool) -> tuple[Fact, ...]:
    """Conversations and the gaps in them; a gap shorter than the courtesy gap is too short for others to break in."""
    talk = figures.talk
    return (
        Fact(Label("Conversations", "conversation"), words.whole_number(talk.conversations)),
        Fact(Label("Median turnaround", "turnaround"), words.duration(talk.turnaround_median_s)),
        Fact(Label(f"Pauses under {words.duration(courtesy_gap_s)}", "short gap"), words.percent(talk.short_gap_share)),
        _wide_fact(talk, any_wide),
    )


def _wide_fact(talk: Talk, any_wide: bool) -> Fact:
    label = Label("Local talk on wide targets", "local on wide")
    if not any_wide:
        return Fact(label, words.UNKNOWN, "no target is said to reach wide: name those that do under [[target]]")
    note = f"in {words.count(talk.local_on_wide, 'conversation')}" if talk.local_on_wide else ""
    return Fact(label, words.duration(talk.local_on_wide_s), note)
