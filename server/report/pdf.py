"""The committee's PDF: a sheet set by typst from templates/report.typ. The same sheet gives the same bytes."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal

from server.report.handout import Handout
from server.report.month import Month
from server.report.sheet import sheet_of
from shared.errors import AirtallyError
from shared.zones import SECOND

Paper = Literal["a4", "letter"]
TEMPLATE = Path(__file__).resolve().parents[2] / "templates" / "report.typ"
PDF_PAPER = {"a4": "a4", "letter": "us-letter"}
HANDOUT = TEMPLATE.with_name("handout.typ")
STANDARD: Literal["ua-1"] = (
    # : PDF/UA-1, ISO 14289-1: typst refuses a chart without alternative text, or a character without a letter in the
    # fonts
    "ua-1"
)


class ReportError(AirtallyError):
    """The report can't be set."""


def pdf_of(month: Month, paper: Paper = "a4") -> bytes:
    """The PDF of a month. Its figures go to the template as data, so that no text of a log can become markup; only the
    fonts that come with typst are used, and its date is the month's end. Raises ReportError.
    """
    return _set(TEMPLATE, asdict(sheet_of(month)), paper, month.end)


def handout_pdf(sheet: Handout, paper: Paper = "a4") -> bytes:
    """The users' sheet, likewise. Raises ReportError."""
    return _set(HANDOUT, asdict(sheet), paper, sheet.end_us)


def _set(template: Path, sheet: dict[str, Any], paper: Paper, date_us: int) -> bytes:
    import typst

    figures = json.dumps(sheet, ensure_ascii=False, default=sorted)  # sets of column numbers become lists
    try:
        return typst.compile(
            template,
            ignore_system_fonts=True,
            sys_inputs={"sheet": figures, "paper": PDF_PAPER[paper]},
            pdf_standards=[STANDARD],
            timestamp=date_us // SECOND,
        )
    except typst.TypstError as error:
        raise ReportError(
            f"{template.name}: the page can't be set: {error.message}; this is a defect worth reporting."
        ) from error
