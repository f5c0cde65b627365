"""How well a dialect fits a log: lines understood, overs that come out, and how many of them are consistent."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import polars as pl
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.zones import SECOND

from parsers.reading import Carry, Reader

KEPT_UNREAD = 20_000
OVERLAP_S = 1.1  #: whole seconds in stamps make overs of one stream overlap by so much
AGREE_S = 2.0


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
    kept: list[tuple[int, str]] = field(default_factory=list)  #: unread lines with their numbers

    @property
    def coverage(self) -> float:
        """Share of the lines understood or ignored."""
        return (self.understood + self.ignored) / self.lines if self.lines else 0.0

    @property
    def agreement(self) -> float:
        """Share of the overs that are consistent, unfinished and orphaned ones counted as not."""
        all_of = self.overs + self.unfinished + self.orphans
        return self.agreeing / all_of if all_of else 0.0


def measure(reads: Reader, blocks: Iterable[pl.Series], around_us: int) -> Fit:
    """Reads blocks of lines and pairs their events, counting."""
    fit = Fit()
    carry = Carry()
    opened: dict[tuple[object, ...], int] = {}
    last_end: dict[tuple[object, ...], float] = {}
    for lines in blocks:
        read = reads.read(lines, carry, around_us)
        carry = read.carry
        counts = np.bincount(read.verdicts, minlength=3)
        if len(fit.kept) < KEPT_UNREAD and counts[UNREAD]:
            at = np.flatnonzero(read.verdicts == UNREAD)[: KEPT_UNREAD - len(fit.kept)]
            fit.kept += [(fit.lines + int(i), text) for i, text in zip(at, lines.gather(at).to_list(), strict=True)]
        fit.lines += len(lines)
        fit.understood += int(counts[UNDERSTOOD])
        fit.ignored += int(counts[IGNORED])
        fit.unread += int(counts[UNREAD])
        _pair(fit, read.events, opened, last_end)
    fit.unfinished += len(opened)
    return fit


def _pair(fit: Fit, events: pl.DataFrame, opened: dict[tuple[object, ...], int], last_end: dict[tuple[object, ...], float]) -> None:
    ended = events.filter(pl.col("event").is_in(["over-end", "over"]))
    fit.with_mode += ended["mode"].count()
    begun = events.filter(pl.col("event") == "over-start")
    named = [
        int(frame["station"].str.contains("^[^ /-]").fill_null(False).to_numpy().sum())
        for frame in (ended, begun, ended.filter(pl.col("event") == "over"))
    ]
    fit.with_station += min(ended.height, max(named[0], named[1] + named[2]))
    dmr = ended.filter((pl.col("mode") == "dmr").fill_null(False))
    fit.dmr += dmr.height
    fit.dmr_with_slot += dmr["slot"].count()
    some = events.filter(pl.col("event").is_in(["over-start", "over-end", "over", "host-start"]))
    columns = [some[name].to_list() for name in ("event", "t", "mode", "slot", "side", "seconds")]
    for event, t, mode, slot, side, seconds in zip(*columns, strict=True):
        if event == "host-start":
            fit.unfinished += len(opened)
            opened.clear()
            continue
        key: tuple[object, ...] = (mode, slot, side)
        if event == "over-start":
            fit.unfinished += key in opened
            opened[key] = t
        elif event == "over":
            fit.overs += 1
            fit.with_side += side is not None
            fit.agreeing += t >= last_end.get(key, 0) - OVERLAP_S * SECOND
            last_end[key] = max(last_end.get(key, 0), t + seconds * SECOND)
        else:
            if side is None and key not in opened:
                key = next((one for one in reversed(opened) if one[:2] == key[:2]), key)
            opening = opened.pop(key, None)
            if opening is None:
                fit.orphans += seconds is None
                fit.overs += seconds is not None
                fit.with_side += seconds is not None and side is not None
                fit.agreeing += seconds is not None and t - seconds * SECOND >= last_end.get(key, 0) - OVERLAP_S * SECOND
            else:
                fit.overs += 1
                fit.with_side += key[2] is not None  # what either line tells
                stamped = (t - opening) / SECOND
                fit.agreeing += stamped >= 0 and (abs(stamped - seconds) <= AGREE_S if seconds is not None else stamped < 3600)
            last_end[key] = max(last_end.get(key, 0), t)
