"""What the keeper is told of a week on Monday morning: the Week page's verdict, and where the rest of it is."""

from server.telling.numbers import GAP
from server.telling.sentences import Verdict, text_of


def week_title(whose: str, week: str, dates: str) -> str:
    """`QB0BFR: week 47, 16 to 22 November 2026`."""
    return f"{whose}: {week[0].lower()}{week[1:]}, {dates}"


def week_body(verdict: Verdict, path: str, address: str) -> str:
    """The verdict, a line a sentence, and the page; without an `address` its path alone."""
    lines = [text_of(verdict.headline), *(f"- {text_of(finding.parts)}" for finding in verdict.findings)]
    rest = f"All of it: {address.rstrip('/')}{path}" if address else f"All of it is on the Week page: {path}"
    parts = ["\n".join(lines), rest, *([verdict.caution] if verdict.caution else [])]
    return "\n\n".join(parts).replace(GAP, " ")
