"""Cells of comma-separated files that a spreadsheet shows as they are."""

from typing import Any

from shared.text import escaped

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe_cell(value: Any) -> Any:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it, as spreadsheets mark text; what is
    not known stays empty. Controls are spelt as escapes: a carriage return would begin a row of its own.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, str):
        return value
    text = escaped(value, keep="\n\t")
    return f"'{text}" if value.startswith(FORMULA_STARTS) else text
