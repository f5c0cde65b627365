"""The committee's PDF: a sheet set by typst from templates/report.typ. The same sheet gives the same bytes."""

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Literal

from server.report.month import Month
from server.report.sheet import sheet_of
from shared.errors import AirtallyError
from shared.zones import SECOND

Paper = Literal["a4", "letter"]
TEMPLATE = Path(__file__).resolve().parents[2] / "templates" / "report.typ"
PDF_PAPER = {"a4": "a4", "letter": "us-letter"}
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
    import typst

    figures = json.dumps(
        asdict(sheet_of(month)), ensure_ascii=False, default=sorted
    )  # sets of column numbers become lists
    inputs = {"sheet": figures, "paper": PDF_PAPER[paper]}
    return _explained(
        lambda: typst.compile(
            TEMPLATE.read_bytes(),
            ignore_system_fonts=True,
            sys_inputs=inputs,
            pdf_standards=[STANDARD],
            timestamp=month.end // SECOND,
        )
    )


def _explained(set_: Callable[[], bytes]) -> bytes:
    import typst

    try:
        return set_()
    except typst.TypstError as error:
        raise ReportError(
            f"{TEMPLATE.name}: the report can't be set: {error.message}; this is a defect worth reporting."
        ) from error
