"""What became of the log's lines, and what they leave open."""

from server.analytics.figure_types import Figures
from server.telling import words
from server.telling.parts import Fact, Label


def unread_fact(figures: Figures) -> Fact:
    """Lines that could not be read, and their share of all."""
    intake = figures.intake
    share = words.percent(intake.unread / intake.lines) if intake.lines else ""
    return Fact(Label("Lines not read", "lines"), words.whole_number(intake.unread), share)


def doubtful_fact(figures: Figures) -> Fact:
    """Overs whose stamps and duration disagree."""
    return Fact(Label("Doubtful overs", "doubtful"), words.whole_number(figures.intake.doubtful))


def unfinished_fact(figures: Figures) -> Fact:
    """Overs whose end is not in the log."""
    unfinished = words.whole_number(figures.channel.unfinished)
    return Fact(Label("Unfinished overs", "unfinished"), unfinished, "no end in the log")


def blind_fact(figures: Figures) -> Fact:
    """Time of which no log tells."""
    return Fact(Label("Blind time", "blind time"), words.duration(figures.window.blind_s))


def line_facts(figures: Figures) -> tuple[Fact, ...]:
    intake = figures.intake
    return (
        Fact(Label("Lines of the log", "lines"), words.whole_number(intake.lines)),
        unread_fact(figures),
        Fact(Label("Orphans", "orphan"), words.whole_number(intake.orphans), "ends without a start"),
        doubtful_fact(figures),
    )


def log_facts(figures: Figures, seen: float) -> tuple[Fact, ...]:
    """How far a window was seen, and its lines read; `seen` is a share."""
    intake = figures.intake
    return (
        Fact(Label("Seen", "blind time"), words.fine_percent(seen)),
        blind_fact(figures),
        Fact(Label("Lines read", "lines"), words.whole_number(intake.lines - intake.unread)),
        unread_fact(figures),
        unfinished_fact(figures),
        doubtful_fact(figures),
    )


def lines_of_log(figures: Figures) -> tuple[Fact, ...]:
    """What became of every line."""
    intake = figures.intake
    return (
        Fact(Label("Lines of the log", "lines"), words.whole_number(intake.lines)),
        Fact(Label("Lines understood", "lines"), words.whole_number(intake.understood)),
        Fact(Label("Lines ignored", "lines"), words.whole_number(intake.ignored)),
        *line_facts(figures)[1:],
    )
