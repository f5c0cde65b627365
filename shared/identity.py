"""Who a station is: upper case, trimmed, cut at the first space, `/` or `-` (definitions.md, From events to overs)."""

import polars as pl


def identity(text: str | None) -> str | None:
    """The identity behind one station text; None where nothing is left."""
    if text is None:
        return None
    cut = text.strip()
    for mark in (" ", "/", "-"):
        cut = cut.split(mark, 1)[0]
    return cut.upper() or None


def identity_column(column: pl.Expr) -> pl.Expr:
    """The same for a column of texts."""
    cut = column.str.strip_chars().str.extract(r"^([^ /\-]+)", 1).str.to_uppercase()
    return pl.when(cut != "").then(cut)
