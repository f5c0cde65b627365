"""What an incident is called, wherever it is told of."""

from server.alerts.words import TITLES
from shared.events import MODE_LABELS


def title_words(rule: str) -> str:
    """`An over runs on`."""
    said = TITLES.get(rule, rule)
    return said[:1].upper() + said[1:]


def subject_words(subject: str) -> str:
    """`dmr/1` as a person says it: `DMR, slot 1`; any other subject as it is."""
    mode, _, slot = subject.partition("/")
    return MODE_LABELS[mode] + (f", slot {slot}" if slot else "") if mode in MODE_LABELS else subject
