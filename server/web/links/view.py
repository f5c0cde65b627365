"""The Links page: all that its template gets."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.link_overs import NotToldApart
from server.analytics.links import LinkFigures, Links, LinkWeek, Outage, local_weeks
from server.store.notes import Note
from server.telling import words
from server.telling.link_quiet import QUIET_NOTE, silence_sentences
from server.telling.link_verdict import findings, headline
from server.telling.links import (
    AVAILABILITY,
    FLAP_NOTE,
    LOSS_NOTE,
    NO_LINKS_LOOK,
    TRAFFIC,
    availability_cells,
    never_up,
    not_told_apart,
    shown_name,
    traffic_cells,
)
from server.telling.moments import WELL_INSIDE, edges_words, instant_words
from server.telling.outside import plain_name
from server.telling.parts import Label, Row, Table
from server.telling.sentences import Finding, Sentence, say
from server.telling.targets import TargetNames
from server.telling.unread import not_understood, nothing_told, what_to_read
from server.web.frame import Frame
from server.web.links.charts import DownChart, down_chart
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.shell import Shell
from server.web.source import Source
from server.web.weeks import week_of
from shared.events import MODE_LABELS
from shared.zones import from_us

WEEKS = 13
OUTAGES = 12  # that are listed
APART = 10  # modes and targets of overs that are not told apart
IT_TAKES = "that takes two weeks and more, with overs through the link about every day"
CHARTS = 12  # links whose weeks are drawn; those of all are in the table


@dataclass(frozen=True)
class LinksView:
    """What links.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    span: str  #: which weeks
    headline: Sentence  #: what the keeper needs first
    step: str  #: what to do where there is nothing to tell; else empty
    edges: str  #: where the log begins or stops within these weeks
    findings: tuple[Finding, ...]  #: what else stands out
    known: bool  #: whether there is a link of which something is known
    availability: Table  #: a row a link: up and down
    traffic: Table  #: a row a link: what it brought
    notes: tuple[str, ...]  #: on links that were never seen up
    flap_note: str  #: what flaps are
    loss_note: str  #: what the columns of loss are
    apart: str  #: how many overs are of no link in particular; else empty
    apart_table: Table  #: which these are
    charts: tuple[DownChart, ...]  #: time down by week, the links that were down longest first
    site_notes: NotesShown  #: what was done at the station in these weeks
    not_drawn: str  #: how many links have no chart; else empty
    weeks_table: Table  #: availability by week
    losses_table: Table  #: outages and flaps by week
    silences: tuple[str, ...]  #: a sentence each
    no_silence: str  #: said where there is none
    quiet_note: str  #: what a silence is
    outages: Table  #: the longest of all links


def links_view(source: Source, now: int, frame: Frame) -> LinksView:
    """The last 13 weeks up to `now`. StoreError where the store can't be read."""
    zone, names = frame.zone, PlainNames(frame.station.names)
    start = week_of(now, zone).shifted(1 - WEEKS).start_us
    bounds = source.first_and_last()
    found = source.links(start, now)
    known = [one for one in found.links if one.known_s]
    down = _longest_down([one for one in known if one.down_s])
    untold, step = _untold(source, found) if bounds is None else ("", _step(found))
    silences = tuple(silence_sentences(found, names))
    weeks = [week_words(monday, zone) for monday, _ in local_weeks(start, now, zone)]
    noted = notes_of(source, start, now)
    marks = _week_marks(noted, start, frame)
    return LinksView(
        shell=frame.shell("Links", "/links"),
        span=f"{WEEKS} weeks, up to {instant_words(now, zone, with_year=True)}",
        headline=say(untold) if untold else headline(found, names, _ended(bounds, now)),
        step=step,
        edges="" if bounds is None or not found.links else edges_words(bounds, start, now, zone, over=False),
        findings=findings(found, names),
        known=bool(known),
        availability=_availability_table(found, names),
        traffic=_traffic_table(found, names),
        notes=tuple(never_up(found, names)),
        flap_note=FLAP_NOTE,
        loss_note=LOSS_NOTE,
        apart=not_told_apart(found),
        apart_table=_apart_table(found.apart, names),
        charts=tuple(_chart(one, names, weeks, marks) for one in down[:CHARTS]),
        not_drawn=_not_drawn(len(known), len(down)),
        site_notes=notes_shown(noted, frame),
        weeks_table=_by_week(found, names, "Availability of each link, week by week", _available),
        losses_table=_by_week(found, names, "Outages and flaps of each link, week by week", _losses),
        silences=silences,
        no_silence="" if silences else _no_silence(found.links),
        quiet_note=QUIET_NOTE,
        outages=_outage_table(found, names),
    )


def _ended(bounds: tuple[int, int] | None, now_us: int) -> int | None:
    """The last line of a log that has stopped; None of one that goes on, or has none."""
    return bounds[1] if bounds is not None and bounds[1] < now_us - WELL_INSIDE else None


def _untold(source: Source, found: Links) -> tuple[str, str]:
    """Why no log tells anything, and what to do."""
    lines = not_understood(source.intake())
    untold = nothing_told(lines)
    return untold, what_to_read(lines) if untold else _step(found)


def _step(found: Links) -> str:
    return "" if found.links else NO_LINKS_LOOK


def _week_marks(noted: Sequence[Note], start_us: int, frame: Frame) -> list[tuple[float, str]]:
    """Where notes stand among the weeks, in weeks from the first day, with their letters."""
    first = from_us(start_us, frame.zone).date()
    return [((mark.day - first).days / 7 + mark.hour / 168, mark.letter) for mark in day_marks(noted, frame)]


def _availability_table(found: Links, names: TargetNames) -> Table:
    return Table(
        "Each link, up and down",
        (Label("Link", "link"), Label("Known", "link availability"), *AVAILABILITY),
        tuple(_row(link, names, words.about(link.known_s), *availability_cells(link)) for link in found.links),
    )


def _traffic_table(found: Links, names: TargetNames) -> Table:
    return Table(
        "What each link brought",
        (Label("Link", "link"), *TRAFFIC, Label("Gap once a week", "link silence")),
        tuple(_row(link, names, *traffic_cells(link), words.about(link.quiet.usual_gap_s)) for link in found.links),
    )


class PlainNames(TargetNames):
    """The names of links as a page may show them: nothing in them acts or hides."""

    def __init__(self, names: TargetNames) -> None:
        self._labels = names.labels()

    def of_link(self, link: str) -> str:
        return plain_name(super().of_link(link))


def _row(one: LinkFigures, names: TargetNames, *cells: str) -> Row:
    return Row(Label(shown_name(one, names)), cells)


def _longest_down(known: Sequence[LinkFigures]) -> list[LinkFigures]:
    return sorted(known, key=lambda one: (-(one.down_s or 0.0), -(one.flaps or 0)))


def _chart(one: LinkFigures, names: TargetNames, weeks: Sequence[str], notes: Sequence[tuple[float, str]]) -> DownChart:
    down, name = [week.down_s for week in one.weeks], shown_name(one, names)
    unknown = sum(value is None for value in down)
    says = f"Time down of {name} by week, {weeks[0]} to {weeks[-1]}: {words.duration(one.down_s)} in all"
    says += f", with {words.count(one.flaps, 'flap')}" if one.flaps else ""
    says += f". Of {words.count(unknown, 'week')} nothing is known." if unknown else "."
    return down_chart(name, down, [week.flaps for week in one.weeks], weeks, says, notes)


def _not_drawn(known: int, down: int) -> str:
    """What is said of links without a chart."""
    still = known - down
    said = (
        [f"{words.count(still, 'link')} without time down {words.verb(still, 'is', 'are')} not drawn."] if still else []
    )
    if down > CHARTS:
        said.append(f"The {CHARTS} links that were down longest are drawn.")
    return " ".join(said)


def _by_week(found: Links, names: TargetNames, caption: str, tell: Callable[[LinkWeek], str]) -> Table:
    """Weeks downwards, links across."""
    shown = [one for one in found.links if one.weeks]
    window = found.window
    starts = [start for start, _ in local_weeks(window.start_us, window.end_us, window.zone)]
    rows = tuple(
        Row(Label(week_words(start, window.zone)), tuple(tell(one.weeks[place]) for one in shown))
        for place, start in enumerate(starts)
    )
    return Table(caption, (Label("Week"), *(Label(shown_name(one, names)) for one in shown)), rows)


def week_words(start_us: int, zone: ZoneInfo) -> str:
    """`Week 47`."""
    return f"Week {week_of(start_us, zone).number}"


def _available(week: LinkWeek) -> str:
    return words.fine_percent(week.availability)


def _losses(week: LinkWeek) -> str:
    """`2, 14 flaps`; a dash where there was neither."""
    if week.outages is None or week.flaps is None:
        return words.UNKNOWN
    said = [words.count(week.outages, "outage")] if week.outages else []
    said += [words.count(week.flaps, "flap")] if week.flaps else []
    return ", ".join(said) or words.NONE


def _apart_table(rows: Sequence[NotToldApart], names: TargetNames) -> Table:
    """By mode and target; only targets of the station file are named, as another one may be a person's own number."""
    counted: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        mode = MODE_LABELS.get(row.mode or "", "Unknown")
        label = names.label_of(row.mode, row.target) if row.target else None
        target = plain_name(label) if label else "no target logged" if row.target is None else "other targets"
        counted[mode, target, "several links" if row.several else "no link that was up"] += row.overs
    shown = counted.most_common(APART)
    head = (Label("Mode"), Label("Target"), Label("Fits"), Label("Overs", "link traffic"))
    cut = f" ({APART} of {words.whole_number(len(counted))} rows)" if len(counted) > APART else ""
    return Table(
        f"Overs that are not told apart{cut}",
        head,
        tuple(Row(Label(mode), (target, fits, words.whole_number(many))) for (mode, target, fits), many in shown),
        frozenset({0, 1}),
    )


def _no_silence(shown: Sequence[LinkFigures]) -> str:
    """What is said where no silence is told: as far as it is known."""
    judged = sum(one.quiet.silences is not None for one in shown)
    if not judged:
        return f"Whether a link was silent for longer than is its habit is not known; {IT_TAKES}."
    if judged == len(shown):
        return "No link was silent for longer than is its habit."
    rest = len(shown) - judged
    return (
        f"Of the {words.count(judged, 'link')} whose habit is known none was silent for longer. Of "
        f"{words.count(rest, 'other')} that is not known; {IT_TAKES}."
    )


def _outage_table(found: Links, names: TargetNames) -> Table:
    every: list[tuple[LinkFigures, Outage]] = [(one, outage) for one in found.links for outage in one.outages or ()]
    every.sort(key=lambda pair: (-pair[1].length_s, pair[1].start_us))
    zone = found.window.zone
    rows = tuple(
        Row(
            Label(shown_name(one, names)),
            (
                instant_words(outage.start_us, zone),
                instant_words(outage.end_us, zone) if outage.back else "not back yet",
                words.duration(outage.length_s),
            ),
        )
        for one, outage in every[:OUTAGES]
    )
    cut = f", {OUTAGES} of {words.whole_number(len(every))}" if len(every) > OUTAGES else ""
    head = (Label("Link", "link"), Label("From", "link outage"), Label("To"), Label("Lasted"))
    return Table(f"The longest outages{cut}", head, rows, frozenset({0, 1}))
