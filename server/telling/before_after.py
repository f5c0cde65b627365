"""A confirmed change of timers, before and after, in words."""

from server.analytics.before_after import MOST_WEEKS, Change
from server.telling import words
from server.telling.parts import Fact, Label


def step_sentence(step: Change | None) -> str:
    """What came of it; None where there is too little log around it."""
    if step is None:
        return (
            f"There are not yet two whole weeks of log on both sides of it to compare; it looks at up to {MOST_WEEKS}."
        )
    if step.interval.high < 0:
        return (
            f"Fewer calls are refused since: {abs(step.step):.1f} a day fewer than the same weekdays and the trend "
            "would have it."
        )
    if step.interval.low > 0:
        return (
            f"More calls are refused since: {step.step:.1f} a day more than the same weekdays and the trend would "
            "have it."
        )
    return "No change can be told from chance yet."


def step_facts(step: Change) -> tuple[Fact, ...]:
    """Refusals a day before and after, and the step between them."""
    weeks = f"{words.count(step.weeks, 'whole week')}, as counted"
    return (
        Fact(Label("Refused calls before", "refused a day"), f"{step.before:.1f} a day", weeks),
        Fact(Label("Refused calls after", "refused a day"), f"{step.after:.1f} a day", weeks),
        Fact(
            Label("Change at the date", "step"),
            f"{_signed(step.step)} a day estimated",
            "same weekdays, trend taken out",
        ),
        Fact(Label("95 % interval", "step"), f"{_signed(step.interval.low)} to {_signed(step.interval.high)} a day"),
    )


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")
