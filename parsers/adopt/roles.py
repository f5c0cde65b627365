"""Which place of a log is what, by evidence: the roles are given to places, and columns take them from theirs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from parsers.adopt import trade
from parsers.adopt.evidence import FIRST, SECOND, THIRD, Evidence, Opinion, opinions
from parsers.adopt.model import TALK, Known, Shape
from parsers.adopt.naming import mode_behind_prefix
from parsers.adopt.places import Ints, Place, Talk, find_talk, joined, without_nobody
from parsers.adopt.pooling import is_station
from parsers.adopt.signs import Facts

RIVAL = -1.5  #: a place that scores less has no chance
NEARLY, SURE = -0.9, 0.25  #: between these a place may or may not be what it is taken for
UNSETTLED = 0.06
MATTERS = 0.01  #: a column of fewer of the lines is not worth a doubt
WIDER = 0.02  #: two places are one where that is so much better


@dataclass
class Roles:
    """What was settled of the places."""

    talk: Talk
    shapes: Sequence[Shape]
    known: Known
    places: dict[str, Place] = field(default_factory=dict)  #: role -> place
    why: dict[str, Opinion] = field(default_factory=dict)
    nearly: dict[str, Opinion] = field(
        default_factory=dict
    )  #: role -> the best place that did not reach it, where none did

    ranked: dict[str, list[tuple[float, Place]]] = field(default_factory=dict)  #: role -> places, the likeliest first

    def rivals(self, role: str, most: int) -> list[Place]:
        """The places that may have a role, the likeliest first, without those that have another one."""
        taken = [place for other, place in self.places.items() if other != role]
        free = [(score, place) for score, place in self.ranked.get(role, ()) if not any(place is one for one in taken)]
        return [place for score, place in free if score > RIVAL][:most]

    def take(self, places: Mapping[str, Place]) -> None:
        """Gives columns the roles of these places."""
        self.places = dict(places)
        for shape in self.shapes:
            for column in shape.columns:
                column.key = "_"
        for role, place in places.items():
            for shape, column in place.members:
                if shape.column(role) is None:
                    column.key, column.sure = role, role not in self.why or self.why[role].score >= 0.5
        _by_itself(self)
        for shape in self.shapes:
            _as_told(shape, self.known)

    def doubts(self) -> dict[str, float]:
        """What was left open: a role that a place nearly had, or had by little."""
        out = {}
        for role in ("target", "side"):
            opinion = self.why.get(role) or self.nearly.get(role)
            if opinion is not None and NEARLY <= opinion.score < SURE:
                out[f"which values are the {role}: {'; '.join(opinion.reasons[:3])}"] = UNSETTLED
        return out

    def left_out(self) -> dict[str, float]:
        """Of each field the share of the overs' lines that don't tell it, though an unexplained column of theirs looks
        like it.
        """
        voice = [shape for shape in self.shapes if shape.event in TALK]
        lines = sum(len(shape.rows) for shape in voice) or 1
        out = {}
        for role in ("side", "target", "slot"):
            lacking = {
                id(shape)
                for shape in voice
                if shape.column(role) is None and role not in shape.set and shape.name not in self.known.holes
            }
            near = [place for score, place in self.ranked.get(role, ()) if score >= NEARLY]
            lost = [
                sum(map(bool, column.values))
                for place in near
                for shape, column in place.members
                if column.key == "_" and id(shape) in lacking
            ]
            out[role] = min(1.0, sum(lost) / lines)
        return {role: share for role, share in out.items() if share >= MATTERS}

    def told(self) -> list[str]:
        """What speaks for each role, in words."""
        return [f"{role}: {', '.join(opinion.reasons[:4])}" for role, opinion in self.why.items()]


def give_roles(shapes: Sequence[Shape], us: Ints, known: Known) -> Roles:
    """Gives the columns of lines of traffic their keys."""
    roles = Roles(find_talk(shapes, us), shapes, known)
    for rows, wide in ((FIRST, None), (SECOND, "mode"), (THIRD, "target")):
        _settle(roles, rows)
        if wide is not None:
            _widen(roles, wide, rows)
    roles.take(roles.places)
    return roles


def _settle(roles: Roles, rows: tuple[Evidence, ...]) -> None:
    """The best place of each role, the surest first; a place has one role."""
    ranked: list[tuple[float, int, Opinion]] = []
    for number, place in enumerate(roles.talk.places):
        if place.total and not any(place is one for one in roles.places.values()):
            facts = Facts(place, roles.talk, roles.places)
            ranked += [(opinion.score, number, opinion) for opinion in opinions(facts, rows)]
    ranked.sort(key=lambda one: (-one[0], one[1]))
    for score, number, opinion in ranked:
        roles.ranked.setdefault(opinion.role, []).append((score, roles.talk.places[number]))
    taken: set[int] = set()
    for score, number, opinion in ranked:
        if opinion.role in roles.places or number in taken:
            continue
        if score >= 0:
            roles.places[opinion.role], roles.why[opinion.role] = roles.talk.places[number], opinion
            taken.add(number)
        else:
            roles.nearly.setdefault(opinion.role, opinion)


def _widen(roles: Roles, role: str, rows: tuple[Evidence, ...]) -> None:
    """What a role's place holds may be spelt otherwise where another mode is told, as words and as numbers: a place
    that never stands beside it, in lines that say the same, is one with it where the evidence for both together is
    more than for the one.
    """
    while (mine := roles.places.get(role)) is not None and mine.pooled.name is None:
        taken = list(roles.places.values())
        free = [place for place in roles.talk.places if place.total and not any(place is one for one in taken)]
        alike = [place for place in free if _sayings(place) <= _sayings(mine) and _spelt_as(role, place, mine)]
        wider = [(both, place) for place in alike if (both := joined(mine, place, roles.talk)) is not None]
        told = [(_opinion(roles, both, role, rows), both, place) for both, place in wider]
        best = max(told, key=lambda one: one[0].score, default=None)
        if best is None or best[0].score <= roles.why[role].score + WIDER:
            return
        roles.why[role], roles.places[role], other = best
        places = [place for place in roles.talk.places if place is not mine and place is not other]
        roles.talk.places = [*places, roles.places[role]]


def _spelt_as(role: str, place: Place, mine: Place) -> bool:
    """Whether values can be of a role as far as spelling tells: modes are spelt alike in one log, targets are not."""
    spellings = [value for value, _ in mine.filled]
    return role != "mode" or all(mode_behind_prefix([value], spellings) for value, _ in place.filled)


def _sayings(place: Place) -> set[tuple[str, ...]]:
    """What the lines of a place say in fixed words."""
    return {without_nobody(shape.words) for shape, _ in place.members}


def _opinion(roles: Roles, place: Place, role: str, rows: tuple[Evidence, ...]) -> Opinion:
    settled = {other: one for other, one in roles.places.items() if other != role}
    return next(one for one in opinions(Facts(place, roles.talk, settled), rows) if one.role == role)


def _by_itself(roles: Roles) -> None:
    """A column of another place that holds call signs, or names of modes, where its shape has none yet."""
    for shape in roles.talk.shapes:
        for column in shape.columns:
            if column.key != "_" or column.name is not None or not column.filled():
                continue
            n = sum(count for _, count in column.filled())
            for role, test in (("station", is_station), ("mode", trade.mode_of)):
                if (
                    shape.column(role) is None
                    and sum(count for value, count in column.filled() if test(value)) >= 0.8 * n
                ):
                    column.key = role


def _as_told(shape: Shape, known: Known) -> None:
    """What the keeper said of a shape's columns."""
    for place, key in known.holes.get(shape.name, {}).items():
        if place.isdigit() and 1 <= int(place) <= len(shape.columns):
            for other in shape.columns:
                other.key = "_" if other.key == key else other.key
            shape.columns[int(place) - 1].key, shape.columns[int(place) - 1].sure = key, True
