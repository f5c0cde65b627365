"""What is told of the keeper's notes."""

from typing import Protocol

PLAIN = ("other", "timers")  # kinds that say nothing beside the text


class Noted(Protocol):
    """A note, or a change of timers among them."""

    @property
    def at_us(self) -> int: ...
    @property
    def kind(self) -> str: ...
    @property
    def text(self) -> str: ...


def note_words(one: Noted) -> str:
    """`feeder: new feeder, 20 m`."""
    return one.text if one.kind in PLAIN else f"{one.kind}: {one.text}"
