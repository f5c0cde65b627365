"""Templates against a slow twin that tries every way to share a line out among the holes, shortest first."""

import re
from functools import lru_cache
from pathlib import Path

import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from parsers.dialect import reader
from parsers.shapes import Shape, compile_pattern, compile_template, matches
from parsers.time_forms import time_form
from tests.parsers.helpers import dialect, read

ISO = time_form("iso")


def twin(template: str, line: str) -> dict[str, str] | None:
    """The values of a template's holes, trimmed; None where it doesn't match. Tries every length of every hole."""
    parts: list[tuple[str, str]] = []
    for piece in re.split(r"(\{[a-z_]+\})", template.strip(" \t")):
        if piece.startswith("{"):
            parts.append(("hole", piece[1:-1]))
        else:
            parts += [("text" if run.strip(" \t") else "blank", run) for run in re.findall(r"[ \t]+|[^ \t]+", piece)]
    ends_in_hole = len(parts) > 1 and parts[-1][0] == "hole" and parts[-2][0] == "blank"

    @lru_cache(None)
    def go(p: int, at: int) -> tuple[tuple[str, str], ...] | None:
        if p == len(parts):
            return () if at == len(line) else None
        kind, what = parts[p]
        if kind == "text":
            return go(p + 1, at + len(what)) if line.startswith(what, at) else None
        if kind == "blank":
            end = at
            while end < len(line) and line[end] in " \t":
                end += 1
            for to in range(end, at, -1):
                if (rest := go(p + 1, to)) is not None:
                    return rest
            return ((parts[-1][1], ""),) if ends_in_hole and p == len(parts) - 2 and at == len(line) else None
        ends = [len(line)] if p == len(parts) - 1 else range(at, len(line) + 1)
        for end in ends:
            if (rest := go(p + 1, end)) is not None:
                return ((what, line[at:end]), *rest)
        return None

    found = go(0, 0)
    return None if found is None else {name: value.strip(" \t") for name, value in found if name != "_"}


def ours(shape: Shape, line: str) -> dict[str, str] | None:
    caught, left = matches(shape, pl.DataFrame({"row": pl.Series([0], dtype=pl.UInt32), "text": [line]}))
    assert len(caught) + len(left) == 1
    return {name: (caught[name][0] or "").strip(" \t") for name in shape.holes} if len(caught) else None


NAMES = ("station", "target", "mode", "network", "cause")
LITERAL = st.text(alphabet="ab >.(]^-&~é|\\ \t\u00a0", min_size=1, max_size=4)


@st.composite
def templates(draw: st.DrawFn) -> str:
    names = draw(st.permutations(NAMES))[: draw(st.integers(0, 4))]
    names = [draw(st.sampled_from([name, "_"])) for name in names]
    out = draw(st.one_of(st.just(""), LITERAL))
    for i, name in enumerate(names):
        after = draw(LITERAL) if i < len(names) - 1 else draw(st.one_of(st.just(""), LITERAL))
        out += "{" + name + "}" + after
    return out


@settings(max_examples=300, deadline=None)
@given(templates(), st.data())
@example("a {station} b {target}", None)
def test_a_template_matches_as_the_slow_twin_does(template: str, data: st.DataObject | None) -> None:
    try:
        shape = compile_template(template, ISO, "alive")
    except ValueError:
        return  # nothing but blanks
    lines = ["a x  b", "a  b y", "a x b y b z", "a\tx\t b b", "a \tx b y"]
    if data is not None:
        value = st.text(alphabet="ab >.é \t\u00a0", max_size=4)
        lines = [
            re.sub(r"\{[a-z_]+\}", lambda _: data.draw(value), template),
            data.draw(st.text(alphabet="ab >.(]^-&~é|\\ \t", max_size=12)),
        ]
    for line in lines:
        line = line.strip(" \t")
        wanted = twin(template, line)
        got = ours(shape, line)
        # A name that doesn't stand in the template is not asked for; one cut short at the line's end is empty.
        assert got == wanted, (template, line)


def test_two_blanks_in_a_row_are_one_run_and_not_an_empty_value_between_two() -> None:
    shape = compile_template("{station}> {target} {mode}", ISO, "alive")
    assert ours(shape, ">  >") == {"station": "", "target": ">", "mode": ""}


@pytest.mark.parametrize("mark", ["\u00a0", "\u3000", "\u2009", "\x0b", "\x0c", "\x1f", "\x85"])
def test_a_hole_ends_at_the_first_of_a_mark_that_only_unicode_calls_a_blank(mark: str) -> None:
    shape = compile_template(f"R {{station}}{mark}{{target}}", ISO, "alive")
    assert ours(shape, f"R QA1XYZ{mark}a{mark}b") == {"station": "QA1XYZ", "target": f"a{mark}b"}


def test_a_hole_runs_to_the_next_literal_text_and_the_last_takes_the_rest() -> None:
    shape = compile_template("{t} RX {mode} open {station} > {target}", ISO, "over-start")
    line = "2026-03-01 18:22:05Z  RX\tDMR wide open QA1XYZ  mobile > 99901 > and more"
    assert ours(shape, line) == {
        "t": "2026-03-01 18:22:05Z",
        "mode": "DMR wide",
        "station": "QA1XYZ  mobile",
        "target": "99901 > and more",
    }


@pytest.mark.parametrize(
    ("time", "template", "line", "t"),
    [
        ("syslog", "{t} {station} up", "Oct  1 22:14:15 QA1XYZ up", "Oct  1 22:14:15"),
        ("%d.%m.%Y %H:%M", "[{t}] {station} up", "[1.3.2026 18:22] QA1XYZ up", "1.3.2026 18:22"),
        ("iso", "{t}: {station} up", "2026-03-01T18:22:05Z: QA1XYZ up", "2026-03-01T18:22:05Z"),
        ("epoch", "{t},{station} up", "1772389325,QA1XYZ up", "1772389325"),
        ("iso", "{station} up at {t}", "QA1XYZ up at 2026-03-01 18:22:05", "2026-03-01 18:22:05"),
    ],
)
def test_the_stamp_is_as_many_words_as_its_form_has(time: str, template: str, line: str, t: str) -> None:
    assert ours(compile_template(template, time_form(time), "alive"), line) == {"t": t, "station": "QA1XYZ"}


@pytest.mark.parametrize(
    "pattern",
    [
        r"(?P<station>\w+)(?=x)",
        r"(?P<station>a)\1",
        r"(?P<station>",
        r"(?P<nobody>a)",
        r"(a{500}){500}",
        r"(?P<station>a)(?P<station>b)",
        r"(?<!a)b",
    ],
)
def test_a_pattern_that_is_not_linear_or_not_known_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError):
        compile_pattern(pattern, "alive")


@pytest.mark.parametrize(
    "template",
    ["{station}{target}", "{nobody} x", "{station} {station}", "{station", "{} x", "", "  ", "{seconds} {duration}"],
)
def test_a_template_that_cannot_be_meant_is_refused(template: str) -> None:
    with pytest.raises(ValueError):
        compile_template(template, ISO, "alive")


def test_the_first_line_that_matches_wins_even_if_its_values_are_wrong(tmp_path: Path) -> None:
    shapes = """
[[line]]
event = "over-start"
text = "{t} slot {slot} {_}"
[[line]]
event = "alive"
text = "{t} {_}"
"""
    reading = read(
        reader(dialect(tmp_path, shapes)),
        *(f"2026-03-01T18:22:05Z {rest}" for rest in ("slot 1 x", "slot 3 x", "hum", "slot 2")),
    )
    assert list(reading.verdicts) == [0, 2, 0, 0]
    assert reading.events["event"].to_list() == ["over-start", "alive", "over-start"]
    assert reading.events["slot"].to_list() == [1, None, 2]


def test_a_pattern_may_match_anywhere_and_its_other_groups_are_left(tmp_path: Path) -> None:
    shapes = (
        "[[line]]\nevent = 'refused'\npattern = '^(?P<t>\\S+) .*no (?P<_why>entry|room) for (?P<station>[A-Z0-9]+)("
        " maybe)?'"
    )
    reading = read(reader(dialect(tmp_path, shapes)), "2026-03-01T18:22:05Z oh no room for QA1XYZ today")
    assert reading.events["station"].to_list() == ["QA1XYZ"]
