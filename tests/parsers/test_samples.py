"""A dialect's own samples find its mistakes."""

from pathlib import Path

import pytest

from parsers.samples import Problem, check_samples
from tests.parsers.helpers import dialect

SHAPES = """
[[line]]
event = "over-start"
text = "{t} RX {mode} open {station}"
set = { side = "air" }
[[line.sample]]
text = "2026-03-01T18:22:05Z RX DMR open QA1XYZ"
gives = { event = "over-start", mode = "dmr", side = "air", station = "QA1XYZ" }
[[line]]
event = "over-start"
text = "{t} WIRE {mode} open {station}"
[[line.sample]]
text = "2026-03-01T18:22:05Z WIRE DMR open QA1XYZ"
gives = { t = "2026-03-01T18:22:05Z", mode = "dmr", station = "QA1XYZ" }
[[line]]
event = "ignore"
text = "{t} hum {_}"
"""


def problems(folder: Path, shapes: str, head: str = "", rest: str = "") -> list[Problem]:
    return check_samples(dialect(folder, shapes, head, rest))


def test_right_samples_have_no_problem(tmp_path: Path) -> None:
    assert problems(tmp_path, SHAPES) == []


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('mode = "dmr", side', 'mode = "p25", side', 11, 'gives mode = "p25", but the line was read as mode = "dmr"'),
        (', side = "air", station', ", station", 11, 'gives side = nothing, but the line was read as side = "air"'),
        ('side = "air", station', 'side = "air", slot = 1, station', 11, "gives slot = 1, but the line was read as "
            "slot = nothing"),
        ("Z RX DMR", "Z RX BROLM", 11, "can't be read"),
        ("Z RX DMR", "Z TX DMR", 11, "isn't matched by its own line"),
        ('{t} RX {mode}', '{t} {network} {mode}', 17, "taken by the line at 6 above"),
        ('t = "2026-03-01T18:22:05Z"', 't = "2026-03-01T18:22:06Z"', 17, "gives t"),
        ('{ t = "2026-03-01T18:22:05Z", mode', '{ event = "over-end", mode', 17, 'gives event = "over-end"'),
        ('[[line.sample]]\ntext = "2026-03-01T18:22:05Z WIRE DMR open QA1XYZ"\ngives = { t = "2026-03-01T18:22:05Z", '
            'mode = "dmr", station = "QA1XYZ" }\n', "",
         13, "no sample"),
    ],
)  # fmt: skip
def test_a_wrong_sample_is_told_with_its_line(tmp_path: Path, old: str, new: str, line: int, says: str) -> None:
    assert SHAPES.count(old) == 1
    found = problems(tmp_path, SHAPES.replace(old, new))
    assert any(problem.line == line and says in problem.says and not problem.warning for problem in found), found


def test_a_sample_that_two_lines_match_is_a_warning(tmp_path: Path) -> None:
    found = problems(tmp_path, SHAPES.replace("{t} hum {_}", "{t} RX {_}"))
    assert [(problem.line, problem.warning) for problem in found] == [(11, True)] and "line at 19 matches" in found[
        0
    ].says


def test_an_ignored_line_may_have_samples_and_they_give_nothing(tmp_path: Path) -> None:
    sample = '[[line.sample]]\ntext = "2026-03-01T18:22:05Z hum on"\n'
    assert problems(tmp_path, SHAPES + sample) == []
    assert problems(tmp_path, SHAPES + sample + 'gives = { event = "ignore" }') == []
    assert "gives nothing" in problems(tmp_path, SHAPES + sample + "gives = { slot = 1 }")[0].says


def test_samples_of_csv_stand_under_the_header_of_the_dialect(tmp_path: Path) -> None:
    shapes = """
[fields]
"at" = "t"
[[line]]
event = "alive"
when = { kind = "x" }
[[line.sample]]
text = "10,x"
gives = { t = "1970-01-01T00:00:10Z" }
"""
    head = 'envelope = "csv"\ntime = "epoch"'
    assert problems(tmp_path, shapes, head + '\nheader = "at,kind"') == []
    assert "isn't matched" in problems(tmp_path, shapes, head + '\nheader = "kind,at"')[0].says
    assert "header" in problems(tmp_path, shapes, head)[0].says
    assert "lacks kind" in problems(tmp_path, shapes, head + '\nheader = "at"')[0].says
