"""Numbers with their nouns and verbs: `1 over was`, `1,204 overs were`. Pure; None is `not known`."""

from shared.numbers import grouped

GAP = "\u00a0"  # keeps a number and its unit on one line
UNKNOWN = "not known"


def whole_number(n: float | None) -> str:
    """Thousands are separated."""
    return UNKNOWN if n is None else grouped(n)


def count(n: float | None, one: str, many: str | None = None) -> str:
    """`1 over`, `14 overs`, `1,204 overs`."""
    return f"{whole_number(n)}{GAP}{one if n == 1 else many or one + 's'}"


def verb(n: float, one: str, many: str) -> str:
    """The form of a verb that goes with a count: `was` or `were`."""
    return one if n == 1 else many
