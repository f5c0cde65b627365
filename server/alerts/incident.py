"""What a rule finds, and how a level that comes and goes becomes incidents: hysteresis."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from shared.zones import iso

UP, STAY, DOWN = 1, 0, -1  # above what raises; between; below what clears
Levels = npt.NDArray[np.int8]
Open = Mapping[tuple[str, str], int]  #: (rule, subject) -> raised, of the incidents that stand raised


class AsJson:
    """What the contract has of an incident."""

    rule: str
    subject: str
    raised: int
    cleared: int | None
    urgent: bool
    says: str

    def as_json(self, zone: ZoneInfo) -> dict[str, Any]:
        """One incident of `alerts --json` (docs/contract.md)."""
        return {
            "rule": self.rule,
            "raised": iso(self.raised, zone),
            "cleared": None if self.cleared is None else iso(self.cleared, zone),
            "urgent": self.urgent,
            "subject": self.subject,
            "says": self.says,
        }


@dataclass(frozen=True)
class Incident(AsJson):
    """One incident as far as it is known."""

    rule: str
    subject: str
    raised: int
    cleared: int | None
    urgent: bool
    says: str
    began: int | None = None  #: when what it is about began, where that was before it was raised


@dataclass(frozen=True)
class Stretch:
    """Where a level stood raised. `at` is the place of the instant that raised it, -1 where it was raised before."""

    at: int
    raised: int
    cleared: int | None


def mode_subject(mode: str | None, slot: int) -> str:
    """The subject of what happens in a mode: `dmr/1`, `dstar`; `channel` where the log names no mode."""
    return "channel" if mode is None else mode + (f"/{slot}" if slot else "")


def levels(up: npt.NDArray[np.bool_], down: npt.NDArray[np.bool_]) -> Levels:
    """UP where a level raises, DOWN where it clears, STAY between the two."""
    return np.where(up, UP, np.where(down, DOWN, STAY)).astype(np.int8)


def stretches(level: Levels, nows: Ints, since: int | None) -> list[Stretch]:
    """The raised stretches of a level sampled at `nows`; `since` says when it was raised, where it stood raised before
    the first.
    """
    places = np.flatnonzero(level)
    changes = places[np.concatenate([[True], np.diff(level[places]) != 0])] if len(places) else places
    found: list[Stretch] = []
    at, raised = -1, since
    for place in changes.tolist():
        if level[place] == UP and raised is None:
            at, raised = place, int(nows[place])
        elif level[place] == DOWN and raised is not None:
            found.append(Stretch(at, raised, int(nows[place])))
            raised = None
    return [*found, Stretch(at, raised, None)] if raised is not None else found
