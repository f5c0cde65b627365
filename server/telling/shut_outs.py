"""Who was shut out by whom, and the chance of it."""

from server.analytics.figure_types import Figures, Mode
from server.telling import words
from server.telling.modes import by_airtime, mode_name, placed
from server.telling.numbers import estimated
from server.telling.parts import Fact, Label, Row, Table


def pair_table(figures: Figures) -> Table:
    """Who held the repeater while who wanted it, most attempts first."""
    head = (Label("Held by"), Label("Wanted by"), Label("Calls", "shut-out"), Label("Mean wait", "shut-out wait"))
    rows = tuple(
        Row(
            mode_name(pair.held_by),
            (
                mode_name(pair.wanted).text,
                words.whole_number(pair.attempts),
                words.duration(pair.mean_wait_s),
            ),
        )
        for pair in figures.shut_outs or ()
    )
    return Table("Calls and their mean wait, by who held and what was wanted", head, rows, frozenset({0}))


def holder_table(figures: Figures) -> Table:
    """Who held downwards, who was shut out across; a row for each holder, with what its callers waited on average."""
    pairs = figures.shut_outs or ()
    wanted, holders = (
        placed(modes, figures) for modes in ((pair.wanted for pair in pairs), (pair.held_by for pair in pairs))
    )
    calls = {(pair.held_by, pair.wanted): pair.attempts for pair in pairs}

    def wait(holder: str | None) -> str:
        known = [
            (pair.attempts, pair.mean_wait_s)
            for pair in pairs
            if pair.held_by == holder and pair.mean_wait_s is not None
        ]
        count = sum(attempts for attempts, _ in known)
        return words.duration(sum(attempts * wait for attempts, wait in known) / count if count else None)

    def told(holder: str | None, mode: str | None) -> str:
        return words.whole_number(calls[holder, mode]) if (holder, mode) in calls else words.NONE

    rows = tuple(
        Row(
            mode_name(holder),
            (
                *(told(holder, mode) for mode in wanted),
                words.whole_number(sum(calls.get((holder, mode), 0) for mode in wanted)),
                wait(holder),
            ),
        )
        for holder in holders
    )
    head = (
        Label("Held by"),
        *(Label(f"{mode_name(mode).text} callers", "shut-out") for mode in wanted),
        Label("All", "shut-out"),
        Label("Mean wait", "shut-out wait"),
    )
    return Table("Calls, by who held (down) and what was wanted (across)", head, rows)


def blocked_matrix(figures: Figures) -> Table:
    """Holders downwards, wanted across: calls, and the mean wait."""
    pairs = {(row.held_by, row.wanted): row for row in figures.shut_outs or ()}
    holders, wanted = (placed((pair[place] for pair in pairs), figures) for place in (0, 1))

    def cell(held: str | None, wish: str | None) -> str:
        row = pairs.get((held, wish))
        if row is None:
            return words.NONE
        wait = row.mean_wait_s
        return words.whole_number(row.attempts) + (f" · {words.duration(wait)}" if wait is not None else "")

    head = (Label("Held by"), *(Label(mode_name(wish).text) for wish in wanted))
    rows = tuple(Row(mode_name(held), tuple(cell(held, wish) for wish in wanted)) for held in holders)
    return Table("Calls and their mean wait, by who held (down) and what was wanted (across)", head, rows)


def risk_table(figures: Figures) -> Table:
    """By mode, most airtime first."""
    head = (Label("Mode"), Label("Suffered", "shut-out"), Label("Caused", "shut-out"), Label("Risk", "shut-out risk"))
    rows = tuple(Row(mode_name(mode), _risk_cells(its)) for mode, its in by_airtime(figures))
    return Table("By mode, and the chance that a caller finds the repeater held", head, rows)


def _risk_cells(its: Mode) -> tuple[str, ...]:
    """Suffered, caused, risk."""
    return (
        words.whole_number(its.shut_outs_suffered),
        words.whole_number(its.shut_outs_caused),
        words.percent(its.shut_out_risk),
    )


def waiting_facts(figures: Figures) -> tuple[Fact, Fact]:
    """Likely waiters, and idle hold."""
    return (
        Fact(
            Label("Likely waiters", "likely waiter"),
            estimated(figures.likely_waiters_estimated),
            "began just as another mode let go; not among the calls above",
        ),
        Fact(
            Label("Idle hold", "idle hold"),
            words.duration(figures.channel.idle_hold_s),
            "held for a mode, and silent",
        ),
    )
