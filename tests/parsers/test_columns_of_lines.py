"""Tables without a header line, columns that mean something else in one line, words where there is no value."""

from pathlib import Path

import pytest

from parsers.dialect import reader
from parsers.samples import check_samples
from shared.errors import DialectError
from tests.parsers.helpers import as_dicts, dialect, read

HEAD = 'envelope = "csv"\nseparator = "|"\nheader = "when|what|mode|who|how"\nheaded = false'
FIELDS = """
[fields]
when = "t"
mode = "mode"
who = "station"
how = "cause"
[words.station]
"nobody" = {}
[words.cause]
"let go" = "released"
"""
LINES = """
[[line]]
event = "over-end"
when = { what = "ends" }
[[line]]
event = "refused"
when = { what = "away" }
fields = { how = "reason" }
[[line]]
event = "link-down"
when = { what = "wire" }
fields = { who = "network" }
"""


def test_a_table_without_a_header_line_has_the_columns_that_the_dialect_names(tmp_path: Path) -> None:
    made = read(
        reader(dialect(tmp_path, LINES, HEAD, FIELDS)),
        "2026-06-01T10:00:00Z | ends | FM | nobody | let go",
        "2026-06-01T10:00:00Z | ends",
    )
    assert as_dicts(made.events) == [
        {"line": 0, "t": 1780308000000000, "event": "over-end", "mode": "fm", "cause": "released"}
    ]
    assert made.verdicts.tolist()[1] != made.verdicts.tolist()[0]


def test_a_column_means_in_a_line_what_its_own_fields_say(tmp_path: Path) -> None:
    made = read(
        reader(dialect(tmp_path, LINES, HEAD, FIELDS)),
        "2026-06-01T10:00:00Z|away|FM|QA1XYZ|busy",
        "2026-06-01T10:00:01Z|wire||moorland|",
        "2026-06-01T10:00:02Z|ends|FM|QA1XYZ|lost",
    )
    said = [{key: value for key, value in row.items() if key not in ("line", "t")} for row in as_dicts(made.events)]
    assert said == [
        {"event": "refused", "mode": "fm", "station": "QA1XYZ", "reason": "busy"},
        {"event": "link-down", "network": "moorland"},
        {"event": "over-end", "mode": "fm", "station": "QA1XYZ", "cause": "lost"},
    ]


def test_a_word_in_place_of_a_number_is_no_number_and_breaks_no_line(tmp_path: Path) -> None:
    lines = "[[line]]\nevent = 'over-end'\ntext = '{t} {mode} end {duration} loss {loss_pct} to {target}'"
    made = read(
        reader(dialect(tmp_path, lines, "", '[words.loss_pct]\n"-" = {}\n[words.target]\n"?" = {}\n"G1" = "99901"')),
        "2026-06-01T10:00:00Z dmr end 8.3 seconds loss - to ?",
        "2026-06-01T10:00:00Z dmr end 8.3s loss 0.4 to G1",
    )
    rows = as_dicts(made.events)
    assert "loss_pct" not in rows[0] and "target" not in rows[0] and rows[0]["seconds"] == 8.3
    assert rows[1]["loss_pct"] == 0.4 and rows[1]["target"] == "99901"


@pytest.mark.parametrize(
    ("head", "lines", "says"),
    [
        ('envelope = "csv"\nheaded = false', LINES, "needs header"),
        ("headed = false", LINES, "is for the csv envelope"),
        (
            "",
            "[[line]]\nevent = 'alive'\ntext = '{t} x'\nfields = { how = 'cause' }",
            "fields are for the csv and json envelopes",
        ),
        (HEAD, LINES.replace('"reason"', '"pudding"'), "is no key of ours"),
    ],
)
def test_what_can_not_hold_together_is_refused(tmp_path: Path, head: str, lines: str, says: str) -> None:
    with pytest.raises(DialectError, match=says):
        dialect(tmp_path, lines, head, FIELDS if "csv" in head else "")


def test_samples_of_a_table_without_a_header_line_are_run(tmp_path: Path) -> None:
    sample = """
[[line.sample]]
text = "2026-06-01T10:00:00Z|ends|FM|QA1XYZ|lost"
gives = { event = "over-end", mode = "fm", station = "QA1XYZ", cause = "lost" }
"""
    lines = LINES.split("[[line]]")[1]
    assert check_samples(dialect(tmp_path, "[[line]]" + lines + sample, HEAD, FIELDS)) == []
