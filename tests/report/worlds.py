"""Stores that reports are made from: activity lines of invented traffic, read by the real intake."""

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import polars as pl

from server.config import load_station
from server.demo.simulate import simulate
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import open_store
from shared.events import MODES
from shared.zones import SECOND, instant, iso, to_us

Line = dict[str, Any]

STATION = """
[repeater]
callsign = "QB0BFR"
name = "{name}"
zone = "Europe/London"
[timers]
timeout_s = 180
hold_s = {{ default = {hold_s} }}
{quiet}
[transmitter]
duty_rating = 0.5
[[log]]
path = "host.log"
dialect = "activity"
{targets}
"""
TARGETS = (
    ("dmr", "99950", "Ŵyn ap Ŷgor o’r Fro", "wide"),
    ("dstar", "FELLS C", "Ελληνική ομιλία", "wide"),
    ("c4fm", "GreatMoot", '#strong[a] *b* $x$ <i> \\" @c', "wide"),
)
LATER = to_us(dt.datetime(2027, 6, 1, tzinfo=dt.UTC))


def world(
    folder: Path,
    lines: Iterable[Line],
    name: str = "Brackenfell",
    hold_s: float = 20.0,
    quiet_log_s: float | None = 900,
    now: int = LATER,
) -> StoreSource:
    """A station in `folder` whose log holds these activity lines, read; its clock stands long after."""
    folder.mkdir(parents=True, exist_ok=True)
    targets = "\n".join(
        f'[[target]]\nmode = "{mode}"\nname = "{target}"\nlabel = "{label}"\nreach = "{reach}"'
        for mode, target, label, reach in TARGETS
    )
    quiet = f"quiet_log_s = {quiet_log_s}" if quiet_log_s is not None else ""
    (folder / "station.toml").write_text(
        STATION.format(name=name, hold_s=hold_s, quiet=quiet, targets=targets), encoding="utf-8"
    )
    (folder / "host.log").write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()
    return StoreSource(engine, station, now)


def simulated(first_day: dt.date, weeks: int, seed: int = 3) -> list[Line]:
    """The demo's traffic as activity lines, with every incident that fits."""
    frame = simulate(seed, first_day, weeks).events.drop("line").with_columns(pl.col(pl.Enum).cast(pl.String))
    return [
        {"t": iso(row.pop("t")), **{key: value for key, value in row.items() if value is not None}}
        for row in frame.iter_rows(named=True)
    ]


def alive(start: int, end: int, every_s: int = 600) -> list[Line]:
    """Signs of life, so that nothing between two instants is blind."""
    return [{"t": iso(at), "event": "alive"} for at in range(start, end, every_s * SECOND)]


def london(text: str) -> int:
    """Microseconds UTC of a local date or date-time at Brackenfell."""
    from zoneinfo import ZoneInfo

    return instant(text, ZoneInfo("Europe/London"))


def over(at: int, seconds: float, mode: str, station: str | None = None, **more: Any) -> Line:
    """A whole over."""
    return {
        "t": iso(at),
        "event": "over",
        "seconds": seconds,
        "mode": mode,
        "side": "air",
        **({"station": station} if station else {}),
        **more,
    }


def sorted_by_time(*parts: Sequence[Line]) -> list[Line]:
    """Lines of several kinds in order of their stamps."""
    return sorted((line for part in parts for line in part), key=lambda line: dt.datetime.fromisoformat(line["t"]))


def crowd(start: int, end: int, count: int, modes: Sequence[str] = MODES, refusals: bool = True) -> list[Line]:
    """`count` overs spread evenly in turn over modes, by nine stations a mode, with calls refused right behind some of
    them.
    """
    step = (end - start) // count
    lines: list[Line] = []
    for number in range(count):
        at, mode = start + number * step, modes[number % len(modes)]
        slot = {"slot": 1 + number % 2} if mode == "dmr" else {}
        lines.append(
            over(at, 20.0, mode, f"QA{number % 9}X{'ABCDEFGH'[MODES.index(mode)]}Z", target=f"T{number % 3}", **slot)
        )
        if refusals and number % 3 == 0:
            wanted = MODES[(number // 24) % len(MODES)]
            if wanted != mode:
                lines.append(
                    {
                        "t": iso(at + 22 * SECOND),
                        "event": "refused",
                        "mode": wanted,
                        "station": "QC1AAC",
                        "reason": "other-mode",
                    }
                )
    return lines
