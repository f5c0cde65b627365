"""A reading of a log by evidence: pairs, cells and bracketed values as columns, roles given to places of the whole log."""

import re
from collections.abc import Sequence

from parsers.adopt import trade
from parsers.adopt.brackets import bracket_shapes
from parsers.adopt.eventfield import event_field
from parsers.adopt.evidence import ENDS, Facts, opinions
from parsers.adopt.meaning import fixed_meanings
from parsers.adopt.model import Column, Known, Sample, Shape
from parsers.adopt.pairs import pair_shapes
from parsers.adopt.places import Place, find_talk
from parsers.adopt.roles import Roles, give_roles
from parsers.adopt.shaping import stamped_out, text_shapes
from parsers.adopt.spelling import Words
from parsers.adopt.tables import table_shapes

NAMELESS = ("station", "target", "network", "ber_pct", "loss_pct", "rssi_dbm", "duration")  #: a host may write that there is none
CUT_LINES, COMMON_LINES = 2, 30
CAUSE_WORDS = r"\b(?:because(?: of)?|cause|reason|why|due to)[ =:]+(.+)$"
NETWORK_WORDS = 40  #: a link's name is no longer


def fresh_shapes(sample: Sample) -> list[Shape]:
    """The shapes of a sample: of a table its rows, of text its pairs, then what is left, brackets and quotes being one value."""
    rows = [row for row in range(len(sample.lines)) if (sample.records[row] if sample.is_table else sample.texts[row])]
    if sample.is_table:
        return table_shapes(sample, rows, _tells_apart)
    lines = stamped_out(sample, rows)
    shapes, left = pair_shapes(lines, rows)
    if not shapes:
        shapes, left = bracket_shapes(lines, rows)
    if left:
        shapes += text_shapes(sample, [rows[at] for at in left], [lines[at] for at in left], whole_brackets=True)
    return without_cut(sorted(shapes, key=lambda shape: -len(shape.rows)), sample)


def without_cut(shapes: Sequence[Shape], sample: Sample) -> list[Shape]:
    """The shapes without those of a line or two that begin as a common one does and are shorter: they were cut."""
    heads: list[tuple[str, int]] = []
    out = []
    for shape in shapes:
        texts = [sample.texts[row] or "" for row in shape.rows]
        if len(texts) > CUT_LINES:
            lengths = sorted(map(len, texts))
            if len(texts) >= COMMON_LINES:
                heads.append((_head(shape), lengths[len(lengths) // 20]))
        elif any(text.count("[") != text.count("]") or text.count('"') % 2 for text in texts) or any(
            len(head) > 3 and head in _masked(text) and len(text) < shortest for text in texts for head, shortest in heads
        ):
            continue
        out.append(shape)
    return out


def _head(shape: Shape) -> str:
    """What stands before a shape's first value, without numbers and stamp."""
    out = ""
    for part in shape.parts:
        if isinstance(part, str):
            out += part
        elif part >= 0 and not shape.columns[part].of_run:
            break
        elif part >= 0:
            out += "0"
        else:
            out = ""
    return _masked(out).strip()


def _masked(text: str) -> str:
    return re.sub(r"\d+", "0", text)


def _tells_apart(records: Sequence[dict[str, str]], names: Sequence[str], stamp: str | None) -> list[str]:
    told_by = event_field(records, names, stamp)
    return [told_by] if told_by else []


def give_fresh_meanings(shapes: Sequence[Shape], sample: Sample, known: Known) -> Roles:
    """Keys of columns, and what fixed words say of mode, slot and side where no place does."""
    roles = give_roles(shapes, sample.us, known)
    for shape in shapes:
        before = dict(shape.set)
        fixed_meanings(shape)
        told = {key for key in ("mode", "slot", "side") if key in roles.places and shape.columns and shape.columns[-1].name is not None}
        shape.set = {key: value for key, value in shape.set.items() if key in before or key not in told}
    return roles


def give_causes(shapes: Sequence[Shape], sample: Sample, known: Known) -> None:
    """Which place of the lines that end an over tells how it ended; which of a refusal tells why; which of a link's line names it."""
    ends = [shape for shape in shapes if shape.event in ("over-end", "over")]
    if ends:
        _give(ends, "cause", sample)
    for shape in ends:
        if shape.column("cause") is None and "cause" not in shape.set and (cause := _fixed_cause(shape)):
            shape.set["cause"] = cause
    _give([shape for shape in shapes if shape.event == "refused"], "reason", sample)
    for shape in shapes:
        if shape.event in ("link-up", "link-down") and shape.column("network") is None:
            _name_link(shape)


def _give(shapes: Sequence[Shape], role: str, sample: Sample) -> None:
    talk = find_talk(shapes, sample.us)
    settled = {}
    for key in ("mode", "duration", "side"):
        place = next((one for one in talk.places if any(column.key == key for _, column in one.members)), None)
        if place is not None:
            settled[key] = place
    best: tuple[float, Place | None] = (0.0, None)
    for place in talk.places:
        if place.total and all(column.key in ("_", "reason", "cause") for _, column in place.members):
            score = next((one.score for one in opinions(Facts(place, talk, settled), ENDS) if one.role == role), -1.0)
            best = max(best, (score, place), key=lambda one: one[0])
    if best[1] is not None:
        for shape, column in best[1].members:
            if shape.column(role) is None and any(shape is one for one in shapes):
                column.key = role


def _fixed_cause(shape: Shape) -> str | None:
    """The cause that the fixed words behind a length tell, where a word before them says that they do."""
    at = next(
        (i for i, part in enumerate(shape.parts) if isinstance(part, int) and part >= 0 and shape.columns[part].key == "duration"), None
    )
    for part in shape.parts[at + 1 :] if at is not None else ():
        found = re.search(CAUSE_WORDS, part) if isinstance(part, str) else None
        if found and (cause := trade.cause_of(found[1])):
            return cause
    return None


def _name_link(shape: Shape) -> None:
    """The column of a link's line that has a word and no other meaning is the link's name; where its words are fixed, the last of them is."""
    words = [column for column in shape.columns if column.key in ("_", "target", "side") and _names(column)]
    if words:
        called = [column for column in words if column.left and column.left[-1] in ("network", "of", "to", "with", "peer", "link")]
        (called or words)[-1].key = "network"
        return
    tail = shape.parts[-1] if shape.parts and isinstance(shape.parts[-1], str) else ""
    found = re.search(r"(?:\b(?:of|to|with|from|network|peer)[ =:]+|[\[\"])([A-Za-z][\w.-]*)[\]\"]?\s*$", tail)
    if found and not (trade.says(trade.UP_WORDS, found[1].lower()) or trade.says(trade.DOWN_WORDS, found[1].lower())):
        shape.set["network"] = found[1]


def _names(column: Column) -> bool:
    filled = column.filled()
    return bool(filled) and all(value[:1].isalpha() and len(value) <= NETWORK_WORDS and not trade.mode_of(value) for value, _ in filled)


def nameless(shapes: Sequence[Shape], words: Words) -> None:
    """Words by which the host says that there is no station or no target mean nothing."""
    for shape in shapes:
        for column in shape.columns:
            if column.key in NAMELESS and shape.event != "ignore":
                for value in column.counts:
                    if value and trade.nobody(value):
                        words.tables["seconds" if column.key == "duration" else column.key][value] = {}
