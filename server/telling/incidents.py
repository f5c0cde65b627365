"""What an incident is called, wherever it is told of."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from server.alerts.folding import Raised
from server.alerts.words import TITLES
from server.telling.moments import instant_words
from shared.events import MODE_LABELS

RATING = ("duty", "transmitter/rating")
BEYOND_RATING = "the transmitter is keyed beyond its rating"


def title_words(rule: str, subject: str) -> str:
    """`An over runs on`."""
    said = BEYOND_RATING if (rule, subject) == RATING else TITLES.get(rule, rule)
    return said[:1].upper() + said[1:]


def subject_words(subject: str) -> str:
    """`dmr/1` as a person says it: `DMR, slot 1`; nothing for what is about the transmitter as a whole; any other subject as it is."""
    if subject in ("transmitter", RATING[1]):
        return ""
    mode, _, slot = subject.partition("/")
    return MODE_LABELS[mode] + (f", slot {slot}" if slot else "") if mode in MODE_LABELS else subject


def whole_title(rule: str, subject: str) -> str:
    """`An over runs on (DMR, slot 1)`."""
    of = subject_words(subject)
    return title_words(rule, subject) + (f" ({of})" if of else "")


def followed_words(followed: Sequence[Raised], zone: ZoneInfo) -> str:
    """What followed from an incident, in a sentence; empty where nothing did."""
    said = []
    for one in followed:
        title = title_words(one.rule, one.subject)
        said.append(f"{title[0].lower()}{title[1:]}, from {instant_words(one.raised, zone)}")
    return f"With it: {'; '.join(said)}." if said else ""
