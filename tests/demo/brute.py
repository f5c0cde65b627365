"""The definitions of docs/definitions.md, taken literally on every stretch of time between two edges: slow, and unlike
the ledger.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import polars as pl

from server.demo.world import HOLD_S


@dataclass
class Log:
    """Overs, refusals and pages as anybody would read them from the events; instants in microseconds."""

    overs: list[dict[str, Any]]
    refused: list[dict[str, Any]]
    pages: list[dict[str, Any]] = field(default_factory=list)

    @property
    def transmissions(self) -> list[dict[str, Any]]:
        """All that was on the air, in order of start."""
        return sorted([*self.overs, *self.pages], key=lambda one: one["start"])


def read(events: pl.DataFrame) -> Log:
    """Pair starts with ends: by mode, slot and side, one after the other."""
    overs: list[dict[str, Any]] = []
    begun: dict[tuple[Any, ...], dict[str, Any]] = {}
    refused, pages = [], []
    for row in events.iter_rows(named=True):
        key = row["mode"], row["slot"], row["side"]
        if row["event"] == "over-start":
            begun[key] = row
        elif row["event"] == "over-end":
            overs.append({**row, "start": begun.pop(key)["t"], "end": row["t"]})
        elif row["event"] == "refused":
            refused.append(row)
        elif row["event"] == "page":
            pages.append({**row, "start": row["t"], "end": row["t"] + round(row["seconds"] * 1_000_000)})
    overs.sort(key=lambda over: over["start"])
    return Log(overs, refused, pages)


class Elementary:
    """All the stretches between neighbouring edges; on each, nothing changes."""

    def __init__(self, log: Log, start: int, end: int) -> None:
        self.modes = sorted({over["mode"] for over in log.transmissions})
        self.starts = np.array([over["start"] for over in log.transmissions])
        self.ends = np.array([over["end"] for over in log.transmissions])
        self.mode = np.array([over["mode"] for over in log.transmissions])
        hold = np.array([HOLD_S.get(mode, HOLD_S["default"]) * 1_000_000 for mode in self.mode])
        edges = np.unique(np.concatenate([[start, end], self.starts, self.ends, self.ends + hold]))
        self.edges = edges[(edges >= start) & (edges <= end)]
        self.lengths = np.diff(self.edges)
        self.on = {mode: np.zeros(len(self.lengths), bool) for mode in self.modes}
        self.holding = {mode: np.zeros(len(self.lengths), bool) for mode in self.modes}
        for place, t in enumerate(self.edges[:-1]):
            running = (self.starts <= t) & (t < self.ends)
            for mode in set(self.mode[running]):
                self.on[mode][place] = True
            for which in np.flatnonzero((self.ends <= t) & (t < self.ends + hold)):
                # The hold of an over lasts unless an over of any mode has started since its end.
                if not ((self.starts >= self.ends[which]) & (self.starts <= t)).any():
                    self.holding[self.mode[which]][place] = True
        self.busy = np.logical_or.reduce(list(self.on.values()))

    def seconds(self, mask: np.ndarray) -> float:
        return float(self.lengths[mask].sum()) / 1e6

    def held(self, mode: str) -> np.ndarray:
        return self.on[mode] | self.holding[mode]

    def place(self, t: int) -> int:
        return int(np.searchsorted(self.edges, t, side="right")) - 1

    def holder(self, wanted: str, t: int) -> tuple[str, float]:
        """Which other mode holds at t, and seconds until it lets go."""
        found = []
        for mode in self.modes:
            held = self.held(mode)
            if mode != wanted and held[self.place(t)]:
                first = last = self.place(t)
                while first > 0 and held[first - 1]:
                    first -= 1
                while last + 1 < len(held) and held[last + 1]:
                    last += 1
                found.append((first, mode, (self.edges[last + 1] - t) / 1e6))
        return min(found)[1:] if found else ("unknown", float("nan"))


def attempts(log: Log) -> list[dict[str, Any]]:
    """Refusals of one mode, side and station less than 10 s after the one before are one attempt; `who` gives the
    identity.
    """
    latest: dict[tuple[Any, ...], int] = {}
    firsts = []
    for row in log.refused:
        who = (row["station"] or "").split("/")[0].split("-")[0]
        key = row["mode"], row["side"], who
        if row["t"] - latest.get(key, -(10**18)) >= 10_000_000:
            firsts.append(row)
        latest[key] = row["t"]
    return firsts


def blind_seconds(
    logs: dict[str, pl.DataFrame], on_air: list[dict[str, Any]], first: int, after: int, quiet_s: float
) -> float:
    """Blind time by the definition, asked of every stretch between two edges: does any log that carries overs tell of
    it, or was something on the air?
    """
    edges = np.concatenate(
        [[first, after], *(log["t"].to_numpy() for log in logs.values()), *([o["start"], o["end"]] for o in on_air)]
    )
    edges = np.unique(edges[(edges >= first) & (edges <= after)])
    middle = (edges[:-1] + edges[1:]) / 2
    seen = np.zeros(len(middle), bool)
    for one in on_air:
        seen |= (one["start"] < middle) & (middle < one["end"])
    for log in logs.values():
        events = log["event"].cast(pl.String).to_numpy()
        if not np.isin(events, ["over-start", "over-end", "refused", "page"]).any():
            continue
        lines = log["t"].to_numpy()
        before = np.searchsorted(lines, middle) - 1
        inside = (before >= 0) & (before < len(lines) - 1)
        gap = lines[np.clip(before + 1, 0, len(lines) - 1)] - lines[np.clip(before, 0, len(lines) - 1)]
        turns = np.flatnonzero(np.isin(events, ["host-stop", "host-start"]))
        last = np.searchsorted(lines[turns], middle) - 1
        stopped = (last >= 0) & (events[turns][np.clip(last, 0, None)] == "host-stop") if len(turns) else False
        seen |= inside & (gap <= quiet_s * 1_000_000) & ~np.asarray(stopped)
    return float(np.diff(edges)[~seen].sum()) / 1e6
