"""The tables of the report and of the Month page, from a Month alone."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from server.alerts.folding import Folded, folded, in_rows
from server.analytics.compare import CHANNEL
from server.analytics.figure_types import Withheld
from server.report.month import Incident, Month
from server.telling import words
from server.telling.incidents import counted_words, incident_row
from server.telling.lines import blind_fact, doubtful_fact, unfinished_fact, unread_fact
from server.telling.links import AVAILABILITY, availability_cells
from server.telling.modes import by_airtime, mode_name
from server.telling.numbers import stations
from server.telling.parts import Fact, Label, Row, Table
from shared.events import MODE_LABELS
from shared.incidents import since
from shared.zones import SECOND

ROWS = 8  #: of a table that could be of any length: the report stays within four pages


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
    links = sorted(month.links, key=lambda link: -(link.its.down_s or 0.0))[:ROWS]
    rows = tuple(Row(Label(link.name), availability_cells(link.its)) for link in links)
    caption = "What the log tells of each link" + _only(len(month.links), "those that were down longest")
    return Table(caption, (Label("Link"), *AVAILABILITY), rows)


def incident_table(month: Month) -> Table:
    """What followed from an over that runs on stands with it; like incidents in a row are one row."""
    incidents = folded(month.incidents, round((month.timers.timeout_s + month.grace_s) * SECOND))
    found = in_rows(incidents)
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
        f"{said}: {counted_words(incidents)}" + _only_rows(len(found)),
        head,
        rows,
        frozenset({0, 1}),
    )


def _only_rows(many: int) -> str:
    """Like incidents in a row are one row; where there are more rows than are shown, which they are."""
    return f" (the {ROWS} rows with urgent ones and the longest, of {words.whole_number(many)})" if many > ROWS else ""


def _length(one: Incident, end: int) -> int:
    return (end if one.cleared is None else one.cleared) - since(one)


def _incident_row(row: Sequence[Folded[Incident]], zone: ZoneInfo) -> Row:
    leads = [one.lead for one in row]
    what, of, dates, lasted = incident_row(leads, [other for one in row for other in one.followed], zone)
    return Row(Label(what), (of if leads[0].subject else "a name kept back", dates, lasted))


def _only(many: int, which: str) -> str:
    """What a caption adds where a table is cut to ROWS."""
    return f" ({ROWS} of {words.whole_number(many)}: {which})" if many > ROWS else ""


def log_facts(month: Month) -> tuple[Fact, ...]:
    figures, intake = month.figures, month.figures.intake
    return (
        Fact(Label("Seen", "blind time"), words.fine_percent(month.completeness.seen)),
        blind_fact(figures),
        Fact(Label("Lines read", "lines"), words.whole_number(intake.lines - intake.unread)),
        unread_fact(figures),
        unfinished_fact(figures),
        doubtful_fact(figures),
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
                words.hours(its.airtime_s),
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
        Row(mode_name(mode), (words.hours(0.0), words.NONE, "0", words.NONE, change_words(month, mode)))
        for mode in gone
    ]
    channel = month.figures.channel
    rows.append(
        Row(
            Label("Channel", "channel airtime"),
            (
                words.hours(whole),
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


FEW_NOTE = (
    f"Groups under five stations are told as “{Withheld.FEWER}”; “kept back” where a count beside the others "
    "would tell of such a group."
)
