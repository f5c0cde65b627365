"""Invented hosts that were held out at first; what came of their first run was looked at since, so that they count as
seen.
"""

import json
from collections.abc import Iterator

import numpy as np

from shared.zones import SECOND
from tests.adopt.book import Book, Hand, local


def office(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Upper case, twelve-hour clock, month first, a level word, fields between bars."""
    names = {"dstar": "DSTAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("%m/%d/%Y %I:%M:%S %p")
        mode = names.get(row["mode"], "")
        slot = f"SLOT {row['slot']}" if row["slot"] else "NO SLOT"
        side = {"air": "FROM THE AERIAL", "link": "FROM THE WIRE", None: ""}[row["side"]]
        match row["event"]:
            case "over-start":
                yield (
                    f"{at} | NOTE | MOUTH OPENS | {mode} | {slot} | {side} | {row['station'] or 'N/A'} | FOR {row['target'] or 'N/A'}"
                )
            case "over-end":
                yield (
                    f"{at} | NOTE | MOUTH SHUTS | {mode} | {slot} | {side} | {row['station'] or 'N/A'} |"
                    f" {row['seconds']:.1f} SEC | WRONG BITS {row['ber_pct'] if row['ber_pct'] is not None else 0.0}%"
                )
            case "refused":
                yield f"{at} | LOOK | KEPT OUT | {mode} | {side} | {row['station'] or 'N/A'} | {row['reason'].upper()}"
            case "alive":
                yield f"{at} | NOTE | ALL QUIET"
            case "host-start":
                yield f"{at} | NOTE | PROGRAM AWAKE"
            case "host-stop":
                yield f"{at} | NOTE | PROGRAM ASLEEP"
        for _ in range(int(rng.random() < 0.5) * int(rng.integers(1, 4))):
            yield f"{at} | IDLE | INK AT {rng.integers(0, 4096)} DROPS, {rng.integers(0, 9)} BLOTS"


def arrows(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """The side is an arrow, the stamp in seconds with a fraction in brackets, one line an over as it ends."""
    for row in book.rows:
        at = f"[{row['t'] / SECOND:.2f}]"
        if row["event"] == "over-end":
            arrow = ">>" if row["side"] == "air" else "<<"
            mode = {
                "dmr": f"dmr:{row['slot']}",
                "dstar": "d-star",
                "c4fm": "c4fm",
                "fm": "fm",
                "p25": "p25",
                "m17": "m17",
            }[row["mode"]]
            heard = f" @{row['rssi_dbm']:.0f}dBm" if row["rssi_dbm"] is not None else ""
            yield (
                f"{at} {mode} {arrow} {row['station'] or '?'} => {row['target'] or '*'} ({row['seconds']:.2f}s){heard}"
            )
        elif row["event"] == "refused":
            yield f"{at} {row['mode']} xx {row['station'] or '?'} ({row['reason']})"
        elif row["event"] in ("link-up", "link-down"):
            yield f"{at} link {row['network']} {'joined' if row['event'] == 'link-up' else 'parted'}"
        for _ in range(int(rng.random() < 0.45) * int(rng.integers(1, 4))):
            yield f"{at} -- mixer {rng.choice(['idle', 'warm', 'resync'])} n={rng.integers(0, 999)}"


def coated(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """The journal's JSON around short sentences; start and end, the length in milliseconds at the end."""
    names = {"dstar": "D-Star", "dmr": "DMR", "c4fm": "C4FM", "p25": "APCO25", "m17": "M17", "fm": "Analogue"}

    def entry(t: int, text: str) -> str:
        return json.dumps(
            {
                "__REALTIME_TIMESTAMP": str(t),
                "PRIORITY": "6",
                "_PID": "733",
                "SYSLOG_IDENTIFIER": "voicebox",
                "MESSAGE": text,
            }
        )

    for row in book.rows:
        slot = f" (timeslot {row['slot']})" if row["slot"] else ""
        who = f"{row['station']}" if row["station"] else "anonymous"
        side = "over the air" if row["side"] == "air" else "via the link"
        match row["event"]:
            case "over-start":
                yield entry(row["t"], f"{names[row['mode']]}{slot}: {who} opens the mouth {side}")
            case "over-end":
                yield entry(
                    row["t"],
                    f"{names[row['mode']]}{slot}: {who} shuts the mouth {side}, {round(row['seconds'] * 1000)} ms on air",
                )
            case "refused":
                yield entry(row["t"], f"{names[row['mode']]}: {who} not admitted, {row['reason']}")
            case "host-start":
                yield entry(row["t"], "voicebox 1.9 started")
        for _ in range(int(rng.random() < 0.4) * int(rng.integers(1, 4))):
            yield entry(row["t"], f"codec load {rng.integers(1, 100)} percent, {rng.integers(1, 9)} threads")


def flat_json(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Flat JSON, whole overs stamped at their start in milliseconds, slot as a key of its own, errors as a fraction."""
    for row in sorted(book.rows, key=lambda row: row.get("start", row["t"])):
        at = row.get("start", row["t"]) // 1000
        if row["event"] == "over-end":
            said = {"t0": at, "rec": "spoken", "proto": row["mode"].upper(), "tslot": row["slot"] or 0, "via": "AERIAL" if row["side"] == "air" else "WIRE", "callsign": row["station"] or "",
                    "group": row["target"] or "", "ms": round(row["seconds"] * 1000)}  # fmt: skip
            if row["ber_pct"] is not None:
                said["biterr"] = round(row["ber_pct"] / 100, 5)
            yield json.dumps(said, separators=(",", ":"))
        elif row["event"] == "refused":
            yield json.dumps(
                {"t0": at, "rec": "kept-out", "proto": row["mode"].upper(), "callsign": row["station"] or ""},
                separators=(",", ":"),
            )
        for _ in range(int(rng.random() < 0.4) * int(rng.integers(1, 4))):
            yield json.dumps(
                {
                    "t0": at,
                    "rec": "env",
                    "volts": round(float(rng.uniform(11, 14)), 2),
                    "amps": round(float(rng.uniform(0, 5)), 2),
                },
                separators=(",", ":"),
            )


def bookkeeper(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """RFC 5424 syslog around key: value pairs in another order at start and end, the length as 1m02s."""
    host = "hilltop"
    for row in book.rows:
        at = local(row["t"]).strftime("%Y-%m-%dT%H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}Z"
        head = f"<134>1 {at} {host} keeper 52 - -"
        mode = row["mode"] + (f"-{row['slot']}" if row["slot"] else "") if row["mode"] else ""
        side = {"air": "aerial", "link": "wire", None: ""}[row["side"]]
        match row["event"]:
            case "over-start":
                yield (
                    f"{head} over begins; from: {side}; mode: {mode}; caller: {row['station'] or '-'}; group: {row['target'] or '-'}"
                )
            case "over-end":
                m, s = divmod(round(row["seconds"], 2), 60)
                length = f"{int(m)}m{s:05.2f}s" if m else f"{s:.2f}s"
                yield (
                    f"{head} over ends; mode: {mode}; lasted: {length}; from: {side}; caller: {row['station'] or '-'};"
                    f" cause: {row['cause']}"
                )
            case "refused":
                yield f"{head} caller refused; mode: {mode}; caller: {row['station'] or '-'}; because: {row['reason']}"
            case "alive":
                yield f"{head} still alive"
        for _ in range(int(rng.random() < 0.5) * int(rng.integers(1, 3))):
            yield f"{head} disk: {rng.integers(10, 99)}% used; inodes: {rng.integers(100, 999)}"


def sparse(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Time first and date after it, lower case, the mode behind the station, ends without a length."""
    names = {"dstar": "dstar", "dmr": "dmr", "c4fm": "c4fm", "p25": "p25", "m17": "m17", "fm": "analog"}
    for row in book.rows:
        at = (
            local(row["t"], "Europe/London").strftime("%H:%M:%S.")
            + f"{row['t'] // 1000 % 1000:03d}"
            + local(row["t"], "Europe/London").strftime(" %d-%m-%Y")
        )
        side = "wire" if row["side"] == "link" else "aerial"
        slot = f" s{row['slot']}" if row["slot"] else ""
        who = row["station"] or "unknown"
        match row["event"]:
            case "over-start":
                yield f"{at}  {side} mouth opens  {who} / {names[row['mode']]}{slot}"
            case "over-end":
                yield f"{at}  {side} mouth shuts  {who} / {names[row['mode']]}{slot}"
            case "refused":
                yield f"{at}  {side} kept out     {who} / {names[row['mode']]} {row['reason']}"
            case "carrier-up":
                yield f"{at}  input hum rises {row['rssi_dbm']}"
            case "carrier-down":
                yield f"{at}  input hum falls"
        for _ in range(int(rng.random() < 0.4) * int(rng.integers(1, 4))):
            yield f"{at}  poll {rng.integers(1, 64)} ok {rng.integers(1, 400)}us"


def tabbed(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Tabs between columns with a header line, ISO stamps with an offset, whole overs at their end, minutes and
    seconds.
    """
    yield "stamp\tevent\tlasted\tside\trssi\tloss\tmode\tslot\twished for\tvoice"
    for row in book.rows:
        at = local(row["t"], "Europe/London").isoformat(timespec="milliseconds")
        if row["event"] == "over-end":
            m, s = divmod(row["seconds"], 60)
            cells = [at, "over", f"{int(m):02d}:{int(s * 100) / 100:05.2f}", row["side"], "" if row["rssi_dbm"] is None else row["rssi_dbm"],
                     "" if row["loss_pct"] is None else row["loss_pct"], row["mode"], row["slot"] or "", row["target"] or "", row["station"] or ""]  # fmt: skip
            yield "\t".join(str(cell) for cell in cells)
        elif row["event"] == "refused":
            yield "\t".join([at, "refused", "", row["side"], "", "", row["mode"], "", "", row["station"] or ""])
        elif row["event"] in ("carrier-up", "carrier-down"):
            yield "\t".join([at, row["event"], "", "", str(row["rssi_dbm"] or ""), "", "", "", "", ""])
        for _ in range(int(rng.random() < 0.3) * int(rng.integers(1, 4))):
            yield "\t".join([at, "temperature", "", "", str(rng.integers(10, 40)), *[""] * 5])


def _noise(rng: np.random.Generator, share: float, most: int = 4) -> range:
    return range(int(rng.random() < share) * int(rng.integers(1, most)))


def shorthand(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """B and E for begin and end, one letter for the side, the mode and slot in one word, stamps without a year."""
    names = {"dstar": "DSTAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "NFM"}
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("%b %d %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
        mode = f"{names.get(row['mode'], '')}{row['slot'] or ''}"
        side = "W" if row["side"] == "link" else "A"
        if row["event"] == "over-start":
            yield f"{at} B {side} {mode} {row['station'] or '-'}"
        elif row["event"] == "over-end":
            yield f"{at} E {side} {mode} {row['station'] or '-'} {row['seconds']:.2f}"
        elif row["event"] == "refused":
            yield f"{at} R {side} {mode} {row['station'] or '-'}"
        for _ in _noise(rng, 0.45):
            yield f"{at} M {rng.integers(0, 99)} {rng.integers(0, 99)}"


def chatty(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Four lines an over, levels while it lasts, a number on every line; the length is in the last one."""
    names = {"dstar": "DSTAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for count, row in enumerate(book.rows, 1):
        at = local(row["t"]).strftime("%Y-%m-%d %H:%M:%S,") + f"{row['t'] // 1000 % 1000:03d}"
        slot = f" slot {row['slot']}" if row["slot"] else ""
        what = f"{names.get(row['mode'], '')}{slot} {'aerial' if row['side'] == 'air' else 'wire'}"
        match row["event"]:
            case "over-start":
                yield f"{at} #{count} [{what}] mouth opens"
                yield f"{at} #{count} [{what}] it is {row['station'] or '-'} who wishes for {row['target'] or '-'}"
            case "over-end":
                if row["rssi_dbm"] is not None:
                    yield (
                        f"{at} #{count} [{what}] ear: strength {row['rssi_dbm']} dBm, wrong bits {row['ber_pct'] or 0.0} %"
                    )
                yield f"{at} #{count} [{what}] mouth shuts, lasted {row['seconds']:.2f} s"
            case "refused":
                yield f"{at} #{count} [{what}] kept out {row['station'] or '-'}"
        for _ in _noise(rng, 0.3):
            yield f"{at} #{count} [cellar] water {rng.integers(100, 900)} cm"


def pipes(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Bars without blanks and no header, milliseconds since 1970, percent of bit errors as a fraction, frames of 20
    ms.
    """
    for row in book.rows:
        at = row["t"] // 1000
        if row["event"] in ("over-start", "over-end"):
            last = "" if row["event"] == "over-start" else str(round(row["seconds"] / 0.02))
            errors = "" if row["ber_pct"] is None else f"{row['ber_pct'] / 100:.4f}"
            kind = "OPENS" if row["event"] == "over-start" else "SHUTS"
            yield (
                f"{at}|{kind}|{row['mode'].upper()}|{row['slot'] or 0}|{'AERIAL' if row['side'] == 'air' else 'WIRE'}|{row['station'] or ''}|{row['target'] or ''}|{last}|{errors}"
            )
        elif row["event"] == "refused":
            yield f"{at}|KEPT OUT|{row['mode'].upper()}|0|AERIAL|{row['station'] or ''}|||"
        for _ in _noise(rng, 0.4):
            yield f"{at}|ENV||||||{rng.integers(10, 50)}|"


def whole_seconds(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Epoch seconds without a fraction, prose at the end only; the side in a verb, the slot as a word."""
    names = {"dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25", "m17": "M17", "fm": "FM"}
    for row in book.rows:
        at = row["t"] // SECOND
        if row["event"] == "over-end":
            slot = f" on slot {row['slot']}" if row["slot"] else ""
            verb = "caught from the aerial" if row["side"] == "air" else "drawn from the wire"
            yield f"{at} {verb} {row['station'] or 'unknown'} {names[row['mode']]}{slot} {row['seconds']:.1f} sec"
        elif row["event"] == "host-start":
            yield f"{at} box awake"
        for _ in _noise(rng, 0.4):
            yield f"{at} rain {rng.integers(0, 9)} mm wind {rng.integers(0, 90)} mph"


SHOWN = (
    Hand("office", office, zone="Europe/London", step_s=1.0),
    Hand("arrows", arrows, step_s=0.01),
    Hand("coated", coated),
    Hand("flat-json", flat_json),
    Hand("bookkeeper", bookkeeper, step_s=0.01),
    Hand("sparse", sparse, zone="Europe/London", step_s=0.01),
    Hand("tabbed", tabbed, step_s=0.02),
    Hand("shorthand", shorthand, zone="Europe/London", step_s=0.01),
    Hand("chatty", chatty, step_s=0.01),
    Hand("whole-seconds", whole_seconds, step_s=1.0),
    Hand("pipes", pipes, step_s=0.02),
)
