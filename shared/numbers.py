"""How a number is written in a sentence or a table, on a page, on paper and on a terminal alike."""


def grouped(number: float, digits: int = 0) -> str:
    """A number with its thousands separated by commas: `1,204`, `2,516.5`."""
    return f"{number:,.{digits}f}"
