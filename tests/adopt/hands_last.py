"""Invented hosts that are held out too: written when the learner was done, to make the unseen as many as the seen."""

import json
from collections.abc import Iterator

import numpy as np

from tests.adopt.book import Book, Hand, local


def _noise(rng: np.random.Generator, share: float, most: int = 4) -> range:
    return range(int(rng.random() < share) * int(rng.integers(1, most)))


def lantern(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """The journal's JSON around key=value; one line an over, seconds with a unit."""
    names = {"dstar": "DStar", "dmr": "DMR", "c4fm": "C4FM", "p25": "P-25", "m17": "M17", "fm": "analogue"}
    for row in book.rows:
        text = None
        if row["event"] == "over-end":
            slot = f" slot={row['slot']}" if row["slot"] else ""
            text = (
                f"over mode={names[row['mode']]}{slot} origin={'aerial' if row['side'] == 'air' else 'wire'}"
                f" who={row['station'] or 'unknown'} took={row['seconds']:.2f}s end={row['cause']}"
            )
        elif row["event"] == "refused":
            text = f"turned-away mode={names[row['mode']]} who={row['station'] or 'unknown'} because={row['reason']}"
        if text:
            yield json.dumps({"MESSAGE": text, "__REALTIME_TIMESTAMP": str(row["t"]), "_HOSTNAME": "lantern"})
        for _ in _noise(rng, 0.4):
            yield json.dumps(
                {
                    "MESSAGE": f"tick jitter={rng.integers(0, 90)}us",
                    "__REALTIME_TIMESTAMP": str(row["t"]),
                    "_HOSTNAME": "lantern",
                }
            )


def minutes(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """A bracketed month in letters, starts and ends in plain words, lengths as minutes:seconds, level words in
    front.
    """
    names = {"dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("[%d %b %Y, %H:%M:%S]")
        side = "on the air" if row["side"] == "air" else "from the link"
        mode = names.get(row["mode"], "") + (f" TS{row['slot']}" if row["slot"] else "")
        who = row["station"] or "no call"
        if row["event"] == "over-start":
            yield f"{at} INFO {mode}: {who} {side}, mouth opens"
        elif row["event"] == "over-end":
            m, s = divmod(round(row["seconds"]), 60)
            yield f"{at} INFO {mode}: {who} {side}, mouth shuts, total {m}:{s:02d}"
        elif row["event"] == "refused":
            yield f"{at} WARNING {mode}: {who} {side}, kept out"
        for _ in _noise(rng, 0.4):
            yield f"{at} DEBUG scheduler: {rng.integers(1, 30)} jobs, next in {rng.integers(1, 900)} s"


def spreadsheet(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """csv with quotes and a header, day first without a fraction, starts and ends in a column, percent signs."""
    yield '"Day","Done","System","Slot","Path","Who","Wished for","Seconds","Wrong bits","Strength"'
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("%d/%m/%Y %H:%M:%S")
        path = {"air": "Aerial", "link": "Wire", None: ""}[row["side"]]
        cells: list[object] = []
        if row["event"] == "over-start":
            cells = [
                at,
                "Started",
                (row["mode"] or "").upper(),
                row["slot"] or "",
                path,
                row["station"] or "",
                row["target"] or "",
                "",
                "",
                "",
            ]
        elif row["event"] == "over-end":
            cells = [at, "Ended", row["mode"].upper(), row["slot"] or "", path, row["station"] or "", row["target"] or "", f"{row['seconds']:.2f}",
                     "" if row["ber_pct"] is None else f"{row['ber_pct']}%", "" if row["rssi_dbm"] is None else f"{row['rssi_dbm']} dBm"]  # fmt: skip
        elif row["event"] == "refused":
            cells = [at, "Refused", row["mode"].upper(), "", path, row["station"] or "", "", "", "", ""]
        if cells:
            yield ",".join(f'"{cell}"' for cell in cells)
        for _ in _noise(rng, 0.4):
            yield ",".join(
                f'"{cell}"' for cell in [at, "Reading", "", "", "", "", "", "", "", f"{rng.integers(10, 40)} C"]
            )


def braces(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Curly brackets around lists, upper-case months, a fraction of a second, frames of 60 ms."""
    names = {"dstar": "DSTAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for row in book.rows:
        at = local(row["t"]).strftime("%Y%m%d %H%M%S.") + f"{row['t'] // 1000 % 1000:03d}"
        if row["event"] in ("over-start", "over-end"):
            mode = names[row["mode"]] + (f"-{row['slot']}" if row["slot"] else "")
            what = "up" if row["event"] == "over-start" else f"down frames={round(row['seconds'] / 0.06)}"
            yield (
                f"{at} {{{mode}}} {{{'local' if row['side'] == 'air' else 'peer'}}} {{{row['station'] or '-'}}} {what}"
            )
        elif row["event"] == "refused":
            yield f"{at} {{{names[row['mode']]}}} {{local}} {{{row['station'] or '-'}}} blocked"
        for _ in _noise(rng, 0.4):
            yield f"{at} {{loop}} {rng.integers(1, 90)} us"


def switched(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """JSON where one key says both mode and event; start and end, slot in the mode's name, length in milliseconds."""
    for row in book.rows:
        at = local(row["t"]).strftime("%Y-%m-%d %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
        if row["event"] in ("over-start", "over-end"):
            mode = row["mode"].upper() + (f" {row['slot']}" if row["slot"] else "")
            said = {
                "when": at,
                "state": "open" if row["event"] == "over-start" else "closed",
                "channel": mode,
                "in": "antenna" if row["side"] == "air" else "internet",
            }
            said |= (
                {"who": row["station"] or "-"}
                if row["event"] == "over-start"
                else {"len_ms": round(row["seconds"] * 1000), "who": row["station"] or "-"}
            )
            yield json.dumps(said)
        elif row["event"] == "refused":
            yield json.dumps(
                {
                    "when": at,
                    "state": "refused",
                    "channel": row["mode"].upper(),
                    "in": "antenna",
                    "who": row["station"] or "-",
                }
            )
        for _ in _noise(rng, 0.4):
            yield json.dumps({"when": at, "state": "sample", "psu": round(float(rng.uniform(12, 14)), 2)})


LAST = (
    Hand("lantern", lantern, step_s=0.01),
    Hand("minutes", minutes, zone="Europe/London", step_s=1.0),
    Hand("spreadsheet", spreadsheet, zone="Europe/London", step_s=1.0),
    Hand("braces", braces, step_s=0.06),
    Hand("switched", switched),
)
