"""Random traffic of an invented repeater, as a book of what happened: other modes, people and habits at each draw."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from shared.identity import identity
from shared.zones import SECOND, to_us
from tests.adopt.book import Book

Row = dict[str, Any]
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SLOTTED = "dmr"
VOICE = ("c4fm", "dmr", "dstar", "fm", "m17", "nxdn", "p25")
PLACES = ("ASH", "BIRCH", "ROWAN", "ALDER", "HAZEL", "LARCH", "ELDER", "OAK")


@dataclass(frozen=True)
class Habits:
    """What a draw of traffic is made from."""

    modes: tuple[str, ...]
    overs_a_day: int
    days: int
    start: dt.datetime
    timeout_s: float
    ids: bool  #: DMR stations are logged by number
    spaced: bool  #: targets may hold blanks
    thin: bool


def draw_habits(rng: np.random.Generator, *, days: int, thin: bool = False) -> Habits:
    """Habits at random; the days lie across a clock change of Europe in a quarter of the draws."""
    many = int(rng.integers(2, len(VOICE) + 1))
    modes = tuple(sorted(map(str, rng.choice(VOICE, size=many, replace=False))))
    first = (
        dt.datetime(2026, 10, 23)
        if rng.random() < 0.25
        else dt.datetime(2026, 6, 1) + dt.timedelta(days=int(rng.integers(0, 90)))
    )
    return Habits(
        modes=modes,
        overs_a_day=20 if thin else int(rng.integers(250, 900)),
        days=days,
        start=first.replace(tzinfo=dt.UTC),
        timeout_s=float(rng.choice([120, 180, 240])),
        ids=bool(rng.random() < 0.5),
        spaced=bool(rng.random() < 0.35),
        thin=thin,
    )


def _call(rng: np.random.Generator) -> str:
    return (
        "Q"
        + rng.choice(list("ABCDEF"))
        + str(rng.integers(0, 10))
        + "".join(rng.choice(list(LETTERS), size=int(rng.integers(2, 4))))
    )


def _targets(rng: np.random.Generator, habits: Habits, mode: str) -> list[str]:
    """A few of each mode: numbers where the mode has groups by number, names elsewhere."""
    many = int(rng.integers(1, 5))
    if mode == "dmr":
        return [str(99_900 + int(n)) for n in rng.choice(90, size=many, replace=False)]
    if mode in ("p25", "nxdn"):
        return [str(64_000 + int(n)) for n in rng.choice(900, size=many, replace=False)]
    if mode == "fm":
        return []
    names = [str(place) for place in rng.choice(PLACES, size=many, replace=False)]
    return [f"{name} {rng.choice(list('ABCD'))}" for name in names] if habits.spaced else names


def draw_book(rng: np.random.Generator, habits: Habits) -> Book:
    """The rows as an activity line has them, in order of time, and the true overs; ends carry `start`, `session`
    numbers every over.
    """
    people = [_call(rng) for _ in range(int(rng.integers(12, 60)))]
    number = {call: str(9_990_000 + n) for n, call in enumerate(people)}
    at_home = {call: rng.choice(habits.modes, size=int(rng.integers(1, 3))) for call in people}
    targets = {mode: _targets(rng, habits, mode) for mode in habits.modes}
    networks = [str(name) for name in rng.choice(["moorland", "valley", "coast", "harbour"], size=2, replace=False)]
    rows: list[Row] = []
    overs: list[Row] = []
    begin = to_us(habits.start)
    session = int(rng.integers(100, 90_000))
    for day in range(habits.days):
        clock = begin + day * 86_400 * SECOND + int(rng.integers(0, 3600)) * SECOND
        rows.append({"t": clock - 5 * SECOND, "event": "host-start"})
        end_of_day = begin + (day + 1) * 86_400 * SECOND - 1800 * SECOND
        pause = 86_400 / habits.overs_a_day
        while clock < end_of_day:
            mode = str(rng.choice(habits.modes))
            here = [call for call in people if mode in at_home[call]] or people
            talkers = [
                str(call) for call in rng.choice(here, size=min(len(here), int(rng.integers(1, 4))), replace=False)
            ]
            target = str(rng.choice(targets[mode])) if targets[mode] else None
            slot = int(rng.integers(1, 3)) if mode == SLOTTED else None
            linked = rng.random() < 0.45
            for turn in range(int(rng.integers(1, 8))):
                caller: str | None = talkers[turn % len(talkers)]
                side = "link" if linked and turn % 2 else "air"
                seconds = float(np.clip(rng.lognormal(2.3, 0.8), 0.4, habits.timeout_s))
                cause = (
                    "timeout"
                    if seconds >= habits.timeout_s or rng.random() < 0.01
                    else "lost"
                    if rng.random() < 0.06
                    else "released"
                )
                seconds = habits.timeout_s if cause == "timeout" else round(seconds, 3)
                station = (
                    None
                    if mode == "fm" or rng.random() < 0.03
                    else number[caller]
                    if habits.ids and mode == "dmr"
                    else caller
                )
                if station and not station.isdigit() and rng.random() < 0.06:
                    station += "/M"
                session += int(rng.integers(1, 4))
                same: Row = {
                    "mode": mode,
                    "slot": slot,
                    "side": side,
                    "station": station,
                    "target": target,
                    "session": str(session),
                }
                end = clock + round(seconds * 1_000) * 1_000
                measured = {
                    "ber_pct": round(float(rng.exponential(0.6)), 1) if side == "air" and mode != "fm" else None,
                    "loss_pct": round(float(rng.exponential(0.8)), 1) if side == "link" else None,
                    "rssi_dbm": -int(rng.integers(60, 118)) if side == "air" else None,
                }
                rows.append({"t": clock, "event": "over-start", **same})
                rows.append(
                    {
                        "t": end,
                        "event": "over-end",
                        "start": clock,
                        "seconds": seconds,
                        "cause": cause,
                        **same,
                        **measured,
                    }
                )
                overs.append({"start": clock, "end": end, "cause": cause, **same, "station": identity(station)})
                if rng.random() < 0.07 and len(habits.modes) > 1:
                    other = str(rng.choice([one for one in habits.modes if one != mode]))
                    rows.append(
                        {
                            "t": clock + round(seconds * 400_000),
                            "event": "refused",
                            "mode": other,
                            "slot": 1 if other == SLOTTED else None,
                            "side": "air",
                            "station": str(rng.choice(people)) if other != "fm" else None,
                            "target": None,
                            "reason": str(rng.choice(["other-mode", "busy", "lockout"], p=[0.8, 0.12, 0.08])),
                        }
                    )
                if slot and rng.random() < 0.25:  # somebody on the other slot meanwhile, for less long
                    spare = round(seconds * 0.6, 3)
                    if spare > 0.5:
                        session += 1
                        beside = {
                            **same,
                            "slot": 3 - slot,
                            "station": number[str(people[0])] if habits.ids else str(people[0]),
                            "session": str(session),
                        }
                        began, ended = clock + 200_000, clock + 200_000 + round(spare * 1000) * 1000
                        rows.append({"t": began, "event": "over-start", **beside})
                        rows.append(
                            {
                                "t": ended,
                                "event": "over-end",
                                "start": began,
                                "seconds": spare,
                                "cause": "released",
                                **beside,
                                **measured,
                            }
                        )
                        overs.append(
                            {
                                "start": began,
                                "end": ended,
                                "cause": "released",
                                **beside,
                                "station": identity(beside["station"]),
                            }
                        )
                clock = end + int(rng.lognormal(0.5, 0.7) * SECOND)
            clock += int(rng.exponential(pause * 4) * SECOND) + 2 * SECOND
        for _ in range(int(rng.integers(0, 3))):
            down = begin + day * 86_400 * SECOND + int(rng.integers(3600, 80_000)) * SECOND
            link = {"network": str(rng.choice(networks)), "mode": str(rng.choice(habits.modes))}
            rows.append({"t": down, "event": "link-down", **link})
            rows.append({"t": down + int(rng.integers(20, 4000)) * SECOND, "event": "link-up", **link})
    rows.sort(key=lambda row: (row["t"], row["event"] != "over-end"))
    overs.sort(key=lambda row: row["start"])
    return Book(rows, overs)
