"""The teaching pages: all that their templates get."""

from dataclasses import dataclass
from typing import Any

from parsers.constants import IGNORE, KEYS
from server.teaching.lesson import Lesson, LineShown, LogNews, QuestionShown, ShapeHole, ShapeShown
from server.telling.outside import VisibleText, visible
from server.web.frame import Frame
from server.web.shell import Choice, Shell
from shared.events import EVENTS, MODE_LABELS
from shared.numbers import grouped

#: What events are called on the page; the mark stands before a line, so that its colour is not all that tells.
EVENT_WORDS = {
    "over-start": "an over begins",
    "over-end": "an over ends",
    "over": "a whole over",
    "refused": "a caller is refused",
    "carrier-up": "a carrier comes up",
    "carrier-down": "a carrier goes",
    "link-up": "a link comes up",
    "link-down": "a link goes",
    "page": "a page is sent",
    "host-start": "the host starts",
    "host-stop": "the host stops",
    "alive": "a sign of life",
    IGNORE: "left out: nothing is counted of it",
}
HOLE_WORDS = {
    "_": "not used",
    "duration": "duration",
    "mode": "mode",
    "side": "side (air or link)",
    "slot": "time slot",
    "station": "station",
    "target": "target",
    "cause": "cause of the end",
    "reason": "reason of a refusal",
    "ber_pct": "bit errors",
    "loss_pct": "packet loss",
    "rssi_dbm": "signal level",
    "network": "network",
    "session": "number of the over",
    "bit_rate": "bit rate of a page",
    "code_words": "code words of a page",
    "characters": "characters of a page",
}
#: What a hole may be said to hold, in the order of the list.
HOLE_KEYS = ("_", "duration", *(key for key in KEYS if key != "seconds"))
TOML_LINES = 40  # shown of a proposal
KINDS = {"over-start": "talk", "over-end": "talk", "over": "talk", IGNORE: "idle", "unread": "lost"}


@dataclass(frozen=True)
class HoleField:
    """One hole of a shape, to be picked from a list."""

    name: str
    label: str
    values: tuple[tuple[VisibleText, ...], ...]
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class ShapeFields:
    nth: int
    text: tuple[VisibleText, ...]
    lines: str
    example: tuple[VisibleText, ...]
    field: str
    choices: tuple[Choice, ...]
    holes: tuple[HoleField, ...]


@dataclass(frozen=True)
class QuestionFields:
    field: str
    asks: str
    examples: tuple[tuple[VisibleText, ...], ...]
    guess: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class LinePart:
    pieces: tuple[VisibleText, ...]
    key: str


@dataclass(frozen=True)
class LineMarked:
    kind: str  #: talk, told, idle or lost
    says: str
    parts: tuple[LinePart, ...]


@dataclass(frozen=True)
class TeachView:
    """What teach.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    action: str  #: where the form goes
    token: str  #: ties the form to the visitor
    files: tuple[str, ...]  #: log files that may be chosen
    trouble: str  #: why the last try failed


@dataclass(frozen=True)
class LessonView:
    """What teach_lesson.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    action: str  #: where corrections go
    save: str  #: where saving goes
    again: str  #: the page that begins another lesson
    token: str  #: ties the forms to the visitor
    trouble: str  #: why the last try failed
    done: str  #: what was saved
    log: tuple[VisibleText, ...]  #: whose lines these are
    poor: bool  #: whether the reading calls the fit poor
    verdict: str  #: the reading in a sentence
    overs: str  #: how many overs come out, and how many did before the last correction
    sentences: tuple[str, ...]  #: the reading in full
    questions: tuple[QuestionFields, ...]  #: what the log can't tell
    shapes: tuple[ShapeFields, ...]  #: what was found, to be corrected
    lines: tuple[LineMarked, ...]  #: the first lines, marked by what was understood
    first_overs: tuple[tuple[str, ...], ...]  #: start, seconds, mode, slot, side, station


@dataclass(frozen=True)
class NewsItem:
    says: str
    toml: tuple[tuple[VisibleText, ...], ...]  #: by line
    examples: tuple[tuple[VisibleText, ...], ...]
    key: str


@dataclass(frozen=True)
class NewsOfLog:
    """What is new in one log, as the Intake page shows it."""

    log: tuple[VisibleText, ...]
    name: str  #: as the form sends it
    rose: str
    again: int  #: kept lines that can be read again as they are
    items: tuple[NewsItem, ...]


def lesson_view(lesson: Lesson, frame: Frame, token: str, trouble: str, done: str) -> LessonView:
    """The page of one lesson."""
    here = frame.to(f"/teach/{lesson.id}")
    was = "" if lesson.overs_before is None else f" Before the last correction it was {grouped(lesson.overs_before)}."
    return LessonView(
        shell=frame.shell("Teach a log", "/intake"),
        action=here,
        save=f"{here}/save",
        again=frame.to("/teach"),
        token=token,
        trouble=trouble,
        done=done,
        log=visible(lesson.log),
        poor=lesson.poor,
        verdict=lesson.verdict,
        overs=f"{grouped(lesson.overs)} overs come out.{was}",
        sentences=lesson.sentences,
        questions=tuple(_question_fields(n, question) for n, question in enumerate(lesson.questions)),
        shapes=tuple(_shape_fields(n, shape) for n, shape in enumerate(lesson.shapes)),
        lines=tuple(_line_marked(line) for line in lesson.lines),
        first_overs=tuple(
            (over.start, over.seconds, over.mode, over.slot, over.side, over.station) for over in lesson.sample_overs
        ),
    )


def _question_fields(n: int, question: QuestionShown) -> QuestionFields:
    return QuestionFields(
        f"q{n}",
        question.asks,
        tuple(visible(example, 200) for example in question.examples),
        question.guess,
        tuple(_choice(value, question.guess) for value in question.choices),
    )


def _shape_fields(n: int, shape: ShapeShown) -> ShapeFields:
    return ShapeFields(
        n + 1,
        visible(shape.name, 300),
        f"{grouped(shape.lines)} lines",
        visible(shape.example, 300),
        f"e{n}",
        tuple(Choice(event, EVENT_WORDS[event], event == shape.event) for event in (IGNORE, *EVENTS)),
        tuple(_hole_field(n, hole) for hole in shape.holes),
    )


def _hole_field(n: int, hole: ShapeHole) -> HoleField:
    """A hole of the nth shape."""
    return HoleField(
        f"h{n}_{hole.number}",
        f"What hole {hole.number} of shape {n + 1} holds",
        tuple(visible(value, 40) for value in hole.values),
        tuple(Choice(key, HOLE_WORDS[key], key == hole.key) for key in HOLE_KEYS),
    )


def _line_marked(line: LineShown) -> LineMarked:
    return LineMarked(
        KINDS.get(line.event, "told"),
        EVENT_WORDS.get(line.event, "not understood"),
        tuple(LinePart(visible(text, 300), HOLE_WORDS.get(key, key) if key else "") for text, key in line.pieces),
    )


def _choice(value: str, guess: str) -> Choice:
    return Choice(value, MODE_LABELS.get(value, value), value == guess)


def news_of_log(name: str, news: LogNews) -> NewsOfLog:
    """What is new in one log."""
    items = tuple(
        NewsItem(
            f"{grouped(one.lines)} unread lines look alike: "
            f"{EVENT_WORDS.get(one.event, 'words that are new')}{'' if one.sure else ' (a guess)'}.",
            tuple(visible(line, 500) for line in one.toml.splitlines()[:TOML_LINES]),
            tuple(visible(text, 300) for text in one.examples),
            one.key,
        )
        for one in news.news
    )
    return NewsOfLog(visible(name), name, news.rose, news.again, items)


def answers_of(lesson: Lesson, form: dict[str, str]) -> dict[str, object]:
    """All answers after a form: what was said before, and what the form has otherwise than the page had it."""
    answers: dict[str, Any] = {
        key: dict(value) if isinstance(value, dict) else value for key, value in lesson.answers.items()
    }
    for n, question in enumerate(lesson.questions):
        if answer := form.get(f"q{n}", "").strip():
            _add_answer(answers, question.key, answer)
    for n, shape in enumerate(lesson.shapes):
        event = form.get(f"e{n}", shape.event)
        if event != shape.event:
            answers.setdefault("event", {})[shape.name] = event
        if holes := _changed_holes(shape, {hole.number: form.get(f"h{n}_{hole.number}") for hole in shape.holes}):
            answers.setdefault("hole", {})[shape.name] = holes
    return answers


def _add_answer(answers: dict[str, Any], key: str, answer: str) -> None:
    """Under its key, or in the table that stands before the key's dot."""
    table, dot, spelling = key.partition(".")
    if dot:
        answers.setdefault(table, {})[spelling] = answer
    else:
        answers[key] = answer


def _changed_holes(shape: ShapeShown, form: dict[int, str | None]) -> dict[str, str]:
    """What each hole of a shape holds after a form, by number; nothing where the form changes none. Holes that were not
    changed stay as the page had them, but for one that had what a changed one has now.
    """
    now = {hole.number: hole.key if form[hole.number] is None else str(form[hole.number]) for hole in shape.holes}
    changed = {hole.number for hole in shape.holes if now[hole.number] != hole.key}
    moved = {now[number] for number in changed} - {"_"}
    if not changed:
        return {}
    return {str(number): "_" if key in moved and number not in changed else key for number, key in now.items()}
