"""What the shapes of some lines mean: one way for learning, for lines that turn up later and for the pages."""

from collections.abc import Sequence
from dataclasses import dataclass

from parsers.adopt.causes import give_causes
from parsers.adopt.model import TALK, Known, Sample, Shape
from parsers.adopt.naming import fixed_meanings, fixed_words, mode_behind_prefix
from parsers.adopt.overs import Told, tell_events
from parsers.adopt.roles import Roles, give_roles
from parsers.adopt.sides import Sides, give_sides
from parsers.adopt.uses import drop_unfit
from parsers.adopt.words import Words, settle_words


@dataclass(frozen=True)
class Understood:
    """Shapes with events, keys and constants; and what was settled of the whole log."""

    shapes: Sequence[Shape]
    roles: Roles
    told: Told
    sides: Sides | None  #: where marks in fixed text tell the side
    words: Words


def understand(shapes: Sequence[Shape], sample: Sample, known: Known) -> Understood:
    """Gives the shapes their meaning."""
    roles = give_roles(shapes, sample.us, known)
    for shape in shapes:
        _fixed(shape, roles)
    told = tell_events(shapes, sample.us, roles, known)
    _without_common_side(shapes)
    sides = give_sides(shapes, known)
    give_causes(shapes, sample.us, known)
    words = settle_words(shapes, known)
    drop_unfit(shapes, sample)
    return Understood(shapes, roles, told, sides, words)


def _fixed(shape: Shape, roles: Roles) -> None:
    """What fixed words say of mode, slot and side; of lines whose columns have names, only where no column of the log
    has that.
    """
    before = dict(shape.set)
    fixed_meanings(shape)
    if "mode" in roles.places and shape.column("mode") is None and "mode" not in shape.set:
        spellings = [value for value, _ in roles.places["mode"].filled]
        shape.set |= mode_behind_prefix(fixed_words(shape), spellings)
    named = bool(shape.columns) and shape.columns[-1].name is not None
    told = {key for key in ("mode", "slot", "side") if named and key in roles.places}
    shape.set = {key: value for key, value in shape.set.items() if key in before or key not in told}


def _without_common_side(shapes: Sequence[Shape]) -> None:
    """Takes away a side that the fixed words of all lines of overs have in common: such a word tells of something
    else.
    """
    voice = [shape for shape in shapes if shape.event in TALK]
    told = any(shape.column("side") is not None for shape in voice)
    if not told and len({shape.set.get("side") for shape in voice}) == 1:
        for shape in shapes:
            shape.set.pop("side", None)
