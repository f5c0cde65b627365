"""The running totals of a window of the truth, and the figures that they come to."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from server.demo.world import COURTESY_GAP_S

NEVER = -(10**15)
COUNTED = (
    "overs", "air_overs", "link_overs", "timeouts", "near_timeouts", "timeout_lockouts", "kerchunks", "pages",
)  # fmt: skip
Totals = Counter[tuple[str, ...]]  #: (figure, mode, ...) -> how many, or how many milliseconds
Waits = dict[tuple[str, str], list[int | None]]  #: (holder, wanted) -> milliseconds; None where nobody is known to hold


@dataclass(eq=False)
class Run:
    """An unbroken hold of one mode; its end is settled once something else has begun."""

    start: int
    end: int


class Week:
    """The running totals of one window."""

    def __init__(self) -> None:
        self.ms: Counter[tuple[str, ...]] = Counter()  #: (figure, mode, ...) -> milliseconds
        self.counts: Counter[tuple[str, ...]] = Counter()
        self.stations: dict[str, set[str]] = defaultdict(set)
        self.attempts: list[tuple[str, str, int, Run | None]] = []  #: shut out: wanted, holder, instant, holder's run
        self.gaps: list[int] = []


def totals_told(weeks: Sequence[Week]) -> dict[str, Any]:
    """The figures of some windows together, laid out and named as in `figures --json` (docs/contract.md)."""
    ms, counts = _summed(week.ms for week in weeks), _summed(week.counts for week in weeks)
    stations, shut_outs = _stations(weeks), _shut_outs(weeks)
    modes = {mode: _mode(mode, ms, counts, stations, shut_outs) for mode in sorted(_heard(ms, counts))}
    return {
        "channel": {
            "airtime_s": ms["air", ""] / 1000,
            "keyed_s": ms["keyed", ""] / 1000,
            "idle_hold_s": ms["idle", ""] / 1000,
            "overs": sum(its["overs"] for its in modes.values()),
            "unfinished": sum(value for key, value in counts.items() if key[0] == "unfinished"),
            "stations": len(stations[""]),
        },
        "modes": modes,
        "shut_outs": [_pair(holder, wanted, waits) for (holder, wanted), waits in sorted(shut_outs.items())],
        "talk": _talk(ms, counts, [gap for week in weeks for gap in week.gaps]),
    }


def _heard(ms: Totals, counts: Totals) -> set[str]:
    """The modes that were counted, or on the air."""
    on_air = {key[1] for key, value in ms.items() if key[0] == "air" and value}
    return ({key[1] for key in counts} | on_air) - {""}


def _pair(holder: str, wanted: str, waits: list[int | None]) -> dict[str, Any]:
    mean = None if holder == "unknown" else sum(wait or 0 for wait in waits) / len(waits) / 1000
    return {"held_by": holder, "wanted": wanted, "attempts": len(waits), "mean_wait_s": mean}


def _summed(counters: Iterable[Totals]) -> Totals:
    """With keys of which the sum is 0: they were booked."""
    whole: Totals = Counter()
    for counter in counters:
        whole.update(counter)
    return whole


def _stations(weeks: Iterable[Week]) -> dict[str, set[str]]:
    """By mode, and of the whole channel under the empty name."""
    stations: dict[str, set[str]] = defaultdict(set)
    for week in weeks:
        for mode, known in week.stations.items():
            stations[mode] |= known
    return stations


def _shut_outs(weeks: Iterable[Week]) -> Waits:
    """Holder and wanted mode -> the waits, milliseconds; None where no holder is known."""
    waits: Waits = defaultdict(list)
    for week in weeks:
        for wanted, holder, t, run in week.attempts:
            waits[holder, wanted].append(run.end - t if run else None)
    return waits


def _talk(ms: Totals, counts: Totals, gaps: Sequence[int]) -> dict[str, Any]:
    short = sum(gap < COURTESY_GAP_S * 1000 for gap in gaps)
    return {
        "conversations": counts["conversations", ""],
        "turnaround_median_s": median(gaps) / 1000 if gaps else None,
        "short_gap_share": short / len(gaps) if gaps else None,
        "local_on_wide": counts["local_on_wide", ""],
        "local_on_wide_s": sum(value for key, value in ms.items() if key[0] == "local_on_wide") / 1000,
    }


def _mode(mode: str, ms: Totals, counts: Totals, stations: dict[str, set[str]], shut_outs: Waits) -> dict[str, Any]:
    nameless = counts["overs", mode] and not stations[mode]  # who was heard is then not known
    return {
        "airtime_s": ms["air", mode] / 1000,
        **_slots(mode, ms),
        "idle_hold_s": ms["idle", mode] / 1000,
        "timeouts_estimated": 0,  # the host writes the cause of each end, so nothing is left to infer
        "shut_outs_suffered": sum(len(waits) for (_, wanted), waits in shut_outs.items() if wanted == mode),
        "shut_outs_caused": sum(len(waits) for (holder, _), waits in shut_outs.items() if holder == mode),
        **{name: counts[name, mode] for name in COUNTED},
        "stations": None if nameless else len(stations[mode]),
        "doublings": (counts["doublings", mode] or None) if nameless else counts["doublings", mode],
    }


def _slots(mode: str, ms: Totals) -> dict[str, Any]:
    if not any(key[:2] == ("slot", mode) for key in ms):
        return {"slot_s": {}, "both_slots_s": None}
    by_slot = {slot: ms["slot", mode, slot] / 1000 for slot in ("1", "2")}
    return {"slot_s": by_slot, "both_slots_s": ms["both", mode] / 1000}
