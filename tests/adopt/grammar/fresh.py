"""Productions that were written by somebody who had not looked at how the learner learns. Nothing is tuned on them:
they are there for one honest figure.

Everything here is invented; no production is how an existing program writes.
"""

import json
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from shared.zones import from_us
from tests.adopt.grammar.productions import Choice, Length, Stamp


def _with(pattern: str, places: int = 0, point: str = ".") -> Any:
    def spelt(us: int, zone: str) -> str:
        text = from_us(us, ZoneInfo(zone)).strftime(pattern)
        return text + (point + f"{us % 1_000_000:06d}"[:places] if places else "")

    return spelt


def _utc(us: int, _: str) -> str:
    return str(_with("%Y%m%dT%H%M%SZ")(us, "UTC"))


_PLAIN = {"c4fm": "C4FM", "dmr": "DMR", "dstar": "D-STAR", "fm": "FM", "m17": "M17", "nxdn": "NXDN", "p25": "P25"}
_SHORT = {"c4fm": "C4F", "dmr": "DMR", "dstar": "DST", "fm": "ANA", "m17": "M17", "nxdn": "NXD", "p25": "P25"}


def _verbs(start: str, end: str, whole: str, refused: str, up: str, down: str) -> Mapping[str, str]:
    return {"over-start": start, "over-end": end, "over": whole, "refused": refused, "link-up": up, "link-down": down}


def _told(row: Mapping[str, Any], key: str, spelt: str) -> list[tuple[str, str]]:
    return [] if row[key] is None else [(key.partition("_")[0], spelt.format(row[key]))]


CHOICES: dict[str, tuple[Choice[Any], ...]] = {
    "stamp": (
        Choice("day of the year", Stamp(_with("%Y/%j %H:%M:%S"), 1.0)),
        Choice("day, month's name, year", Stamp(_with("%d %b %Y %H:%M:%S", 3), 0.001)),
        Choice("weekday before", Stamp(_with("%a %Y-%m-%d %H:%M:%S"), 1.0)),
        Choice("epoch, microseconds", Stamp(lambda us, _: str(us), 0.001, absolute=True)),
        Choice("basic, Z", Stamp(_utc, 1.0, absolute=True)),
        Choice("comma before milliseconds", Stamp(_with("%Y-%m-%d %H:%M:%S", 3, ","), 0.001)),
    ),
    "zone": (Choice("America/St_Johns", "America/St_Johns"), Choice("Asia/Kathmandu", "Asia/Kathmandu")),
    "modes": (
        Choice("with voice behind", {mode: f"{mode}-voice" for mode in _PLAIN}),
        Choice("three letters", _SHORT),
        Choice("numbers", {mode: str(41 + n) for n, mode in enumerate(_PLAIN)}),
        Choice("in capitals", {mode: mode.upper() for mode in _PLAIN}),
    ),
    "slots": (
        Choice("apart, s and number", ("s{n}", False)),
        Choice("joined by a colon", (":{n}", True)),
        Choice("joined by a plus", ("+{n}", True)),
        Choice("apart, half", ("half-{n}", False)),
    ),
    "sides": (
        Choice("RF and IP", ("RF", "IP")),
        Choice("rx and net", ("rx", "net")),
        Choice("here and afar", ("here", "afar")),
        Choice("aerial and cable", ("in=aerial", "in=cable")),
    ),
    "events": (
        Choice("keyed", _verbs("keyed", "unkeyed", "keyed for", "blocked", "bridge up", "bridge down")),
        Choice("floor", _verbs("floor taken", "floor free", "floor used", "floor refused", "line in", "line out")),
        Choice("XMIT", _verbs("XMIT-BEGIN", "XMIT-FINISH", "XMIT", "XMIT-DENY", "PEER-UP", "PEER-DOWN")),
        Choice(
            "voice in, voice out",
            _verbs("voice in", "voice out", "voice", "not let in", "far end there", "far end gone"),
        ),
    ),
    "lengths": (
        Choice("sec", Length(lambda s: f"{s:.1f} sec", 0.1)),
        Choice("sec, glued", Length(lambda s: f"{s:.2f}sec", 0.01)),
        Choice("in brackets", Length(lambda s: f"({s:.1f}s)", 0.1)),
        Choice("frames of 60 ms", Length(lambda s: str(round(s / 0.06)), 0.06)),
    ),
    "causes": (
        Choice("ok, tot, fade", {"released": "ok", "timeout": "tot", "lost": "fade"}),
        Choice("end, cut, vanished", {"released": "end", "timeout": "cut", "lost": "vanished"}),
        Choice("with a key", {"released": "why=release", "timeout": "why=timeout", "lost": "why=loss"}),
    ),
    "unknown": (Choice("N/A", "N/A"), Choice("anonymous", "anonymous"), Choice("stars", "****")),
    "quality": (
        Choice("errs and level", lambda row: _told(row, "ber_pct", "errs={}%") + _told(row, "rssi_dbm", "lvl={}")),
        Choice("BER alone", lambda row: _told(row, "ber_pct", "BER {} %")),
    ),
    "reasons": (
        Choice("mode-lock", {"other-mode": "mode-lock", "busy": "occupied", "lockout": "barred"}),
        Choice("held by other", {"other-mode": "held by other", "busy": "in use", "lockout": "cooling down"}),
    ),
    "noise": (
        Choice("clock", lambda rng, n: f"clock offset {rng.normal(0, 2):+.3f} ms, {rng.integers(3, 9)} peers"),
        Choice("disk", lambda rng, n: f"disk {rng.integers(20, 90)} % of 32 GB"),
        Choice("settings", lambda rng, n: f"settings read again: {rng.integers(10, 40)} values"),
        Choice("satellites", lambda rng, n: f"fix 3D from {rng.integers(4, 14)} satellites"),
    ),
    "family": (
        Choice("angles", "angles"),
        Choice("key=value by semicolons", "semicolons"),
        Choice("quoted commas", "quoted commas"),
        Choice("JSON, capital keys", "capital JSON"),
        Choice("arrow", "arrow"),
    ),
    "tag": (
        Choice("machine and name", lambda day, n: "hill01 speakd: "),
        Choice("level in brackets", lambda day, n: "[notice] "),
        Choice("padded counter", lambda day, n: f"n={n:07d} "),
    ),
    "tells": (
        Choice("the end names only mode and slot", "key"),
        Choice("start and end, end with length", "both"),
        Choice("one line at the end", "end"),
    ),
}
FAMILIES = {choice.value for choice in CHOICES["family"]}
_COLUMNS = ("event", "mode", "slot", "side", "station", "target", "session", "length", "cause", "note")


def spelt(family: str, stamp: str, tag: str, verb: str, cells: Mapping[str, str]) -> str:
    """One line of a family of this page."""
    if family == "angles":
        return f"{stamp} {tag}{verb} " + "".join(f"<{value}>" for value in cells.values())
    if family == "semicolons":
        return f"{stamp} {tag}" + ";".join([f"what={verb}", *(f"{key}={value}" for key, value in cells.items())])
    if family == "quoted commas":
        note = " ".join(f"{key} {value}" for key, value in cells.items() if key not in _COLUMNS and key != "network")
        row = {**cells, "event": verb, "note": note, "target": cells.get("network", cells.get("target", ""))}
        return ",".join([f'"{stamp}"', *(f'"{row.get(key, "")}"' for key in _COLUMNS)])
    if family == "capital JSON":
        return json.dumps({"When": stamp, "What": verb, **{key.capitalize(): value for key, value in cells.items()}})
    who = f"{cells.get('station', '')} -> {cells.get('target', '')}".strip(" ->") if "station" in cells else ""
    rest = " ".join(value for key, value in cells.items() if key not in ("station", "target"))
    return f"{stamp} {tag}{verb} {rest}" + (f" {who}" if who else "")


def plain(family: str, stamp: str, tag: str, text: str) -> str:
    """A line of no event."""
    if family == "capital JSON":
        return json.dumps({"When": stamp, "What": "note", "Text": text})
    if family == "quoted commas":
        return ",".join([f'"{stamp}"', '"note"', *['""'] * (len(_COLUMNS) - 2), f'"{text}"'])
    return f"{stamp} {tag}{text}"
