"""How well a dialect fits a log: lines understood, overs that come out, and how many of them are consistent."""

from dataclasses import dataclass, field

from parsers.adopt.trial import Trial


@dataclass
class Fit:
    """What came of a log."""

    lines: int = 0
    understood: int = 0
    ignored: int = 0
    unread: int = 0
    trial: Trial = field(default_factory=lambda: Trial({}, 0))  #: the traffic that comes out
    unfinished: int = 0
    orphans: int = 0
    with_mode: int = 0
    with_side: int = 0
    with_station: int = 0
    dmr: int = 0
    dmr_with_slot: int = 0
    kept: list[tuple[int, str]] = field(default_factory=list)  #: unread lines with their numbers

    @property
    def coverage(self) -> float:
        """Share of the lines understood or ignored."""
        return (self.understood + self.ignored) / self.lines if self.lines else 0.0

    @property
    def overs(self) -> int:
        """Finished overs."""
        return self.trial.overs

    @property
    def agreeing(self) -> int:
        """Of these, that are consistent."""
        return round(self.trial.terms.get("consistent", 0.0) * self.overs)

    @property
    def agreement(self) -> float:
        """Share of the overs that are consistent, unfinished and orphaned ones counted as not."""
        return self.trial.terms.get("consistent", 0.0) * self.trial.terms.get("paired", 0.0)
