"""Events of shapes, by the reading of the traffic that wins."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from parsers.adopt.happenings import LEAST, Kind, beside_overs, said_of, why
from parsers.adopt.model import TALK, Known, Shape
from parsers.adopt.naming import told_unit
from parsers.adopt.places import Place
from parsers.adopt.roles import Roles
from parsers.adopt.search import CLASSES, FACTORS, USUAL, Clues, Reading, best_reading
from parsers.adopt.stage import Stage, kinds_of, lengths_of, set_stage
from parsers.adopt.trial import Ints

RIVALS = 3
SLIGHT = 0.02  #: another place must be so much better
NEAR = 0.25  #: readings that lie nearer together can't be told apart
CHECKED = 0.4  #: so many lengths must fit the stamps of both ends to be checked by them
PLAIN = 1.0  #: a place that scores so much for the length is not left out
WORDED, NAMED = 0.4, 0.3  #: how much words must say for an event; the share of lines that name somebody


@dataclass
class Told:
    """What was settled of the whole log."""

    reading: Reading | None
    seconds: str = "s"  #: unit of bare lengths
    unit_margin: float = 9.0
    stamp: str = "event"
    stamp_margin: float = 9.0
    rivals: Sequence[Place] = ()  #: other numbers that could be the length of an over
    unsure: Sequence[Sequence[Shape]] = ()  #: kinds of line that may tell of traffic, and are left out or guessed


@dataclass(frozen=True)
class Found:
    """A reading, and the places on which it was found."""

    reading: Reading
    places: dict[str, Place]
    stage: Stage

    @property
    def total(self) -> float:
        return self.reading.trial.total


def tell_events(shapes: Sequence[Shape], us: Ints, roles: Roles, known: Known) -> Told:
    """Gives every shape its event; the place of the lengths, and that of a session, are those that suit the traffic."""
    told = _search(us, roles, known)
    inside = {id(shape) for shape in roles.talk.shapes}
    for some in kinds_of([shape for shape in shapes if id(shape) not in inside]):
        kind = Kind(some, us)
        event = beside_overs(kind)
        for shape in some:
            shape.event, shape.why, shape.sure = event or "ignore", why(kind, event or "ignore"), event is not None
    for shape in shapes:
        if shape.name in known.events:
            shape.event, shape.sure, shape.why = known.events[shape.name], True, "said"
    return told


def _search(us: Ints, roles: Roles, known: Known) -> Told:
    best: Found | None = None
    found: list[Found] = []
    for places in _variants(roles):
        stage = set_stage(roles.talk, places)
        if not stage.kinds:
            return Told(None)
        found.append(Found(best_reading(stage, _clues(stage, places.get("duration"), us, known)), places, stage))
        best = found[-1] if best is None or found[-1].total > best.total + SLIGHT else best
    if best is None:
        return Told(None)
    roles.take(best.places)
    unsure = [kind for kind, event in zip(best.stage.kinds, best.reading.events, strict=True) if _tell(kind, event, us)]
    return _told(best, found, unsure, known)


def _tell(kind: Sequence[Shape], event: str, us: Ints) -> bool:
    """Gives the shapes of a kind their event. Whether they may tell of traffic, and are left out or guessed."""
    facts = Kind(kind, us)
    said = said_of(facts)
    if event == "refused" and said["refused"] <= 0 and not facts.has("station"):
        event = "ignore"
    other = beside_overs(facts) if event == "ignore" else None
    for shape in kind:
        shape.event, shape.why = other or event, why(facts, other or event)
        shape.sure = said.get(shape.event, 0.0) >= WORDED or shape.event in TALK
    guessed = event in ("ignore", "refused") and other is None and not kind[0].sure
    return guessed and facts.has("station", "duration") >= NAMED


def _told(best: Found, found: Sequence[Found], unsure: Sequence[Sequence[Shape]], known: Known) -> Told:
    reading, length = best.reading, best.places.get("duration")
    if reading.agreement >= CHECKED:
        return Told(reading, reading.unit, 9.0, reading.stamp, reading.stamp_margin, (), unsure)
    near = [one.places.get("duration") for one in found if one.total > best.total - NEAR]
    rivals = [place for place in near if place is not None and place is not length]
    bare = lengths_of(length, len(best.stage.when))[1]
    margin = reading.unit_margin if bare and not _unit_named(length, known) else 9.0
    return Told(reading, reading.unit, margin, reading.stamp, reading.stamp_margin, rivals, unsure)


def _variants(roles: Roles) -> list[dict[str, Place]]:
    """The places as evidence has them, then with another number for the length, then without a session."""
    lengths: list[Place | None] = list(roles.rivals("duration", RIVALS))
    plain = any(
        score >= PLAIN for score, place in roles.ranked.get("duration", ()) if any(place is one for one in lengths)
    )
    lengths += [] if plain else [None]
    out = []
    for session in (False, True) if "session" in roles.places else (False,):
        for length in lengths:
            places = {role: place for role, place in roles.places.items() if role not in ("duration", "session")}
            if session:
                places["session"] = roles.places["session"]
            places = {role: place for role, place in places.items() if place is not length}
            out.append(places | ({"duration": length} if length is not None else {}))
    return out


def _clues(stage: Stage, length: Place | None, us: Ints, known: Known) -> Clues:
    lengths, bare = lengths_of(length, len(stage.when))
    words = []
    fixed = {}
    for number, shapes in enumerate(stage.kinds):
        kind = Kind(shapes, us)
        said = said_of(kind)
        words.append({event: float(np.clip(said.get(event, 0.0) / 1.5, -1, 1)) for event in CLASSES})
        other = beside_overs(kind)
        if other is not None and said[other] - LEAST[other] >= max(said[event] for event in (*TALK, "refused")) - 1.0:
            fixed[number] = "ignore"
        answers = {known.events[shape.name] for shape in shapes if shape.name in known.events}
        if len(answers) == 1:
            fixed[number] = event if (event := answers.pop()) in CLASSES else "ignore"
    stamps = ("event",) if known.stamp == "event" else ("end",) if known.stamp == "end" else ("end", "event")
    return Clues(words, lengths, bare, _units(length, known) if bare else ("s",), fixed, stamps)


def _unit_named(length: Place | None, known: Known) -> str | None:
    named = known.seconds or (told_unit(length.pooled) if length is not None else None)
    return named if named != "frames" else None


def _units(length: Place | None, known: Known) -> tuple[str, ...]:
    named = _unit_named(length, known)
    if named is None and length is not None and told_unit(length.pooled) == "frames":
        return ("frames:20ms", "frames:60ms")
    return (named,) if named else USUAL


def factor(unit: str) -> float:
    """Seconds in a unit."""
    return FACTORS.get(unit) or float(unit.removeprefix("frames:").removesuffix("ms")) / 1000
