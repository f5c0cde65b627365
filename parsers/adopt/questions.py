"""What the learner can't know: the questions left, ranked by how many overs hang on each, and sentences on what is sure and what guessed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shared.events import CAUSES, MODE_LABELS, MODES, SIDES
from shared.numbers import grouped

from parsers.adopt.doubts import SHORT_TIMEOUT_S, opened_by_ignored, other_lengths, short_timeouts
from parsers.adopt.model import TALK, Known, Sample, Shape
from parsers.adopt.spelling import Words

MOST = 5
EXAMPLES = 3
MATTERS = 0.01  #: a spelling of fewer lines is not worth a doubt
UNSETTLED = 0.06  #: what an open question about a field that overs have weighs: no reading is called good with one


@dataclass(frozen=True)
class Question:
    """One thing to ask the keeper."""

    key: str  #: as an answers file names it, such as "mode.7"
    asks: str
    choices: tuple[str, ...]  #: what may be answered; empty where any text may
    guess: str  #: what is taken where nobody answers
    overs: int  #: lines of overs in the sample that hang on it
    examples: tuple[str, ...]


def review(
    sample: Sample, shapes: Sequence[Shape], words: Words, whole: Mapping[str, object], known: Known
) -> tuple[list[Question], list[str], list[str], dict[str, float]]:
    """Questions, guesses, certainties, and how much of the overs is in doubt for each guess (a share)."""
    overs = sum(len(shape.rows) for shape in shapes if shape.event in ("over-end", "over")) or 1
    asked: list[Question] = []
    doubt: dict[str, float] = {}
    for (table, value), lines in words.guessed.items():
        means = words.tables[table][value].get(table, "")
        label = MODE_LABELS.get(means, means)
        choices = (*{"mode": MODES, "side": SIDES, "cause": CAUSES}[table], "none")
        asks = f"Which {table} does “{value}” stand for? Guessed: {label or 'none'}."
        asked.append(Question(f"{table}.{value}", asks, choices, means or "none", lines, _examples(sample, shapes, table, value)))
        if table != "mode":
            doubt[f"what the words of a {table} stand for"] = UNSETTLED
        else:
            share = min(1.0, lines / _lines(shapes))
            doubt[f"{table} {value}"] = max(0.5 * share, UNSETTLED if share >= MATTERS else 0.0)
    if not sample.zone_sure:
        asks = "The stamps have no offset: in which zone is the host's clock (a name such as Europe/London)? Guessed: UTC."
        asked.append(Question("zone", asks, (), sample.zone, overs, tuple(sample.lines[:1])))
    if sample.stamping and not sample.stamping.sure and sample.stamping.other and known.time is None:
        asks = f"Which is the day and which the month in the stamps? Guessed: {sample.stamping.time}; the other reading is {sample.stamping.other}."
        asked.append(
            Question("time", asks, (sample.stamping.time, sample.stamping.other), sample.stamping.time, overs, tuple(sample.lines[:2]))
        )
        doubt["which is the day and which the month"] = 0.4
    if float(str(whole.get("seconds_sure", 1.0))) < 0.9:
        lengths = [shape for shape in shapes if shape.column("duration")]
        asks = f"In what unit are the durations? Guessed: {whole['seconds']}. Stamps do not tell."
        rows = lengths[0].rows[:EXAMPLES] if lengths else []
        choices = ("s", "ms", "frames:20ms", "frames:60ms")
        asked.append(Question("seconds", asks, choices, str(whole["seconds"]), overs, tuple(sample.lines[row] for row in rows)))
        doubt["the unit of the durations"] = 1.0 - float(str(whole["seconds_sure"])) - 0.29
    if float(str(whole.get("stamp_sure", 1.0))) < 0.7 and any(shape.event == "over" for shape in shapes):
        asks = f"Is a whole over stamped when it began (event) or when it ended (end)? Guessed: {whole['stamp']}."
        rows = next(shape.rows[:EXAMPLES] for shape in shapes if shape.event == "over")
        asked.append(Question("stamp", asks, ("event", "end"), str(whole["stamp"]), overs, tuple(sample.lines[row] for row in rows)))
    doubt |= _lacking(shapes)
    told = {row for shape in shapes if shape.event != "ignore" for row in shape.rows}
    ignored = [row for row in range(len(sample.lines)) if row not in told]
    for shape in [shape for shape in shapes if shape.event == "over"]:
        places, why, weight = other_lengths(shape, known), "which number is the length", 0.3
        share, place = opened_by_ignored(shape, sample, ignored)
        if share >= 0.6:
            places = sorted({*places, place, *(i for i, column in enumerate(shape.columns) if column.key == "duration")})
            why, weight = "the lengths of whole overs: another number in each is the time since an ignored line of the same station", 1.0
        if places:
            asked.append(_which_length(shape, places, sample))
            doubt[why] = doubt.get(why, 0.0) + weight * len(shape.rows) / overs
    doubt |= _against(shapes, whole)
    asked.sort(key=lambda question: -question.overs)
    guessed = [question.asks for question in asked]
    guessed += [
        f"“{shape.name}” is taken for {shape.event}, by its words alone." for shape in shapes if not shape.sure and shape.event in TALK
    ]
    return asked[:MOST], guessed, _certain(sample, shapes, words, whole), {key: value for key, value in doubt.items() if value > 0}


def _which_length(shape: Shape, places: Sequence[int], sample: Sample) -> Question:
    """Two numbers could be the length of an over, and no line that opens it says which."""
    values = sample.lines[shape.rows[0]], [(place, shape.columns[place].values[0]) for place in places]
    told = " or ".join(f"{{{place + 1}}} (in the first line {value})" for place, value in values[1])
    taken = next(place for place in places if shape.columns[place].key == "duration") + 1
    asks = f"Which number is the length of the over in “{shape.name}”: {told}? Guessed: {{{taken}}}."
    choices = tuple(str(place + 1) for place in places)
    return Question(
        f"hole.{shape.name}", asks, choices, str(taken), len(shape.rows), tuple(sample.lines[row] for row in shape.rows[:EXAMPLES])
    )


def _against(shapes: Sequence[Shape], whole: Mapping[str, object]) -> dict[str, float]:
    """What the traffic says against the reading."""
    out: dict[str, float] = {}
    many, middle = short_timeouts(shapes, whole)
    if many >= 3 and middle < SHORT_TIMEOUT_S:
        out[_too_short(many, middle)] = 0.5
    return out


def _lines(shapes: Sequence[Shape]) -> int:
    return sum(len(shape.rows) for shape in shapes if shape.event in TALK) or 1


def _examples(sample: Sample, shapes: Sequence[Shape], table: str, value: str) -> tuple[str, ...]:
    found = []
    for shape in shapes:
        column = shape.column(table)
        if column is not None and shape.event in TALK:
            found += [sample.lines[row] for row, one in zip(shape.rows, column.values, strict=True) if one == value][:EXAMPLES]
    return tuple(found[:EXAMPLES])


def _lacking(shapes: Sequence[Shape]) -> dict[str, float]:
    """What overs lack: a share of them without any mode can't be right."""
    # An end that names its session has the mode of its start.
    ends = [shape for shape in shapes if shape.event in ("over-end", "over") and shape.column("session") is None]
    of = sum(len(shape.rows) for shape in ends) or 1
    modeless = sum(len(shape.rows) for shape in ends if shape.column("mode") is None and "mode" not in shape.set)
    return {"overs whose mode is not told": modeless / of}


def _certain(sample: Sample, shapes: Sequence[Shape], words: Words, whole: Mapping[str, object]) -> list[str]:
    out = [f"Stamps: {sample.stamping.time if sample.stamping else 'none'}, zone {sample.zone}; envelope: {sample.envelope}."]
    modes = sorted(
        {
            str(means["mode"])
            for value, means in words.tables.get("mode", {}).items()
            if "mode" in means and ("mode", value) not in words.guessed
        }
    )
    set_modes = {str(shape.set["mode"]) for shape in shapes if "mode" in shape.set and shape.event != "ignore"}
    modes = sorted(set(modes) | set_modes)
    if modes:
        out.append("Modes told by their names: " + ", ".join(MODE_LABELS[mode] for mode in modes) + ".")
    for event, says in (
        ("over-start", "open an over"),
        ("over-end", "close one"),
        ("over", "tell a whole over"),
        ("refused", "tell of a refusal"),
    ):
        number = sum(shape.event == event for shape in shapes)
        if number:
            out.append(
                f"{number} {'shape' if number == 1 else 'shapes'} of line {says}."
                if number > 1
                else f"1 shape of line {says.replace('open', 'opens').replace('close', 'closes').replace('tell', 'tells')}."
            )
    if any(shape.column("duration") for shape in shapes):
        out.append(f"Durations that are bare numbers are read as {whole['seconds']}.")
    if any(shape.event == "over" for shape in shapes):
        out.append(f"Whole overs are stamped at their {'end' if whole['stamp'] == 'end' else 'start'}.")
    return out


def _too_short(many: int, middle: float) -> str:
    return (
        f"the unit of the durations: the {grouped(many)} overs that timed out would have lasted only {middle:.1f} s, and time-out timers run "
        "for minutes"
    )
