"""Lines of csv against RFC 4180 (section 2, from memory) and Python's own csv reader."""

import csv

import polars as pl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from parsers.tables import header_rows, read_csv

HEADER = ("one", "two", "three")


def by_reader(line: str, separator: str) -> list[str] | None:
    """What csv makes of a line; None where it is none, or has not three cells."""
    try:
        (row,) = csv.reader([line], delimiter=separator, strict=True)
    except (csv.Error, ValueError):
        return None
    return [cell.strip() for cell in row] if len(row) == len(HEADER) else None


def ours(lines: list[str], separator: str) -> list[list[str] | None]:
    values, fits = read_csv(pl.Series(lines, dtype=pl.String), HEADER, HEADER, separator)
    return [list(row) if fit else None for row, fit in zip(values.iter_rows(), fits, strict=True)]


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ("aaa,bbb,ccc", ["aaa", "bbb", "ccc"]),  # rule 4
        ('"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"]),  # rule 5
        ('"aaa","b,bb","ccc"', ["aaa", "b,bb", "ccc"]),  # rule 6, but for line breaks: a log has one record a line
        ('"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),  # rule 7
        ('"aaa","bbb,ccc', None),
        ("aaa,bbb", None),
    ],
)
def test_the_examples_of_rfc_4180(line: str, cells: list[str] | None) -> None:
    assert ours([line], ",") == [cells]


cell = st.text(
    st.characters(
        codec="utf-8",
        exclude_characters="\r\n\0\x1c\x1d\x1e\x85\u2028\u2029\x0b\x0c",
        exclude_categories=["Cs", "Zs", "Cc"],
    ),
    max_size=6,
)


@given(
    st.lists(st.lists(cell, min_size=2, max_size=4), min_size=1, max_size=6),
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
)
@example([["", "", ""]], ",", False)
def test_rows_that_a_csv_writer_wrote_are_read_as_the_reader_reads_them(
    rows: list[list[str]], separator: str, all_quoted: bool
) -> None:
    class Lines(list[str]):
        def write(self, text: str) -> None:
            self.append(text)

    lines = Lines()
    csv.writer(
        lines, delimiter=separator, lineterminator="", quoting=csv.QUOTE_ALL if all_quoted else csv.QUOTE_MINIMAL
    ).writerows(rows)
    assert ours(lines, separator) == [by_reader(line, separator) for line in lines]


def test_the_header_is_the_line_that_holds_every_wanted_name() -> None:
    lines = pl.Series(["x,y", '"one",two,three', "one,two"])
    assert header_rows(lines, HEADER, ",") == [(1, HEADER)]
