"""Invented hosts that are held out: written after the learner, and it is not tuned on what comes of them."""

import json
from collections.abc import Iterator

import numpy as np

from shared.zones import SECOND
from tests.adopt.book import Book, Hand, Row, local


def _noise(rng: np.random.Generator, share: float, most: int = 4) -> range:
    return range(int(rng.random() < share) * int(rng.integers(1, most)))


def continental(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Dotted dates with two-digit years, decimal commas, one line an over with a unit that is written out."""
    names = {"dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "Analogue FM"}
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("%d.%m.%y %H:%M:%S")
        if row["event"] == "over-end":
            slot = f"/{row['slot']}" if row["slot"] else ""
            side = "wire" if row["side"] == "link" else "aerial"
            length = f"{row['seconds']:.1f}".replace(".", ",")
            yield (
                f"{at} Mouth shut: mode={names[row['mode']]}{slot}, from={side}, voice={row['station'] or '-'},"
                f" for={row['target'] or '-'}, {length} sec"
            )
        elif row["event"] == "refused":
            yield f"{at} Kept out: mode={names[row['mode']]}, voice={row['station'] or '-'}, because={row['reason']}"
        elif row["event"] in ("link-up", "link-down"):
            yield f"{at} Wire with network {row['network']}: {'made' if row['event'] == 'link-up' else 'broken'}"
        for _ in _noise(rng, 0.4):
            yield (
                f"{at} Supply {str(round(float(rng.uniform(12, 14)), 1)).replace('.', ',')} V, {rng.integers(1, 9)},{rng.integers(0, 9)} A"
            )


def daemons(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """The mode is the program that writes the line; ISO stamps in syslog's manner."""
    for row in book.rows:
        at = local(row["t"], "Europe/London").isoformat(timespec="milliseconds")
        program = row["mode"] or "cellar"
        head = f"{at} scar {program}[{200 + len(program)}]:"
        where = "aerial" if row["side"] == "air" else "wire"
        slot = f" ts{row['slot']}" if row["slot"] else ""
        match row["event"]:
            case "over-start":
                yield f"{head} mouth opens{slot} {where} voice={row['station'] or '-'} for={row['target'] or '-'}"
            case "over-end":
                yield f"{head} mouth shuts{slot} {where} voice={row['station'] or '-'} lasted={row['seconds']:.2f}s"
            case "refused":
                yield f"{head} kept out {where} voice={row['station'] or '-'}"
            case "alive":
                yield f"{head} all quiet"
        for _ in _noise(rng, 0.4):
            yield f"{at} scar cellar[206]: barrel {rng.integers(1, 40)}/{rng.integers(40, 90)} free"


def tags(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Marked-up elements with attributes, microseconds since 1970."""
    for row in book.rows:
        who, to = row["station"] or "", row["target"] or ""
        match row["event"]:
            case "over-start":
                slot = f' slot="{row["slot"]}"' if row["slot"] else ""
                yield f'<begin at="{row["t"]}" mode="{row["mode"]}"{slot} side="{row["side"]}" from="{who}" to="{to}"/>'
            case "over-end":
                slot = f' slot="{row["slot"]}"' if row["slot"] else ""
                yield (
                    f'<end at="{row["t"]}" mode="{row["mode"]}"{slot} side="{row["side"]}" from="{who}"'
                    f' ms="{round(row["seconds"] * 1000)}"/>'
                )
            case "refused":
                yield f'<refused at="{row["t"]}" mode="{row["mode"]}" from="{who}" why="{row["reason"]}"/>'
        for _ in _noise(rng, 0.4):
            yield (
                f'<gauge at="{row["t"]}" name="{rng.choice(["swr", "heat", "fan"])}" value="{rng.integers(1, 300) / 10}"/>'
            )


def logfmt(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """when="…" sev=… says="…" with values in quotes, the length in milliseconds with its unit."""
    names = {"dstar": "D-Star", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "Analog"}
    for row in book.rows:
        at = local(row["t"]).strftime("%Y-%m-%dT%H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}Z"
        same = f'mode="{names.get(row["mode"], "")}" leg="{"aerial" if row["side"] == "air" else "wire"}" station="{row["station"] or ""}"'
        same += f" timeslot={row['slot']}" if row["slot"] else ""
        match row["event"]:
            case "over-start":
                yield f'when="{at}" sev=low says="mouth opens" {same} group="{row["target"] or ""}"'
            case "over-end":
                yield f'when="{at}" sev=low says="mouth shuts" {same} lasted={round(row["seconds"] * 1000)}ms'
            case "refused":
                yield f'when="{at}" sev=mid says="kept out" {same} because="{row["reason"]}"'
            case "alive":
                yield f'when="{at}" sev=low says="all quiet"'
        for _ in _noise(rng, 0.45):
            yield f'when="{at}" sev=none says="barrel" depth={rng.integers(0, 99)} cellar="c{rng.integers(1, 5)}"'


def aligned(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Columns of fixed width, whole overs stamped when they began though written when they ended."""
    for row in book.rows:
        if row["event"] == "over-end":
            at = local(row["start"]).strftime("%Y/%m/%d %H:%M:%S.") + f"{row['start'] // 1000 % 1000:03d}"
            slot = f"TS{row['slot']}" if row["slot"] else "---"
            yield (
                f"{at}  VOICE  {row['mode'].upper():<6} {slot:<4} {'AERIAL' if row['side'] == 'air' else 'WIRE':<6}"
                f" {row['station'] or '---':<10} {row['target'] or '---':<10} {row['seconds']:9.3f}"
            )
        elif row["event"] in ("refused", "alive"):
            at = local(row["t"]).strftime("%Y/%m/%d %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
            yield f"{at}  {'DENY   ' + row['mode'].upper() if row['event'] == 'refused' else 'ALIVE'}"
        for _ in _noise(rng, 0.4):
            at = local(row["t"]).strftime("%Y/%m/%d %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
            yield f"{at}  STATUS temp {rng.integers(10, 50):3d} fan {rng.integers(0, 100):3d}"


def late_stamp(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """The stamp stands at the end of the line, the sentence before it."""
    names = {"dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for row in book.rows:
        at = local(row["t"]).strftime("%d %b %Y %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
        slot = f", time slot {row['slot']}," if row["slot"] else ""
        who = row["station"] or "an unnamed station"
        match row["event"]:
            case "over-start":
                yield (
                    f"{'Aerial' if row['side'] == 'air' else 'Wire'} opened for {who} in {names[row['mode']]}{slot} ({at})"
                )
            case "over-end":
                yield (
                    f"{'Aerial' if row['side'] == 'air' else 'Wire'} closed for {who} in {names[row['mode']]}{slot}"
                    f" after {row['seconds']:.1f} s ({at})"
                )
            case "refused":
                yield f"No admittance for {who} in {names[row['mode']]} ({at})"
            case "host-start":
                yield f"Clerk awake ({at})"
        for _ in _noise(rng, 0.35):
            yield f"Battery at {rng.integers(20, 100)} percent ({at})"


def deep_json(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """JSON with the kind of event two levels down, seconds since 1970 as a number with a fraction, starts and ends."""
    for row in book.rows:
        kind = {"over-start": "begin", "over-end": "finish", "refused": "denied", "alive": "alive"}.get(row["event"])
        if kind:
            body: Row = {"kind": kind}
            if row["mode"]:
                body |= {
                    "air": {"mode": row["mode"], "ts": row["slot"]},
                    "leg": {"air": "aerial", "link": "wire"}.get(row["side"]),
                    "caller": row["station"],
                }
            if kind == "begin":
                body["talkgroup"] = row["target"]
            if kind == "finish":
                body |= {"airtime": round(row["seconds"], 3), "cause": row["cause"]}
            yield json.dumps({"ts": row["t"] / SECOND, "event": body})
        for _ in _noise(rng, 0.4):
            yield json.dumps(
                {
                    "ts": row["t"] / SECOND,
                    "event": {"kind": "metric", "name": "load", "value": float(rng.integers(0, 400)) / 100},
                }
            )


def numbered(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Modes are bare numbers that nobody outside can know: what comes of it must be called poor."""
    code = {"dstar": 3, "dmr": 7, "c4fm": 2, "p25": 9, "m17": 4, "fm": 5}
    yield "epoch,what,system,ts,leg,id,secs"
    for row in book.rows:
        if row["event"] == "over-end":
            yield (
                f"{row['t'] // SECOND},voice,{code[row['mode']]},{row['slot'] or ''},{'aerial' if row['side'] == 'air' else 'wire'},{row['station'] or ''},{row['seconds']:.2f}"
            )
        for _ in _noise(rng, 0.4):
            yield f"{row['t'] // SECOND},env,,,,,{rng.integers(10, 40)}"


HELD = (
    Hand("daemons", daemons, step_s=0.01),
    Hand("logfmt", logfmt),
    Hand("aligned", aligned),
    Hand("late-stamp", late_stamp, step_s=0.06),
    Hand("deep-json", deep_json),
    Hand("numbered", numbered, step_s=1.0, knowable=False),
)

#: Held out at first as well; a day's log of the one, and the samples of the other, were looked at since.
LOOKED_AT = (
    Hand("continental", continental, zone="Europe/London", step_s=1.0),
    Hand("tags", tags),
)
