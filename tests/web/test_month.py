"""The Month page and its PDF over the web."""

import html
import re
from html import unescape
from io import BytesIO

import pytest
from pypdf import PdfReader

from server.report.month import month_after
from server.report.sheet import sheet_of
from server.telling.sentences import text_of
from server.web.definitions import ANCHORS
from server.web.month.view import first_shown
from shared.zones import instant
from tests.web.conftest import Opened
from tests.web.web_fakes import FakeSource, empty_source, hostile_source

MONTH = "/month/2026-10"


def shown(text: str) -> str:
    """What a page says, without its marks, blanks made one."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", text)))


def test_the_page_says_what_the_sheet_of_the_month_says(open_pages: Opened) -> None:
    source = FakeSource()
    sheet = sheet_of(source.month("2026-10"))
    page = re.sub(r" ?([.,;:’)]) ?", r"\1", shown(open_pages(source).get(MONTH).text))
    for sentence in [sheet.headline, *sheet.findings, *sheet.advice]:
        said = re.sub(r" ?([.,;:’)]) ?", r"\1", re.sub(r"\s+", " ", "".join(piece.text for piece in sentence)))
        assert said in page
    for table in (
        sheet.modes,
        sheet.shut_outs,
        sheet.risks,
        sheet.timeouts,
        sheet.wide,
        sheet.links,
        sheet.duty,
        sheet.incidents,
    ):
        for row in table.rows:
            for cell in row.cells:
                assert re.sub(r" ?([.,;:’)]) ?", r"\1", re.sub(r"\s+", " ", cell)) in page, cell


def test_the_pdf_of_the_page_is_the_committees_report_of_the_same_month(open_pages: Opened) -> None:
    answer = open_pages().get(f"{MONTH}.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'attachment; filename="QB0BFR-2026-10.pdf"'
    reader = PdfReader(BytesIO(answer.content))
    assert "October 2026" in reader.metadata.title  # type: ignore[union-attr,operator]
    assert "6,971" in reader.pages[0].extract_text()  # the overs of the fake month


def test_the_paper_is_the_one_that_the_station_file_names(open_pages: Opened) -> None:
    # A4 is 210 by 297 mm (ISO 216), US letter 8.5 by 11 inches (ANSI/ASME Y14.1), from memory; a point is 1/72 inch.
    for paper, width, height in (("a4", 210 / 25.4 * 72, 297 / 25.4 * 72), ("letter", 612, 792)):
        box = PdfReader(BytesIO(open_pages(paper=paper).get(f"{MONTH}.pdf").content)).pages[0].mediabox
        assert float(box.width) == pytest.approx(width, abs=0.5) and float(box.height) == pytest.approx(height, abs=0.5)


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/month/2026-13", 400),
        ("/month/x", 400),
        ("/month/2026-1", 400),
        ("/month/２０２６-10", 400),
        ("/month/2027-01", 404),
        ("/month/1901-01", 404),
        ("/month/2026-13.pdf", 400),
        ("/month/2027-01.pdf", 404),
    ],
)
def test_a_month_that_is_none_or_has_not_begun_gets_a_plain_answer(open_pages: Opened, path: str, status: int) -> None:
    answer = open_pages().get(path)
    assert answer.status_code == status and "Traceback" not in answer.text


def test_the_front_of_the_months_is_the_last_whole_one_with_data() -> None:
    assert first_shown(FakeSource()) == "2026-10"
    assert first_shown(empty_source()) == "2026-10"
    zone = FakeSource().place.zone
    just_begun = FakeSource(span=(instant("2026-11-03", zone), instant("2026-11-24", zone)))
    assert first_shown(just_begun) == "2026-11"


def test_months_follow_each_other_over_a_new_year() -> None:
    assert month_after("2026-12") == "2027-01" and month_after("2026-09") == "2026-10"


def test_a_month_of_which_nothing_is_known_says_so_and_nothing_more(open_pages: Opened) -> None:
    page = shown(open_pages(empty_source()).get(MONTH).text)
    assert "Nothing is known of October 2026" in page and "Duty of the transmitter" not in page


def test_hostile_names_are_text_on_the_page(open_pages: Opened) -> None:
    page = open_pages(hostile_source()).get(MONTH).text
    assert "<script" not in page and "<img" not in page


def test_duty_never_stands_without_the_caution(open_pages: Opened) -> None:
    page = open_pages().get(MONTH).text
    recommendations = page[page.index('id="recommendations"') : page.index('id="completeness"')]
    assert "keyed" in recommendations and "no safety device" in recommendations
    assert "no safety device" in page[page.index('id="duty"') : page.index('id="incidents"')]


def test_a_shown_sentence_keeps_its_words_and_its_figures_are_linked(open_pages: Opened) -> None:
    headline = sheet_of(FakeSource().month("2026-10")).headline
    page = open_pages().get(MONTH).text
    shown = re.search(r'<p class="headline">(.*?)</p>', page, re.DOTALL)
    assert shown is not None
    assert html.unescape(re.sub(r"<[^>]+>", "", shown[1])) == text_of(headline)
    for part in headline:
        if part.figure:
            assert f'/definitions#{ANCHORS[part.figure]}">{html.escape(part.text)}</a>' in shown[1]


def test_a_month_without_a_log_offers_no_pdf_and_its_address_says_why(open_pages: Opened) -> None:
    client = open_pages(empty_source())
    assert "The same as a PDF" not in client.get("/month/2026-10").text
    answer = client.get("/month/2026-10.pdf")
    assert answer.status_code == 404 and "no log tells of this month, so that there is nothing to report" in answer.text
