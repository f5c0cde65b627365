"""The Intake page: all that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.intake.overview import LogRead
from server.report.privacy import masked
from server.telling import words
from server.telling.moments import instant_words
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact, Label
from server.web.frame import Frame
from server.web.shell import Shell
from server.web.source import Source
from server.web.teach.view import NewsOfLog
from shared.zones import SECOND

EXAMPLES = 12
GAPS = 10
FILES = 40
MUCH_UNREAD = 0.01


@dataclass(frozen=True)
class Example:
    """One line that no shape of the dialect matched."""

    when: str
    pieces: tuple[VisibleText, ...]


@dataclass(frozen=True)
class FileLine:
    path: tuple[VisibleText, ...]
    lines: str
    trouble: tuple[VisibleText, ...]


@dataclass(frozen=True)
class LogView:
    """What one log gave, and what to do about the rest."""

    name: tuple[VisibleText, ...]
    dialect: tuple[VisibleText, ...]
    verdict: str
    advice: tuple[str, ...]  #: what to do next; commands stand in `backticks`
    facts: tuple[Fact, ...]
    examples: tuple[Example, ...]
    gaps: tuple[str, ...]
    more_gaps: int
    files: tuple[FileLine, ...]
    more_files: int
    troubles: tuple[tuple[VisibleText, ...], ...] = ()  #: what kept it from being read at the last pass
    notes: tuple[tuple[VisibleText, ...], ...] = ()  #: lines that would be read otherwise now, files that wait


@dataclass(frozen=True)
class IntakeView:
    """What intake.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    headline: str  #: the verdict over all logs
    advice: tuple[str, ...]  #: what to do next
    logs: tuple[LogView, ...]  #: one a log
    teach: str = ""  #: the page where a log is taught, where there is one
    news: tuple[NewsOfLog, ...] = ()  #: new shapes of lines, each with the line that would read them
    accept: str = ""  #: where accepting one goes
    token: str = ""  #: ties the forms to the visitor
    trouble: str = ""  #: why accepting failed
    done: str = ""  #: what came of accepting


def intake_view(source: Source, frame: Frame, proxies: tuple[str, ...] = ()) -> IntakeView:
    """`proxies` is what to do about those that are not trusted. StoreError where the store can't be read."""
    logs = source.intake()
    headline, advice = _headline(logs)
    return IntakeView(
        shell=frame.shell("Intake", "/intake"),
        headline=headline,
        advice=(*advice, *proxies),
        logs=tuple(_log(log, frame.zone) for log in logs),
    )


def _headline(logs: Sequence[LogRead]) -> tuple[str, tuple[str, ...]]:
    headline, advice = _headline_of_lines(logs)
    hindered = sum(1 for log in logs if log.troubles)
    return (
        f"{words.count(hindered, 'log')} can't be read as it should be. {headline}" if hindered else headline
    ), advice


def _headline_of_lines(logs: Sequence[LogRead]) -> tuple[str, tuple[str, ...]]:
    if not logs:
        return "No log is named in the station file.", (
            "Add a `[[log]]` with the path of the host's log to station.toml; `airtally init` writes one by asking.",
            "Is the host's log of a kind not known yet? `airtally adopt LOG` learns it.",
        )
    if not sum(log.lines for log in logs):
        return "Nothing has been read yet.", (
            "Run `airtally ingest` to read what is there, or `airtally serve` to go on reading.",
            "Has that been done already? `airtally check` says what is in the way.",
        )
    troubled = sum(1 for log in logs for file in log.files if file.trouble)
    trouble = f" {words.count(troubled, 'file')} could not be read to the end." if troubled else ""
    return f"{_how_well_read(logs)}{trouble}", ()


def _how_well_read(logs: Sequence[LogRead]) -> str:
    """How many of the lines were understood."""
    lines, unread = sum(log.lines for log in logs), sum(log.unread for log in logs)
    if not unread:
        return f"Every line was understood: {words.whole_number(lines)} so far."
    share, lost = words.percent(unread / lines), words.whole_number(unread)
    bad = [log.latest for log in logs if log.unread_now]
    if bad:
        came, lost_now = (sum(counts) for counts in zip(*bad, strict=True))
        latest = words.count(came, "line")
        return f"{words.whole_number(lost_now)} of the latest {latest} could not be read, {share} of all."
    if unread / lines <= MUCH_UNREAD:
        return f"Nearly all is understood: {lost} of {words.count(lines, 'line')} ({share}) could not be read."
    return f"{share} of the lines could not be read: {lost} of {words.whole_number(lines)}."


def _log(log: LogRead, zone: ZoneInfo) -> LogView:
    share = log.unread / log.lines if log.lines else None
    last = instant_words(log.last_us, zone, with_year=True) if log.last_us is not None else words.UNKNOWN
    facts = (
        Fact(Label("Lines of the log", "lines"), words.whole_number(log.lines)),
        Fact(Label("Understood", "lines"), words.whole_number(log.understood)),
        Fact(Label("Left out", "lines"), words.whole_number(log.ignored), "the dialect says to ignore them"),
        Fact(
            Label("Unread", "lines"),
            words.whole_number(log.unread),
            "" if share is None else f"{words.percent(share)} of the lines",
        ),
        Fact(Label("Orphans", "orphan"), words.whole_number(log.orphans), "ends without a start"),
        Fact(Label("Doubtful overs", "doubtful"), words.whole_number(log.doubtful), "stamps and duration disagree"),
        Fact(Label("Last line"), last),
    )
    return LogView(
        name=visible(log.name),
        dialect=visible(log.dialect),
        verdict=_log_verdict(log),
        advice=_advice(log),
        facts=facts,
        examples=tuple(
            Example("time not known" if t is None else instant_words(t, zone), visible(masked(text)))
            for t, text in log.examples[:EXAMPLES]
        ),
        gaps=tuple(_gap(start, end, zone) for start, end in log.gaps[::-1][:GAPS]),
        more_gaps=max(0, len(log.gaps) - GAPS),
        files=tuple(
            FileLine(visible(file.path), words.whole_number(file.lines), visible(file.trouble or ""))
            for file in sorted(log.files, key=lambda file: file.trouble is None)[:FILES]
        ),
        more_files=max(0, len(log.files) - FILES),
        troubles=tuple(visible(trouble, 600) for trouble in log.troubles[:FILES]),
        notes=tuple(visible(note, 600) for note in ([log.again.says] if log.again else []) + list(log.waiting[:FILES])),
    )


def _log_verdict(log: LogRead) -> str:
    if not log.lines:
        return "Nothing was read from this log."
    if log.troubles:
        return "It can't be read as it should be now."
    if not log.unread:
        return "Every line was understood."
    if log.unread_now:
        came, lost = log.latest
        return f"{words.whole_number(lost)} of its latest {words.count(came, 'line')} could not be read."
    share = words.percent(log.unread / log.lines)
    return f"{share[0].upper()}{share[1:]} of its lines could not be read."


def _advice(log: LogRead) -> tuple[str, ...]:
    """What to do next about one log."""
    advice = []
    if not log.lines:
        advice.append(
            "See whether the path in the station file is right and readable: `airtally check` says so. Then run "
            "`airtally ingest`."
        )
    if log.unread:
        dialect = "DIALECT.toml" if log.dialect == "activity" else "the dialect file"
        advice.append(
            f"Teach the lines below: add a `[[line]]` with a sample for each kind to {dialect} (event `ignore` for "
            "those that tell nothing that counts), "
            "and see what they yield with `airtally dialect try FILE LOG`."
        )
    if log.understood and log.orphans > 0.02 * log.understood:
        advice.append("Many ends have no start: see whether the dialect has the line that opens an over.")
    if log.troubles:
        advice.append(
            "Mend what stands below; airtally tries again by itself while `airtally serve` runs, and at the next "
            "`airtally ingest`."
        )
    if any(file.trouble for file in log.files):
        advice.append("Mend the files with trouble, and run `airtally ingest` again: it goes on where it stopped.")
    return tuple(advice)


def _gap(start: int, end: int, zone: ZoneInfo) -> str:
    length = words.duration((end - start) / SECOND)
    return f"{instant_words(start, zone, with_year=True)}, for {length}"
