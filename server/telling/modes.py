"""Modes by name and in their order, and what is told of each."""

from collections.abc import Iterable

from server.analytics.figure_types import Figures, Mode
from server.telling.parts import Label
from shared.events import MODE_LABELS, MODES


def by_airtime(figures: Figures) -> list[tuple[str, Mode]]:
    """The modes of a window and their figures, most airtime first: the order of modes wherever people read them."""
    return sorted(figures.modes.items(), key=lambda item: -(item[1].airtime_s or 0.0))


def placed(modes: Iterable[str | None], figures: Figures) -> list[str | None]:
    """Mode words by airtime, each once; what the window has no airtime of stands last, then the
    unknown one.
    """
    order = {mode: place for place, (mode, _) in enumerate(by_airtime(figures))}
    codes = {mode: len(order) + place for place, mode in enumerate(MODES)}
    return sorted(set(modes), key=lambda mode: order.get(mode or "", codes.get(mode or "", len(order) + len(codes))))


def mode_name(mode: str | None) -> Label:
    """A mode's name after its pattern; `Unknown` where the log does not tell it."""
    return Label(MODE_LABELS[mode], mode=mode) if mode in MODE_LABELS else Label("Unknown")


def mode_words(mode: str | None) -> str:
    """A mode's name in a sentence."""
    return MODE_LABELS.get(mode or "", "an unknown mode")
