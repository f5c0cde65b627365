"""The tables of the report and of the Month page, from a Month alone."""

import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from server.alerts.folding import Folded, folded, in_rows
from server.analytics.figure_types import Withheld
from server.report.month import CHANNEL, Incident, Month
from server.telling import words
from server.telling.incidents import dates_words, followed_words, lasted_words, subject_words, title_words
from server.telling.modes import by_airtime, mode_name, placed, shut_out_cells, timeout_cells
from server.telling.moments import stretch_words
from server.telling.numbers import stations
from server.telling.parts import Fact, Label, Row, Table
from shared.events import MODE_LABELS
from shared.zones import SECOND

ROWS = 8  #: of a table that could be of any length: the report stays within four pages


def fine_percent(share: float | None) -> str:
    """A share that is near to whole, in percent with one digit; never `100` where something is missing."""
    if share is None:
        return words.UNKNOWN
    return f"100{words.GAP}%" if share >= 1 else f"{math.floor(1000 * share) / 10:.1f}{words.GAP}%"


def hours(seconds: float | None) -> str:
    """Hours with one digit, for a column of them."""
    if seconds is None:
        return words.NONE
    return f"{seconds / 3600:,.1f}" if seconds >= 180 or seconds == 0 else "under 0.1"


def key_facts(month: Month) -> tuple[Fact, ...]:
    """The four or so numbers that the page begins with."""
    channel = month.figures.channel
    return (
        Fact(Label("on the air", "channel airtime"), words.duration(channel.airtime_s)),
        Fact(Label("of the time", "occupancy"), words.percent(channel.occupancy)),
        Fact(Label("overs", "over"), words.whole_number(channel.overs)),
        Fact(Label("stations", "stations"), stations(channel.stations)),
        Fact(Label("calls shut out", "shut-out"), words.whole_number(month.figures.attempts_shut_out)),
    )


def shut_out_table(month: Month) -> Table:
    """Who held downwards, who was shut out across; a row for each holder, with what its callers waited on average."""
    pairs = month.figures.shut_outs or ()
    wanted, holders = (
        placed(modes, month.figures) for modes in ((pair.wanted for pair in pairs), (pair.held_by for pair in pairs))
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


def risk_table(month: Month) -> Table:
    head = (Label("Mode"), Label("Suffered", "shut-out"), Label("Caused", "shut-out"), Label("Risk", "shut-out risk"))
    rows = tuple(Row(mode_name(mode), shut_out_cells(its)) for mode, its in by_airtime(month.figures))
    return Table("By mode, and the chance that a caller finds the repeater held", head, rows)


def timeout_table(month: Month) -> Table:
    """Modes that had any; counted and estimated stand apart."""
    head = (
        Label("Mode"),
        Label("Logged", "timeout"),
        Label("By length", "timeout estimated"),
        Label("Near", "near timeout"),
        Label("Locked out", "lockout"),
    )
    rows = [Row(mode_name(mode), cells) for mode, its in by_airtime(month.figures) if (cells := timeout_cells(its))]
    return Table("Time-outs by mode", head, tuple(rows))


def talk_facts(month: Month) -> tuple[Fact, ...]:
    talk, gap = month.figures.talk, month.timers.courtesy_gap_s
    return (
        Fact(Label("Conversations", "conversation"), words.whole_number(talk.conversations)),
        Fact(Label("Median turnaround", "turnaround"), words.duration(talk.turnaround_median_s)),
        Fact(Label(f"Pauses under {words.duration(gap)}", "short gap"), words.percent(talk.short_gap_share)),
        Fact(Label("Local talk on wide targets", "local on wide"), words.duration(talk.local_on_wide_s),
             f"in {words.count(talk.local_on_wide, 'conversation')}" if talk.local_on_wide else ""),
    )  # fmt: skip


def wide_table(month: Month) -> Table:
    head = (Label("Target"), Label("Mode"), Label("Conversations", "local on wide"), Label("Airtime", "local on wide"))
    rows = tuple(
        Row(
            Label(one.label),
            (
                MODE_LABELS.get(one.mode or "", "Unknown"),
                words.whole_number(one.conversations),
                words.duration(one.seconds),
            ),
        )
        for one in month.wide[:ROWS]
    )
    return Table(
        "Local talk on each wide target" + _only(len(month.wide), "those with most airtime"), head, rows, frozenset({0})
    )


def link_table(month: Month) -> Table:
    head = (Label("Link"), Label("Available", "link availability"), Label("Down"), Label("Outages"), Label("Longest"))
    links = sorted(month.links, key=lambda link: -link.down)[:ROWS]
    rows = tuple(
        Row(
            Label(link.name),
            (
                fine_percent(link.availability),
                words.duration(link.down / SECOND),
                words.whole_number(len(link.outages)),
                words.duration(max(b - a for a, b in link.outages) / SECOND) if link.outages else words.NONE,
            ),
        )
        for link in links
    )
    return Table(
        "What the log tells of each link" + _only(len(month.links), "those that were down longest"), head, rows
    )


def duty_table(month: Month) -> Table:
    rows = []
    for minutes, fullest in month.figures.duty:
        when = stretch_words(*fullest.span, month.zone) if fullest.span else words.NONE
        rows.append(Row(Label(f"{minutes}{words.GAP}min"), (words.percent(fullest.share), when)))
    return Table(
        "The transmitter’s most heavily keyed 6, 30 and 60 minutes",
        (Label("Length"), Label("Keyed", "duty"), Label("When")),
        tuple(rows),
        frozenset({1}),
    )


def incident_table(month: Month) -> Table:
    """What followed from an over that runs on stands with it; like incidents in a row are one row."""
    found = in_rows(folded(month.incidents, round((month.timers.timeout_s + month.grace_s) * SECOND)))
    shown = sorted(found, key=lambda row: (not row[0].lead.urgent, -max(_length(one.lead, month.end) for one in row)))[
        :ROWS
    ]
    head = (Label("What"), Label("Of"), Label("Raised"), Label("Lasted"))
    rows = tuple(_incident_row(row, month.zone) for row in sorted(shown, key=lambda row: row[0].lead.raised))
    said = (
        "Alerts raised in the month, or open in it"
        if month.watched
        else "What the alert rules find in the month’s log afterwards"
    )
    return Table(
        said + _only(len(found), "urgent ones and the longest first"),
        head,
        rows,
        frozenset({0, 1}),
    )


def _length(one: Incident, end: int) -> int:
    return (end if one.cleared is None else one.cleared) - one.raised


def _incident_row(row: Sequence[Folded[Incident]], zone: ZoneInfo) -> Row:
    lead, several = row[0].lead, [one.lead for one in row]
    followed = followed_words([other for one in row for other in one.followed], zone)
    what = (
        f"{title_words(lead.rule, lead.subject)}. {followed}".removesuffix(". ")
        if followed
        else title_words(lead.rule, lead.subject)
    )
    lasted = "still open" if lead.cleared is None else lasted_words(several).removeprefix("for ")
    return Row(Label(what), (_subject(lead), dates_words(several, zone), lasted))


def _only(many: int, which: str) -> str:
    """What a caption adds where a table is cut to ROWS."""
    return f" ({ROWS} of {words.whole_number(many)}: {which})" if many > ROWS else ""


def _subject(incident: Incident) -> str:
    if not incident.subject:
        return "a name kept back"
    return subject_words(incident.subject) or "transmitter"


def log_facts(month: Month) -> tuple[Fact, ...]:
    window, intake, whole = month.figures.window, month.figures.intake, month.completeness
    return (
        Fact(Label("Seen", "blind time"), fine_percent(whole.seen)),
        Fact(Label("Blind time", "blind time"), words.duration(window.blind_s)),
        Fact(Label("Lines read", "lines"), words.whole_number(intake.lines - intake.unread)),
        Fact(
            Label("Lines not read", "lines"),
            words.whole_number(intake.unread),
            words.percent(whole.unread_share) if intake.lines else "",
        ),
        Fact(
            Label("Unfinished overs", "unfinished"),
            words.whole_number(month.figures.channel.unfinished),
            "no end in the log",
        ),
        Fact(Label("Doubtful overs", "doubtful"), words.whole_number(intake.doubtful)),
    )


def busy_days(month: Month) -> str:
    """The days that the busy hour is a mean over."""
    return words.count(month.figures.busy_hour.days, "day")


def busy_facts(month: Month) -> tuple[Fact, ...]:
    busy = month.figures.busy_hour
    if busy.start is None:
        return (Fact(Label("Busy hour", "busy hour"), words.UNKNOWN, "no whole day was seen"),)
    hour, minute = busy.start.split(":")
    return (
        Fact(
            Label("Busy hour", "busy hour"),
            f"{busy.start} to {(int(hour) + 1) % 24:02d}:{minute}",
            f"mean of {busy_days(month)}",
        ),
        Fact(Label("Traffic in it", "erlang"), words.erlang(busy.erlang)),
    )


def mode_table(month: Month) -> Table:
    """Each mode's use: hours, share of airtime, overs, stations, and the change against the usual."""
    head = (
        Label("Mode"),
        Label("Hours", "airtime"),
        Label("Share", "airtime"),
        Label("Overs", "over"),
        Label("Stations", "stations"),
        Label("Against the usual", "change"),
    )
    whole = month.figures.channel.airtime_s
    rows = [
        Row(
            mode_name(mode),
            (
                hours(its.airtime_s),
                words.percent(its.airtime_s / whole) if whole and its.airtime_s is not None else words.NONE,
                words.whole_number(its.overs),
                stations(its.stations),
                change_words(month, mode),
            ),
        )
        for mode, its in by_airtime(month.figures)
    ]
    gone = [mode for mode, change in month.changes.items() if mode and mode not in month.figures.modes and change.usual]
    rows += [
        Row(mode_name(mode), (hours(0.0), words.NONE, "0", words.NONE, change_words(month, mode))) for mode in gone
    ]
    channel = month.figures.channel
    rows.append(
        Row(
            Label("Channel", "channel airtime"),
            (
                hours(whole),
                words.NONE,
                words.whole_number(channel.overs),
                stations(channel.stations),
                change_words(month, CHANNEL),
            ),
        )
    )
    return Table("The channel and each mode", head, tuple(rows), frozenset({4}))


def change_words(month: Month, mode: str) -> str:
    """`up by half (+52 %)`, with `notable` where it is."""
    change = month.changes.get(mode)
    its = month.figures.modes.get(mode) if mode else month.figures.channel
    now = its.airtime_s if its else 0.0
    if not month.completeness.over:
        return "compared when the month is over"
    if change is None or change.since_usual is None:
        return "nothing yet to compare with"
    said = words.change(now, change.usual)
    signed = words.signed_percent(now, change.usual)
    return (f"{said} ({signed})" if signed else said) + (", notable" if change.notable else "")


FEW_NOTE = f"Groups under five stations are told as “{Withheld.FEWER}”; “kept back” where a count beside the others would tell of such a group."
