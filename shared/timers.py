"""The repeater's timers, as the station file sets them and the figures need them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Timers:
    """The settings that figures depend on; seconds. `hold` and `tail` by mode code, with `default` at UNKNOWN's place
    (the last).
    """

    timeout_s: float
    hold_s: tuple[float, ...]  #: len(MODES) + 1
    tail_s: tuple[float, ...]  #: len(MODES) + 1
    courtesy_gap_s: float
    wide: frozenset[tuple[str | None, str]] = frozenset()  #: (mode word, or None for any, target) of reach `wide`
    grace_s: float = 10.0  #: how far beyond the time-out an over may run before it is an overrun
