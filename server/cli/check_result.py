"""What `airtally check` finds, a sentence each."""

from dataclasses import dataclass

GOOD, NEXT, MEND = "good", "next", "to mend"


@dataclass(frozen=True)
class Check:
    """One thing that was looked at: in order, the step that comes next, or wrong."""

    mark: str
    says: str


def good(says: str) -> Check:
    return Check(GOOD, says)


def comes_next(says: str) -> Check:
    return Check(NEXT, says)


def to_mend(says: str) -> Check:
    return Check(MEND, says)
