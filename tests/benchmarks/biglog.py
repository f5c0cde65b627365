"""A plain big log for measuring intake, in the dialect brackenfell-a: quick to write, and what it holds is known
exactly.

Its traffic is no model of anything: overs follow one another without overlap, so that airtime is the sum of their
lengths. 60 % of the lines are starts and ends of overs, 30 % of no interest, 0.5 % rubbish, the rest other events."""

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from server.demo.handwriting import DIALECTS, Handwriting
from shared.columns import EVENT_SCHEMA

BLOCK_LINES = 250_000
FIRST_MS = 1_767_225_600_000  # 2026-01-01T00:00:00Z
OVER, NOISE, RUBBISH = 0.6, 0.3, 0.005
#: The streams that overs come in: constants of a row, and how often.
STREAMS: tuple[tuple[dict[str, Any], float], ...] = (
    ({"mode": "dmr", "slot": 1, "side": "air"}, 0.2),
    ({"mode": "dmr", "slot": 2, "side": "air"}, 0.2),
    ({"mode": "dmr", "slot": 1, "side": "link"}, 0.15),
    ({"mode": "dstar", "slot": None, "side": "air"}, 0.2),
    ({"mode": "c4fm", "slot": None, "side": "air"}, 0.15),
    ({"mode": "c4fm", "slot": None, "side": "link"}, 0.1),
)
OTHERS: tuple[dict[str, Any], ...] = (
    {"event": "refused", "mode": "dstar", "side": "air", "station": "QA1XYZ", "reason": "other-mode"},
    {"event": "refused", "mode": "dmr", "side": "air", "station": "9994007", "reason": "busy"},
    {"event": "carrier-up", "rssi_dbm": -110.5},
    {"event": "carrier-down"},
    {"event": "alive"},
)
#: Long ones, and long idle talk, so that a line has about 105 bytes as real hosts' lines do.
TARGETS = (
    "99950 All fells and dales, slot one",
    "99901 Brackenfell chat, both banks of it",
    "99930 Upper fells by way of the wire",
    "FELLS C Fells of the world, module C",
    "Sheepfold group, the small one upstairs",
    "GreatMoot group, the one of all moors",
)
IDLE_HEAD, IDLE_TAIL = (
    "buffer ",
    " of 1048576, nothing late, nothing lost, fan at rest, cabinet dry, mains steady, door shut",
)
OPEN = ("t", "station", "target", "seconds", "duration", "ber_pct", "loss_pct", "rssi_dbm")


@dataclass
class BigLog:
    """What was written."""

    lines: int = 0
    overs: int = 0
    ignored: int = 0
    unread: int = 0
    airtime_s: dict[str, float] = field(default_factory=dict)  #: by mode, exact to the millisecond


def write_biglog(
    path: Path, lines: int = 5_000_000, seed: int = 1, dialect: Path = DIALECTS / "brackenfell-a.toml"
) -> BigLog:
    """Writes `lines` lines with rising stamps to `path`, the same ones for the same seed, and tells what they hold."""
    rng = np.random.default_rng(seed)
    hand = Handwriting(dialect)
    written, clock_ms = BigLog(), FIRST_MS
    milliseconds: dict[str, int] = {}
    with open(path, "wb") as out:
        while written.lines < lines:
            text, clock_ms = _block(rng, hand, min(BLOCK_LINES, lines - written.lines), clock_ms, written, milliseconds)
            out.write(text.encode() + b"\n")
    written.airtime_s = {mode: total / 1000 for mode, total in milliseconds.items()}
    return written


def _block(
    rng: np.random.Generator, hand: Handwriting, n: int, clock_ms: int, written: BigLog, milliseconds: dict[str, int]
) -> tuple[str, int]:
    draw = rng.random(n)
    overs = np.flatnonzero(draw < OVER)
    starts, ends = overs[0 : len(overs) - 1 : 2], overs[1::2]
    stamps = clock_ms + np.cumsum(rng.integers(40, 9000, size=n))
    stream = rng.choice(len(STREAMS), size=len(starts), p=[share for _, share in STREAMS])
    lengths = stamps[ends] - stamps[starts]
    noise = np.flatnonzero((draw >= OVER) & (draw < OVER + NOISE))
    rubbish = np.flatnonzero((draw >= OVER + NOISE) & (draw < OVER + NOISE + RUBBISH))
    rest = np.flatnonzero(draw >= OVER + NOISE + RUBBISH)
    if len(overs) % 2:
        rest = np.append(rest, overs[-1])
    parts = []
    for which, (same, _) in enumerate(STREAMS):
        mine = np.flatnonzero(stream == which)
        who = _people(rng, same["mode"], len(mine))
        columns = {"station": who, "target": TARGETS[which]}
        parts.append(_texts(hand, {"event": "over-start", **same}, starts[mine], stamps, columns))
        levels = {"rssi_dbm": _decimals(rng, -1200, -700, len(mine)), "ber_pct": _decimals(rng, 0, 60, len(mine))}
        if same["side"] == "link":
            levels = {"loss_pct": _decimals(rng, 0, 60, len(mine))}
        told = {**columns, **levels, "seconds": pl.Series(lengths[mine] / 1000)}
        parts.append(_texts(hand, {"event": "over-end", "cause": "released", **same}, ends[mine], stamps, told))
        milliseconds[same["mode"]] = milliseconds.get(same["mode"], 0) + int(lengths[mine].sum())
    for which, row in enumerate(OTHERS):
        parts.append(_texts(hand, row, rest[which :: len(OTHERS)], stamps, {}))
    shapes = [shape for shape in hand.file["line"] if shape["event"] == "ignore" and "text" in shape]
    for which, shape in enumerate(shapes):
        at = noise[which :: len(shapes)]
        idle = pl.Series(at).cast(pl.String)
        texts, holes = hand.template_of(
            {**shape, "text": shape["text"].replace("{_}", "{station}"), "sample": []}, {}, ("t", "station")
        )
        parts.append(_fill(hand, texts, holes, at, stamps, {"station": IDLE_HEAD + idle + IDLE_TAIL}))
    garbled = pl.Series(rubbish).cast(pl.String)
    parts.append(
        pl.DataFrame({"at": rubbish, "text": "@@ " + garbled + " bytes dropped, buffer overrun ~~ " + garbled + " ??"})
    )
    written.lines += n
    written.overs += len(starts)
    written.ignored += len(noise)
    written.unread += len(rubbish)
    return pl.concat(parts).sort("at")["text"].str.join("\n")[0], int(stamps[-1])


def _people(rng: np.random.Generator, mode: str, n: int) -> pl.Series:
    numbers = pl.Series(rng.integers(100, 999, size=n)).cast(pl.String)
    return (
        "9994" + numbers
        if mode == "dmr"
        else "QA"
        + numbers.str.slice(0, 1)
        + "XY"
        + numbers.str.slice(1, 1).replace_strict(list("0123456789"), list("ABCDEFGHJK"))
    )


def _decimals(rng: np.random.Generator, low: int, high: int, n: int) -> pl.Series:
    return pl.Series(rng.integers(low, high, size=n) / 10)


def _texts(
    hand: Handwriting, same: dict[str, Any], at: np.ndarray, stamps: np.ndarray, columns: dict[str, Any]
) -> pl.DataFrame:
    """Lines of one sort of row: `same` holds what all have in common, `columns` what differs."""
    model: dict[str, Any] = dict.fromkeys(EVENT_SCHEMA) | same
    model |= {key: "x" if EVENT_SCHEMA[key] == pl.String() else 1.0 for key in columns} | {"t": 0}
    return _fill(hand, *hand.template(model, tuple(key for key in OPEN if key not in same)), at, stamps, columns)


def _fill(
    hand: Handwriting, texts: list[str], holes: list[str], at: np.ndarray, stamps: np.ndarray, columns: dict[str, Any]
) -> pl.DataFrame:
    if not len(at):
        return pl.DataFrame(schema={"at": pl.Int64, "text": pl.String})
    moments = pl.Series(stamps[at]).cast(pl.Datetime("ms")).dt.strftime("%Y-%m-%dT%H:%M:%S%.3fZ")
    given: dict[str, Any] = {**columns, "t": moments}
    parts: list[pl.Expr] = [pl.lit(texts[0])]
    for hole, text in zip(holes, texts[1:], strict=True):
        value = given.get("seconds" if hole == "duration" else hole)
        column = pl.lit("" if value is None else value)
        if hole in ("seconds", "duration"):
            column = _spelt(hand, hole, column)
        parts += [column.cast(pl.String), pl.lit(hand.signs.get(hole, "") + text)]
    return pl.DataFrame({"at": at}).select("at", text=pl.concat_str(parts))


def _spelt(hand: Handwriting, hole: str, seconds: pl.Expr) -> pl.Expr:
    if hole == "duration":
        return pl.concat_str([seconds.round(3).cast(pl.String), pl.lit("s")])
    return (seconds * 1000).round().cast(pl.Int64) if hand.unit.get("seconds") == "ms" else seconds.round(3)


if __name__ == "__main__":
    print(write_biglog(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 5_000_000))
