"""Months of every kind set cleanly: two to four pages, all text inside the margins, nothing lost."""

import datetime as dt
import shutil
import unicodedata
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
import typst

from server.report.month import Month
from server.report.pdf import TEMPLATE, Paper, pdf_of
from server.report.privacy import _SETTABLE, settable
from server.report.sheet import sheet_of
from server.source import StoreSource
from shared.events import MODES
from shared.zones import DAY, HOUR, SECOND
from tests.report.worlds import Line, alive, crowd, london, over, sorted_by_time, world

MARGIN_MM = 14.0


def text_of_pdf(pdf: bytes, paper: Paper = "a4", most: int = 4) -> str:
    """All text, after checking margins, and that there are `most` pages at the most."""
    # points; ISO 216 and ANSI/ASME Y14.1, from memory
    wide, high = (595.28, 841.89) if paper == "a4" else (612.0, 792.0)
    pages = []
    with pdfplumber.open(BytesIO(pdf)) as opened:
        assert 1 <= len(opened.pages) <= most
        for page in opened.pages:
            assert (float(page.width), float(page.height)) == pytest.approx((wide, high), abs=0.5)
            margin = MARGIN_MM / 25.4 * 72
            for char in page.chars:
                assert char["x0"] >= margin and char["x1"] <= wide - margin, char["text"]
                assert char["bottom"] <= high - 20
            pages.append(page.extract_text())
    return " ".join("\n".join(pages).split())  # no-break spaces are blanks here


def set_cleanly(source: StoreSource, name: str) -> tuple[Month, str]:
    """The month and the text of its PDF, set on both papers."""
    month = source.month(name)
    text_of_pdf(pdf_of(month, "letter"), "letter")
    return month, text_of_pdf(pdf_of(month, "a4"))


def evening(day: int, mode: str, count: int = 20, month: str = "2026-10") -> list[Line]:
    """A talk of two stations on one evening."""
    start = london(f"{month}-{day:02d}T19:00")
    return [over(start + n * 25 * SECOND, 20.0, mode, f"QA{1 + n % 2}XYZ", target="99901") for n in range(count)]


def test_a_month_without_data_says_so(tmp_path: Path) -> None:
    month, text = set_cleanly(world(tmp_path, evening(1, "dmr", month="2026-12")), "2026-10")
    assert "Nothing is known of October 2026" in text and "Recommendations" in text and "Too little is known" in text
    assert month.completeness.seen == 0


def test_a_store_without_any_line_says_so(tmp_path: Path) -> None:
    _, text = set_cleanly(world(tmp_path, []), "2026-10")
    assert "Nothing is known of October 2026" in text


def test_a_month_in_which_nobody_spoke_is_not_a_month_without_data(tmp_path: Path) -> None:
    _, text = set_cleanly(world(tmp_path, alive(london("2026-10-01"), london("2026-11-02"))), "2026-10")
    assert "Nothing was on the air in October 2026" in text and "The whole month was seen" in text


def test_one_day_of_data_gives_no_advice_and_says_how_little_was_seen(tmp_path: Path) -> None:
    lines = sorted_by_time(evening(14, "dmr", 400), alive(london("2026-10-14"), london("2026-10-15")))
    month, text = set_cleanly(world(tmp_path, lines), "2026-10")
    assert month.completeness.seen == pytest.approx(1 / 31, abs=0.005)
    assert "Too little is known of the month to recommend anything" in text
    assert "3.2 % of the month was seen" in text and "9.3 % of the 24 h that were seen" in text


def test_where_the_log_covers_a_part_only_the_share_is_of_that_part(tmp_path: Path) -> None:
    # 400 s an evening hour over one day of a month of 745 h (IANA: the clocks go back in October); no quiet time is
    # set.
    lines = sorted_by_time(evening(14, "dmr", 400), alive(london("2026-10-14"), london("2026-10-15")))
    month, text = set_cleanly(world(tmp_path, lines, quiet_log_s=None), "2026-10")
    assert month.figures.window.blind_s == pytest.approx(744.2 * 3600 - 23 * 3600 + 3000, abs=3600)
    assert "of the 24 h that were seen" in text and "mean of 1 day" in text


@pytest.mark.parametrize(("name", "hours", "gone"), [("2026-10", 745, 0), ("2026-03", 743, 1)])
def test_a_clock_change_in_the_month_counts_every_hour_once(tmp_path: Path, name: str, hours: int, gone: int) -> None:
    # Europe/London: forward 2026-03-29 01:00 UTC, back 2026-10-25 01:00 UTC (IANA tz database). One over of 6 minutes
    # in each UTC hour.
    start, end = london(f"{name}-01"), london(f"{name}-01") + hours * HOUR
    lines = sorted_by_time(
        [over(at + 60 * SECOND, 360.0, "m17", "QA1XYZ") for at in range(start, end, HOUR)], alive(start, end + DAY)
    )
    month, _ = set_cleanly(world(tmp_path, lines), name)
    assert month.figures.channel.airtime_s == hours * 360
    cells = [cell for row in month.hours for cell in row]
    assert sum(cell for cell in cells if cell is not None) == pytest.approx(hours * 360)
    assert cells.count(None) == gone
    assert cells.count(720.0) == (1 if hours == 745 else 0)  # the hour that comes twice holds both


def test_an_outage_in_the_middle_is_hatched_and_told(tmp_path: Path) -> None:
    gap = (london("2026-10-10"), london("2026-10-15"))
    living = [*alive(london("2026-10-01"), gap[0]), *alive(gap[1], london("2026-11-02"))]
    month, text = set_cleanly(world(tmp_path, sorted_by_time(evening(5, "dmr"), evening(20, "dmr"), living)), "2026-10")
    assert month.figures.window.blind_s == pytest.approx(5 * 86400, abs=1200)
    assert all(cell is None for row in month.hours[10:13] for cell in row)
    assert "120 h were blind time" in text


def test_a_mode_that_appears_and_one_that_disappears_are_told(tmp_path: Path) -> None:
    lines = []
    for back, name in enumerate(("2026-06", "2026-07", "2026-08", "2026-09", "2026-10")):
        start = london(f"{name}-01")
        lines += sorted_by_time(
            crowd(start, start + 28 * DAY, 300, ("dmr", "p25") if back < 4 else ("dmr", "m17")),
            alive(start, start + 30 * DAY),
        )
    month, text = set_cleanly(world(tmp_path, lines), "2026-10")
    assert "M17 was on the air for 50 min, against usually none." in text
    assert "P25 was silent, against a usual 50 min." in text
    assert "in the weeks before" not in text  # a month is compared with months
    assert [trend.label.text for trend in sheet_of(month).trends] == ["Channel", "DMR", "M17", "P25"]


def test_twenty_thousand_overs_on_all_eight_modes_fit_four_pages(tmp_path: Path) -> None:
    start = london("2026-10-01")
    month, text = set_cleanly(world(tmp_path, crowd(start, start + 31 * DAY, 20_000)), "2026-10")
    assert month.figures.channel.overs == 20_000 and "20,000" in text
    assert len(month.figures.modes) == len(MODES)
    assert len(month.figures.shut_outs) > 12


def test_greek_and_welsh_labels_come_out_as_they_went_in(tmp_path: Path) -> None:
    start = london("2026-10-01")
    talk = [
        over(start + n * 25 * SECOND, 20.0, mode, f"QA{1 + n % 2}XYZ", target=target)
        for mode, target in (("dmr", "99950"), ("dstar", "FELLS C"), ("c4fm", "GreatMoot"))
        for n in range(20)
    ]
    links = [
        {"t": talk[0]["t"], "event": "link-up", "network": "Δίκτυο"},
        {"t": talk[5]["t"], "event": "link-up", "network": "Pŵer"},
    ]
    _, text = set_cleanly(world(tmp_path, sorted_by_time(links, talk), name="Bwlch-y-Ŵyn · Κορυφή"), "2026-10")
    for label in ("Ŵyn ap Ŷgor o’r Fro", "Ελληνική ομιλία", "Δίκτυο", "Pŵer", "Bwlch-y-Ŵyn · Κορυφή"):
        assert label in text


def test_text_from_outside_is_never_markup(tmp_path: Path) -> None:
    start = london("2026-10-01")
    talk = [over(start + n * 25 * SECOND, 20.0, "c4fm", f"QA{1 + n % 2}XYZ", target="GreatMoot") for n in range(20)]
    links = [{"t": talk[0]["t"], "event": "link-up", "network": '#include "/etc/passwd" \u202e$x$ _a_ 漢 \u0007'}]
    _, text = set_cleanly(world(tmp_path, sorted_by_time(links, talk), name="#panic() *b*"), "2026-10")
    assert '#strong[a] *b* $x$ <i> " @c' in text
    assert '#include "/etc/passwd"' in text and "[U+202E]" in text and "[U+6F22]" in text and "[U+0007]" in text
    assert "#panic() *b*" in text


def test_every_character_that_a_label_may_keep_can_be_set() -> None:
    letters = "".join(
        chr(code)
        for low, high in _SETTABLE
        for code in range(low, high + 1)
        if unicodedata.category(chr(code)) not in ("Cn", "Cf")
    )
    assert settable(letters, len(letters)) == unicodedata.normalize("NFC", letters)
    page = b'#set document(title: "t")\n#set text(font: "Libertinus Serif")\n#sys.inputs.letters'
    typst.compile(page, ignore_system_fonts=True, sys_inputs={"letters": letters}, pdf_standards=["ua-1"])


def test_typst_has_nothing_to_warn_of(october: Month, monkeypatch: pytest.MonkeyPatch) -> None:
    warned: list[str] = []

    def compile_(source: bytes, **how: object) -> bytes:
        compiler = typst.Compiler(source, ignore_system_fonts=True, sys_inputs=how["sys_inputs"])  # type: ignore[arg-type]
        pdf, warnings = compiler.compile_with_warnings(
            pdf_standards=["ua-1"], timestamp=dt.datetime(2026, 11, 1, tzinfo=dt.UTC)
        )
        warned.extend(warning.message for warning in warnings)
        assert isinstance(pdf, bytes)
        return pdf

    monkeypatch.setattr(typst, "compile", compile_)
    pdf_of(october)
    assert warned == [] and TEMPLATE.exists()


def test_a_page_that_did_not_fit_would_be_seen(monkeypatch: pytest.MonkeyPatch, october: Month, tmp_path: Path) -> None:
    """The check of margins can fail: with a margin of 5 mm it does."""
    shutil.copytree(TEMPLATE.parent, tmp_path / "templates")
    wide = tmp_path / "templates" / TEMPLATE.name
    template = wide.read_text()
    assert "margin: (x: 17mm" in template
    wide.write_text(template.replace("margin: (x: 17mm", "margin: (x: 5mm"))
    monkeypatch.setattr("server.report.pdf.TEMPLATE", wide)
    with pytest.raises(AssertionError):
        text_of_pdf(pdf_of(october))
