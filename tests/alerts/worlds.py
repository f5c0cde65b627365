"""Overs from plain tuples, and the limits that most tests go by."""

import datetime as dt
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from server.alerts.history import NEVER, History
from server.alerts.limits import Limits
from shared.events import MODES, SIDES
from shared.zones import SECOND, to_us

ZONE = ZoneInfo("Europe/London")
T0 = to_us(dt.datetime(2026, 11, 18, 3, 10, tzinfo=ZONE))  # a Wednesday night, in the quiet hours
DAY0 = to_us(dt.datetime(2026, 11, 18, 14, 0, tzinfo=ZONE))
LIMITS = Limits(ZONE, 180 * SECOND)


def s(seconds: float) -> int:
    return round(seconds * SECOND)


def over(
    start: int,
    seconds: float | None,
    station: int = -1,
    mode: str = "dmr",
    slot: int = 1,
    side: str = "air",
    whole: bool = False,
) -> tuple[Any, ...]:
    """One over; `seconds` None: open."""
    end = NEVER if seconds is None else start + s(seconds)
    return start, end, whole, MODES.index(mode), slot, SIDES.index(side), station


def history(
    overs: Iterable[tuple[Any, ...]], lines: np.ndarray | None = None, tail_s: float = 0.0, **more: Any
) -> History:
    """What was heard, with a line an over unless `lines` are given."""
    rows = sorted(overs, key=lambda row: row[0])
    columns = list(zip(*rows, strict=True)) if rows else [()] * 7
    names = ("start", "end", "whole", "mode", "slot", "side", "station")
    types = (np.int64, np.int64, np.bool_, np.int64, np.int64, np.int64, np.int64)
    made = {name: np.array(column, dtype=kind) for name, column, kind in zip(names, columns, types, strict=True)}
    stamps = made["start"] if lines is None else lines
    return History(
        **made,
        told=made["end"],
        lost=made["end"] == NEVER,
        counted=made["end"] < NEVER,
        tail=np.full(len(rows), s(tail_s), dtype=np.int64),
        lines={"host.log": stamps, **more.pop("other_lines", {})},
        **more,
    )


def every(start: int, end: int, seconds: float) -> np.ndarray:
    """Signs of life."""
    return np.arange(start, end, s(seconds), dtype=np.int64)
