"""Lines into shapes: which lines say the same thing, and what varies in them.

Lines of one skeleton (the same marks, and a word or value at the same places) come together when at least half of
their words are the same; of a
place where a group has many words, or any value, a hole is made. Words that alone tell two sorts of line apart
split a group again later,
where what the columns mean is known. The idea of fixed depth and a similarity of words is that of Drain (He, Zhu,
Zheng, Lyu: "Drain: An Online
Log Parsing Approach with Fixed Depth Tree", ICWS 2017); the code is not.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from parsers.adopt.tokens import BLANK, MARK, STAMP, VALUE, kind

ALIKE = 0.55  #: share of the words that two lines of one shape have in common
MANY_WORDS = 4  #: so many lines that differ in one word only are one shape
Masked = tuple[str | None, ...]


@dataclass
class Group:
    """Lines of one shape. Every line has the same number of tokens; `fixed` holds the text of those that never vary,
    None for a hole.
    """

    rows: list[int]  #: which lines
    fixed: list[str | None]
    counts: Counter[Masked] = field(default_factory=Counter)


def skeleton(pieces: Sequence[str]) -> tuple[str, ...]:
    """Marks as they stand, blanks as one, `v` for anything else."""
    out = []
    for piece in pieces:
        sort = kind(piece)
        out.append(" " if sort == BLANK else piece if sort == MARK or piece == STAMP else "v")
    return tuple(out)


def group_lines(lines: Sequence[Sequence[str]], is_known: Callable[[str], bool] = lambda _word: False) -> list[Group]:
    """Groups of tokenised lines, the largest first. Words that are `is_known` (modes, sides) vary by nature and tell
    no shapes apart.
    """
    by_skeleton: dict[tuple[str, ...], dict[Masked, list[int]]] = defaultdict(lambda: defaultdict(list))
    known: dict[str, bool] = {}
    sorts: dict[str, str | None] = {}
    for row, pieces in enumerate(lines):
        masked: list[str | None] = []
        for piece in pieces:
            if piece not in sorts:
                sort = kind(piece)
                known[piece] = sort not in (BLANK, MARK) and is_known(piece)
                sorts[piece] = None if sort == VALUE or known[piece] else " " if sort == BLANK else piece
            masked.append(sorts[piece])
        by_skeleton[skeleton(pieces)][tuple(masked)].append(row)
    groups: list[Group] = []
    for shape, members in by_skeleton.items():
        places = [i for i, sort in enumerate(shape) if sort == "v"]
        groups += _cluster(members, places)
    for group in groups:
        group.rows.sort()
        _fix(group, lines)
    return sorted(groups, key=lambda group: (-len(group.rows), group.rows[0]))


def _cluster(members: dict[Masked, list[int]], places: list[int]) -> list[Group]:
    """Masked lines of one skeleton into groups."""
    wild = _wild_places(members, places)
    merged: dict[Masked, list[int]] = defaultdict(list)
    for masked, rows in members.items():
        merged[tuple(None if i in wild.get(masked, ()) else part for i, part in enumerate(masked))] += rows
    groups: list[Group] = []
    for masked, rows in sorted(merged.items(), key=lambda item: -len(item[1])):
        best, best_alike = None, 0.0
        for group in groups[:200]:
            alike = _alike(group.fixed, masked, places)
            if alike > best_alike:
                best, best_alike = group, alike
        if best is None or best_alike < ALIKE:
            groups.append(Group(list(rows), list(masked), Counter({masked: len(rows)})))
            continue
        best.rows += rows
        best.counts[masked] += len(rows)
        best.fixed = [mine if mine == theirs else None for mine, theirs in zip(best.fixed, masked, strict=True)]
    return groups


def _wild_places(members: dict[Masked, list[int]], places: list[int]) -> dict[Masked, set[int]]:
    """For each masked line the places at which many others that are the same everywhere else have other words."""
    wild: dict[Masked, set[int]] = defaultdict(set)
    for place in places:
        others: dict[Masked, list[Masked]] = defaultdict(list)
        for masked in members:
            if masked[place] is not None:
                others[(*masked[:place], None, *masked[place + 1 :])].append(masked)
        for alike in others.values():
            if len(alike) >= MANY_WORDS:
                for masked in alike:
                    wild[masked].add(place)
    return wild


def _alike(fixed: Sequence[str | None], masked: Masked, places: Sequence[int]) -> float:
    """Share of the words that are the same; a hole on one side is half a word. 0 where the first words differ."""
    same, of = 0.0, 0.0
    first = True
    for place in places:
        mine, theirs = fixed[place], masked[place]
        if mine is None and theirs is None:
            continue
        if first and mine is not None and theirs is not None and mine != theirs and mine != STAMP:
            of += 0.5  # a line's first word weighs more
        if mine is not None and theirs is not None:
            first = False
            of += 1
            same += mine == theirs
        else:
            of += 0.5
    return same / of if of else 1.0


def _fix(group: Group, lines: Sequence[Sequence[str]]) -> None:
    """Settles which tokens never vary, values too, but numbers: a process id is the same until the host restarts."""
    sample = [lines[row] for row in group.rows]
    for place, text in enumerate(group.fixed):
        seen = {pieces[place] for pieces in sample[:50]} if text is None else set()
        if len(seen) != 1 or len({pieces[place] for pieces in sample}) != 1:
            continue
        piece = sample[0][place]
        if kind(piece) != VALUE or (len(sample) >= 20 and not piece.isdigit()):
            group.fixed[place] = piece
