"""What is said of an over that ran on beyond the time-out, and of overs whose length is not known."""

from server.telling.words import count, duration

FAR_BEYOND = 1.5  # times the time-out: no timer that works lets an over run so long


def meaning(seconds: float, timeout_s: float) -> str:
    """What an over of that length may mean, as the end of a sentence."""
    limit = duration(timeout_s)
    if seconds >= FAR_BEYOND * timeout_s:
        return (
            f"far beyond the time-out of {limit}: a stuck transmitter, interference that keyed it, or a timer that does"
            " not work."
        )
    return f"beyond the time-out of {limit}: the timer is set otherwise than in the settings, or does not work."


def lengthless(unfinished: int | None, pages: int | None) -> str:
    """`240 overs without an end in the log and 3 pages without a length`: what was on the air, nobody knows how long.
    Empty where there was nothing of the kind.
    """
    said = [count(unfinished, "over") + " without an end in the log"] if unfinished else []
    said += [count(pages, "page") + " without a length"] if pages else []
    return " and ".join(said)


def holds_best(attempts: list[int]) -> bool:
    """Whether the first of some counts, greatest first, stands alone at the top: only then it happened most often."""
    return len(attempts) < 2 or attempts[0] > attempts[1]
