"""The PDF for people who don't see it, and for archives: tags, title, language, alternative texts, fonts, bookmarks;
and its bytes.

PDF/UA-1 is ISO 14289-1:2014; what it asks for is from memory. typst checks it too while it sets (it refuses a figure
without alternative text); these tests look at the file itself with pikepdf."""

import os
import subprocess
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from server.report.month import Month
from server.report.pdf import TEMPLATE, pdf_of

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def opened(october_pdf: bytes) -> Iterator[pikepdf.Pdf]:
    with pikepdf.open(BytesIO(october_pdf)) as pdf:
        yield pdf


def elements(node: Any) -> Iterator[Any]:
    """Every structure element below a node."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


def test_it_is_tagged_and_says_so(opened: pikepdf.Pdf) -> None:
    assert opened.Root.MarkInfo.Marked
    kinds = {str(element.S) for element in elements(opened.Root.StructTreeRoot)}
    assert {"/H1", "/P", "/Table", "/TR", "/TH", "/TD", "/Figure", "/L", "/LI"} <= kinds


def test_it_declares_pdf_ua_1_and_has_title_and_language(opened: pikepdf.Pdf) -> None:
    with opened.open_metadata() as metadata:
        assert metadata["pdfuaid:part"] == "1"
        assert metadata["dc:title"] == "October 2026: use of the repeater QB0BFR Brackenfell"
    assert str(opened.Root.Lang) == "en-GB"
    assert opened.Root.ViewerPreferences.DisplayDocTitle


def test_every_chart_has_an_alternative_text_that_tells_its_numbers(opened: pikepdf.Pdf, october: Month) -> None:
    figures = [element for element in elements(opened.Root.StructTreeRoot) if str(element.S) == "/Figure"]
    texts = [str(figure.Alt) for figure in figures]
    modes = sum(1 for mode in october.changes if mode)
    assert len(texts) == 2 + modes  # the map, the channel's trend, and each mode's
    assert all(len(text) > 60 for text in texts)
    assert any("in each of thirteen months" in text and "Oct 2026" in text for text in texts)
    assert any("Mean minutes in an hour" in text for text in texts)


def test_every_table_has_header_cells(opened: pikepdf.Pdf) -> None:
    for table in (element for element in elements(opened.Root.StructTreeRoot) if str(element.S) == "/Table"):
        assert any(str(element.S) == "/TH" for element in elements(table))


def test_bookmarks_lead_to_the_parts(opened: pikepdf.Pdf) -> None:
    with opened.open_outline() as outline:
        titles = [item.title for item in outline.root]
    assert (
        titles[0] == "What stands out"
        and "Duty of the transmitter" in titles
        and "Every figure, for whoever checks" in titles
    )


def test_every_font_is_embedded(opened: pikepdf.Pdf) -> None:
    found = 0
    for entry in opened.objects:
        if isinstance(entry, pikepdf.Dictionary) and entry.get("/Type") == "/FontDescriptor":
            assert any(name in entry for name in ("/FontFile", "/FontFile2", "/FontFile3"))
            found += 1
    assert found >= 2


def test_nothing_in_it_acts_and_nothing_is_a_picture_of_text(opened: pikepdf.Pdf) -> None:
    for entry in opened.objects:
        if isinstance(entry, pikepdf.Dictionary | pikepdf.Stream):
            assert entry.get("/S") not in ("/JavaScript", "/Launch", "/URI") and "/JS" not in entry
            assert entry.get("/Subtype") != "/Image"


def test_the_same_month_gives_the_same_bytes_in_another_process(
    october_folder: Path, october_pdf: bytes, tmp_path: Path
) -> None:
    command = [
        sys.executable,
        "-m",
        "server.cli",
        "report",
        "--month",
        "2026-10",
        "--station",
        str(october_folder / "station.toml"),
        "-o",
    ]
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    subprocess.run([*command, str(first)], cwd=ROOT, check=True, capture_output=True)
    subprocess.run(
        [*command, str(second)], cwd=ROOT, check=True, capture_output=True, env={**os.environ, "TZ": "Asia/Tokyo"}
    )
    assert first.read_bytes() == second.read_bytes() == october_pdf


def test_its_date_is_the_end_of_the_month(opened: pikepdf.Pdf) -> None:
    assert str(opened.docinfo.CreationDate).startswith("D:20261101000000")


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`; WCAG 2.2, definition of relative luminance, from memory."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_stands_out_from_its_ground_in_colour_and_so_in_grey() -> None:
    # Contrast 4.5:1, WCAG 2.2 success criterion 1.4.3 (from memory); it goes by luminance alone, so what passes
    # survives a black-and-white printer.
    template = TEMPLATE.with_name("parts.typ").read_text()
    colours = {
        line.split()[1]: line.split('"')[1]
        for line in template.splitlines()
        if line.startswith("#let") and 'rgb("' in line
    }
    for text in ("ink", "soft", "moss"):
        for ground in ("#ffffff", colours["strip"], colours["warm"]):
            darker, lighter = sorted((luminance(colours[text]), luminance(ground)))
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (text, ground)


def test_the_bytes_of_another_month_differ(october_source: Any, october_pdf: bytes) -> None:
    assert pdf_of(october_source.month("2026-09")) != october_pdf
