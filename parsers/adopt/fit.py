"""How well a dialect fits a log: lines understood, overs that come out, and how many of them are consistent."""

from dataclasses import dataclass, field


@dataclass
class Fit:
    """What came of a log."""

    lines: int = 0
    understood: int = 0
    ignored: int = 0
    unread: int = 0
    overs: int = 0  #: finished
    agreeing: int = 0  #: of these, that are consistent
    unfinished: int = 0
    orphans: int = 0
    with_mode: int = 0
    with_side: int = 0
    with_station: int = 0
    dmr: int = 0
    dmr_with_slot: int = 0
    dmr_overlapping: int = 0  #: of the DMR overs, that begin before another of their stream ended
    kept: list[tuple[int, str]] = field(default_factory=list)  #: unread lines with their numbers

    @property
    def coverage(self) -> float:
        """Share of the lines understood or ignored."""
        return (self.understood + self.ignored) / self.lines if self.lines else 0.0

    @property
    def paired(self) -> float:
        """Share of the overs begun or ended that have both their ends."""
        every = self.overs + self.unfinished + self.orphans
        return self.overs / every if every else 0.0

    @property
    def agreement(self) -> float:
        """Share of the overs that are consistent, unfinished and orphaned ones counted as not."""
        all_of = self.overs + self.unfinished + self.orphans
        return self.agreeing / all_of if all_of else 0.0
