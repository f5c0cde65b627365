"""Invented hosts that the learner was tuned on. Each function writes the same week in its own manner, with noise of its
own.
"""

import json
from collections.abc import Iterator

import numpy as np

from shared.zones import SECOND
from tests.adopt.book import Book, Hand, local

LABEL = {
    "dstar": "D-STAR",
    "dmr": "DMR",
    "c4fm": "C4FM",
    "p25": "P25",
    "nxdn": "NXDN",
    "m17": "M17",
    "fm": "FM",
    "pocsag": "POCSAG",
}


def _chatter(rng: np.random.Generator, share: float) -> int:
    return int(rng.random() < share) * int(rng.integers(1, 4))


def _quoted(value: object) -> str:
    return f'"{value}"' if " " in str(value) else str(value)


def storyteller(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Prose, one sentence a line, start and end of each over."""
    for row in book.rows:
        at = local(row["t"]).strftime("%Y-%m-%d %H:%M:%S.") + f"{row['t'] // 1000 % 1000:03d}"
        where = "from the aerial" if row["side"] == "air" else "from the wire"
        what = LABEL.get(row["mode"], "") + (f" slot {row['slot']}" if row["slot"] else "")
        who = row["station"] or "nobody we know"
        match row["event"]:
            case "over-start":
                yield f"{at} {who} opens the mouth in {what} {where}, and wishes for {row['target'] or 'everybody'}."
            case "over-end":
                why = {"released": "let the key go", "timeout": "ran out of time", "lost": "faded away"}[row["cause"]]
                level = (
                    f" Strength {row['rssi_dbm']} dBm, errors {row['ber_pct']} %."
                    if row["rssi_dbm"] is not None
                    else ""
                )
                yield f"{at} {who} in {what} {where} {why} after {row['seconds']:.1f} seconds.{level}"
            case "refused":
                yield f"{at} {who} was sent away in {what}: {row['reason'].replace('-', ' ')}."
            case "carrier-up":
                yield f"{at} A hum rises from the input at {row['rssi_dbm']} dBm."
            case "carrier-down":
                yield f"{at} The hum has gone."
            case "link-up" | "link-down":
                yield f"{at} The wire with network {row['network']} is {'up' if row['event'] == 'link-up' else 'down'}."
            case "host-start":
                yield f"{at} The program woke, print 3."
            case "alive":
                yield f"{at} All is well."
            case "page":
                yield f"{at} A page was sent to {row['target']}."
        for _ in range(_chatter(rng, 0.35)):
            yield (
                f"{at} The cabinet is at {rng.integers(18, 40)} degrees and the fan turns at {rng.integers(500, 3000)} rpm."
            )


def telegraph(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """As few characters as will do; the side is a letter, the sign says whether it begins or ends."""
    code = {
        "dstar": "DV",
        "dmr": "DMR",
        "c4fm": "C4FM",
        "p25": "P25",
        "nxdn": "NXDN",
        "m17": "M17",
        "fm": "ANA",
        "pocsag": "POC",
    }
    for row in book.rows:
        at = local(row["t"], "Europe/London").strftime("%y%m%d-%H%M%S")
        side = "A" if row["side"] == "air" else "W"
        mode = code.get(row["mode"], "") + (f"/{row['slot']}" if row["slot"] else "")
        match row["event"]:
            case "over-start":
                yield f"{at} {side}+ {mode} {row['station'] or '-'} {row['target'] or '-'}"
            case "over-end":
                yield f"{at} {side}- {mode} {row['station'] or '-'} {row['seconds']:.2f}"
            case "refused":
                yield f"{at} {side}! {mode} {row['station'] or '-'} {row['reason']}"
            case "alive":
                yield f"{at} ."
            case "host-start":
                yield f"{at} boot"
            case "link-up":
                yield f"{at} link {row['network']} up"
            case "link-down":
                yield f"{at} link {row['network']} down"
        for _ in range(_chatter(rng, 0.4)):
            yield f"{at} dbg q={rng.integers(0, 64)} j={rng.integers(0, 9)}"


def pairs(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """key=value, milliseconds since 1970, empty keys left out."""
    for row in book.rows:
        said: dict[str, object] = {"ts": row["t"] // 1000}
        same = {
            "sys": row["mode"],
            "leg": {"air": "aerial", "link": "wire", None: None}[row["side"]],
            "ts_no": row["slot"],
            "src": row["station"],
            "dst": row["target"],
        }
        match row["event"]:
            case "over-start":
                said |= {"ev": "mouth_opens", **same}
            case "over-end":
                said |= {
                    "ev": "mouth_shuts",
                    **same,
                    "dur_ms": round(row["seconds"] * 1000),
                    "why": row["cause"],
                    "ber": row["ber_pct"],
                    "rssi": row["rssi_dbm"],
                    "loss": row["loss_pct"],
                }
            case "refused":
                said |= {"ev": "kept_out", **same, "why": row["reason"]}
            case "link-up" | "link-down":
                said |= {"ev": row["event"].replace("-", "_"), "net": row["network"]}
            case "alive":
                said |= {"ev": "tick", "temp": int(rng.integers(20, 40))}
            case "carrier-up" | "carrier-down":
                said |= {"ev": row["event"].replace("-", "_"), "rssi": row["rssi_dbm"]}
            case _:
                continue
        yield " ".join(f"{key}={_quoted(value)}" for key, value in said.items() if value is not None)
        for _ in range(_chatter(rng, 0.3)):
            yield (
                f"ts={row['t'] // 1000} ev=stats cpu={rng.integers(1, 99)} mem={rng.integers(100, 900)} temp={rng.integers(20, 60)}"
            )


def nested(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """JSON with objects in it, ISO stamps with an offset, one record an over when it has ended."""
    for row in book.rows:
        if row["event"] == "over-end":
            voice = {
                "mode": LABEL[row["mode"]],
                "slot": row["slot"],
                "came_from": {"air": "aerial", "link": "wire"}[row["side"]],
            }
            who = {"sign": row["station"], "wished_for": row["target"]}
            ear = {
                "wrong_bits": None if row["ber_pct"] is None else row["ber_pct"] / 100,
                "dbm": row["rssi_dbm"],
                "lost": row["loss_pct"],
            }
            yield json.dumps(
                {
                    "time": local(row["t"], "Europe/London").isoformat(),
                    "entry": "spoken",
                    "voice": voice,
                    "who": who,
                    "lasted": row["seconds"],
                    "ear": ear,
                    "fell_silent": row["cause"],
                }
            )
        elif row["event"] == "refused":
            yield json.dumps(
                {
                    "time": local(row["t"], "Europe/London").isoformat(),
                    "entry": "kept out",
                    "voice": {"mode": LABEL[row["mode"]]},
                    "who": {"sign": row["station"]},
                    "because": row["reason"],
                }
            )
        elif row["event"] == "alive":
            yield json.dumps(
                {
                    "time": local(row["t"], "Europe/London").isoformat(),
                    "entry": "alive",
                    "since": int(rng.integers(1, 10**6)),
                }
            )
        for _ in range(_chatter(rng, 0.35)):
            yield json.dumps(
                {
                    "time": local(row["t"], "Europe/London").isoformat(),
                    "entry": "weather",
                    "name": str(rng.choice(["cabinet", "mains", "wind"])),
                    "value": float(rng.integers(0, 500) / 10),
                }
            )


def ledger_rows(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """csv with semicolons, a header, decimal commas, day first; whole overs stamped when they began."""
    yield "when;entry;mode;slot;heard on;caller;called;lasted;bit errors;level"
    written = []
    for row in book.rows:
        if row["event"] == "over-end":
            at = (
                local(row["start"], "Europe/London").strftime("%d.%m.%Y %H:%M:%S,")
                + f"{row['start'] // 1000 % 1000:03d}"
            )
            cells = [at, "over", LABEL[row["mode"]], row["slot"] or "", "aerial" if row["side"] == "air" else "wire", row["station"] or "",
                     row["target"] or "", f"{row['seconds']:.3f}".replace(".", ","), "" if row["ber_pct"] is None else f"{row['ber_pct']}%".replace(".", ","),
                     "" if row["rssi_dbm"] is None else f"{row['rssi_dbm']}".replace(".", ",")]  # fmt: skip
            written.append((row["t"], ";".join(str(cell) for cell in cells)))
        elif row["event"] in ("refused", "alive"):
            at = local(row["t"], "Europe/London").strftime("%d.%m.%Y %H:%M:%S,") + f"{row['t'] // 1000 % 1000:03d}"
            cells = (
                [at, "refusal", LABEL[row["mode"]], "", "aerial", row["station"] or "", "", "", "", ""]
                if row["event"] == "refused"
                else [at, "pulse", *[""] * 8]
            )
            written.append((row["t"], ";".join(cells)))
        for _ in range(_chatter(rng, 0.3)):
            at = local(row["t"], "Europe/London").strftime("%d.%m.%Y %H:%M:%S,") + f"{row['t'] // 1000 % 1000:03d}"
            written.append((row["t"], f"{at};temperature;;;;;;;;{rng.integers(18, 40)}"))
    for _, line in written:
        yield line


def clerk(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """syslog without a year; the mode in brackets, lengths as minutes and seconds, one line an over."""
    for row in book.rows:
        at = local(row["t"], "Europe/London")
        head = f"{at:%b} {at.day:2d} {at:%H:%M:%S} hollow speakd[{811}]:"
        match row["event"]:
            case "over-end":
                m, s = divmod(row["seconds"], 60)
                slot = f" TS{row['slot']}" if row["slot"] else ""
                who = row["station"] or "unknown"
                yield (
                    f"{head} [{LABEL[row['mode']]}{slot}] mouth of {who} shut, heard from the"
                    f" {'aerial' if row['side'] == 'air' else 'wire'} for {int(m)}:{s:04.1f}"
                )
            case "refused":
                yield f"{head} [{LABEL[row['mode']]}] mouth of {row['station'] or 'unknown'} kept out ({row['reason']})"
            case "host-start":
                yield f"{head} program woke, print 77"
            case "host-stop":
                yield f"{head} program asleep"
            case "link-up" | "link-down":
                yield f"{head} wire with network {row['network']} {'made' if row['event'] == 'link-up' else 'broken'}"
        for _ in range(_chatter(rng, 0.4)):
            yield f"{head} {rng.choice(['first shelf', 'second shelf', 'long shelf'])} depth {rng.integers(0, 30)}"


def columns_only(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """csv without a header, seconds since 1970, start and end as a word, 60 ms frames."""
    for row in book.rows:
        at = f"{row['t'] / SECOND:.3f}"
        mode = {
            "dstar": "dstar",
            "dmr": f"dmr{row['slot']}",
            "c4fm": "c4fm",
            "p25": "p25",
            "m17": "m17",
            "fm": "analog",
        }.get(row["mode"], "")
        side = "wire" if row["side"] == "link" else "aerial"
        if row["event"] == "over-start":
            yield f"{at},begin,{mode},{side},{row['station'] or ''},{row['target'] or ''},,"
        elif row["event"] == "over-end":
            yield (
                f"{at},end,{mode},{side},{row['station'] or ''},{row['target'] or ''},{round(row['seconds'] / 0.06)},{'' if row['rssi_dbm'] is None else row['rssi_dbm']}"
            )
        elif row["event"] == "refused":
            yield f"{at},reject,{mode},{side},{row['station'] or ''},,,"
        for _ in range(_chatter(rng, 0.35)):
            yield f"{at},temp,,,,,{rng.integers(20, 40)},"


def three_lines(book: Book, rng: np.random.Generator) -> Iterator[str]:
    """Three lines an over: the mouth opens, its owner is named, the mouth shuts; levels in between."""
    for row in book.rows:
        at = local(row["t"]).strftime("[%Y-%b-%d %H.%M.%S,") + f"{row['t'] // 1000 % 1000:03d}]"
        port = f"{LABEL.get(row['mode'], '')}{'' if not row['slot'] else '-' + str(row['slot'])}"
        leg = "aerial" if row["side"] == "air" else "wire"
        match row["event"]:
            case "over-start":
                yield f"{at} {port} {leg}: mouth opens"
                soon = (
                    local(row["t"] + 60_000).strftime("[%Y-%b-%d %H.%M.%S,")
                    + f"{(row['t'] + 60_000) // 1000 % 1000:03d}]"
                )
                yield f"{soon} {port} {leg}: it is {row['station'] or '?'} who wishes for {row['target'] or 'all'}"
            case "over-end":
                if row["rssi_dbm"] is not None:
                    yield f"{at} {port} {leg}: strength {row['rssi_dbm']}dBm"
                yield f"{at} {port} {leg}: mouth shuts after {row['seconds']:.2f}s"
            case "refused":
                yield f"{at} {port} {leg}: {row['station'] or '?'} kept out"
        for _ in range(_chatter(rng, 0.3)):
            yield f"{at} housekeeping: {rng.integers(1, 99)} files swept"


SEEN = (
    Hand("storyteller", storyteller, step_s=0.05),
    Hand("telegraph", telegraph, zone="Europe/London", step_s=1.0),
    Hand("pairs", pairs),
    Hand("nested", nested),
    Hand("ledger-rows", ledger_rows, zone="Europe/London"),
    Hand("clerk", clerk, zone="Europe/London", step_s=0.1),
    Hand("columns-only", columns_only, step_s=0.06),
    Hand("three-lines", three_lines),
)
