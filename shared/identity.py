"""Who a station is: upper case, trimmed, cut at the first space, `/` or `-` (docs/definitions.md, From events to
overs).
"""


def identity(text: str | None) -> str | None:
    """The identity behind one station text; None where nothing is left."""
    if text is None:
        return None
    cut = text.strip()
    for mark in (" ", "/", "-"):
        cut = cut.split(mark, 1)[0]
    return cut.upper() or None
