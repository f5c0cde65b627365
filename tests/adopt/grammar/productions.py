"""What a host is drawn from: for each part of a log line a choice of productions. Those that are kept apart are never
drawn while tuning.

Everything here is invented; no production is how an existing program writes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar
from zoneinfo import ZoneInfo

from shared.zones import from_us

T = TypeVar("T")


@dataclass(frozen=True)
class Choice(Generic[T]):
    """One production: its name, what it is, and whether it is kept apart."""

    name: str
    value: T
    apart: bool = False


def _stamp(pattern: str, places: int = 0) -> Callable[[int, str], str]:
    """A strptime pattern with `places` digits of a second behind it."""

    def spelt(us: int, zone: str) -> str:
        text = from_us(us, ZoneInfo(zone)).strftime(pattern)
        return text + (f".{us % 1_000_000:06d}"[: places + 1] if places else "")

    return spelt


def _iso(us: int, zone: str) -> str:
    return from_us(us, ZoneInfo(zone)).isoformat(timespec="milliseconds")


@dataclass(frozen=True)
class Stamp:
    """How instants are spelt: how coarse, whether an offset is in them."""

    spell: Callable[[int, str], str]
    step_s: float
    absolute: bool = False


STAMPS = (
    Choice("iso with offset", Stamp(_iso, 0.001, absolute=True)),
    Choice("date and time, milliseconds", Stamp(_stamp("%Y-%m-%d %H:%M:%S", 3), 0.001)),
    Choice("date and time, seconds", Stamp(_stamp("%Y-%m-%d %H:%M:%S"), 1.0)),
    Choice("epoch, seconds with decimals", Stamp(lambda us, _: f"{us / 1e6:.3f}", 0.001, absolute=True)),
    Choice("epoch, milliseconds", Stamp(lambda us, _: str(us // 1000), 0.001, absolute=True)),
    Choice("month's name, no year", Stamp(_stamp("%b %d %H:%M:%S"), 1.0)),
    Choice("compact", Stamp(_stamp("%Y%m%dT%H%M%S", 2), 0.01)),
    Choice("day first with dots", Stamp(_stamp("%d.%m.%Y %H:%M:%S"), 1.0), apart=True),
    Choice(
        "in brackets with slashes",
        Stamp(lambda us, zone: f"[{_stamp('%Y/%m/%d %H:%M:%S', 3)(us, zone)}]", 0.001),
        apart=True,
    ),
    Choice("time before date", Stamp(_stamp("%H:%M:%S %d-%m-%Y"), 1.0), apart=True),
    Choice("twelve hours", Stamp(_stamp("%Y-%m-%d %I:%M:%S %p"), 1.0), apart=True),
    Choice(
        "name of a zone",
        Stamp(lambda us, _: _stamp("%Y-%m-%d %H:%M:%S")(us, "UTC") + " UTC", 1.0, absolute=True),
        apart=True,
    ),
)
ZONES = (
    Choice("UTC", "UTC"),
    Choice("Europe/London", "Europe/London"),
    Choice("Europe/Berlin", "Europe/Berlin", apart=True),
)

_PLAIN = {"c4fm": "C4FM", "dmr": "DMR", "dstar": "D-STAR", "fm": "FM", "m17": "M17", "nxdn": "NXDN", "p25": "P25"}
MODES: tuple[Choice[Mapping[str, str]], ...] = (
    Choice("names", _PLAIN),
    Choice("lower case", {mode: mode for mode in _PLAIN}),
    Choice("names run together", {mode: name.replace("-", "") for mode, name in _PLAIN.items()}),
    Choice("names in words", {**_PLAIN, "fm": "analogue", "dstar": "DSTAR"}),
    Choice("with a prefix", {mode: f"m-{mode}" for mode in _PLAIN}, apart=True),
    Choice("letters", {mode: letter for mode, letter in zip(_PLAIN, "KUWGHZX", strict=True)}, apart=True),
)
SLOTS = (
    Choice("apart, a word and a number", ("slot {n}", False)),
    Choice("apart, key and number", ("ts={n}", False)),
    Choice("apart, glued", ("TS{n}", False)),
    Choice("joined by a stroke", ("/{n}", True)),
    Choice("joined by a hyphen", ("-{n}", True)),
    Choice("joined in brackets", ("({n})", True), apart=True),
    Choice("apart, spelt", ("{word}", False), apart=True),
)
SIDES: tuple[Choice[tuple[str, str]], ...] = (
    Choice("air and link", ("air", "link")),
    Choice("radio and network", ("radio", "network")),
    Choice("aerial and wire", ("from the aerial", "from the wire")),
    Choice("letters", ("A", "L")),
    Choice("local and remote", ("local", "remote")),
    Choice("antenna and internet", ("antenna", "internet"), apart=True),
    Choice("off air and linked", ("via air", "via link"), apart=True),
)
Verbs = Mapping[str, str]
EVENTS: tuple[Choice[Verbs], ...] = (
    Choice(
        "begins, ends",
        {
            "over-start": "begins",
            "over-end": "ends",
            "over": "spoke",
            "refused": "denied",
            "link-up": "link up",
            "link-down": "link down",
        },
    ),
    Choice(
        "START, END",
        {
            "over-start": "START",
            "over-end": "END",
            "over": "OVER",
            "refused": "REFUSED",
            "link-up": "LINKUP",
            "link-down": "LINKDOWN",
        },
    ),
    Choice(
        "mouth opens",
        {
            "over-start": "mouth opens",
            "over-end": "mouth shuts",
            "over": "mouth told",
            "refused": "turned away",
            "link-up": "wire joined",
            "link-down": "wire lost",
        },
    ),
    Choice(
        "rx on",
        {
            "over-start": "talk on",
            "over-end": "talk off",
            "over": "talk",
            "refused": "no entry",
            "link-up": "connected",
            "link-down": "disconnected",
        },
    ),
    Choice(
        "input wakes",
        {
            "over-start": "input wakes",
            "over-end": "input rests",
            "over": "input done",
            "refused": "kept out",
            "link-up": "joined",
            "link-down": "parted",
        },
        apart=True,
    ),
    Choice(
        "opened, closed",
        {
            "over-start": "opened",
            "over-end": "closed",
            "over": "complete",
            "refused": "rejected",
            "link-up": "link established",
            "link-down": "link failed",
        },
        apart=True,
    ),
)
TELLS = (
    Choice("start and end, end with length", "both"),
    Choice("start and end, no length", "bare"),
    Choice("one line at the end", "end"),
    Choice("one line at the end, stamped at the start", "at-start"),
    Choice("the end names only its session", "session", apart=True),
)


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60:02d}:{int(seconds) % 60:02d}"


def _spelt(seconds: float) -> str:
    return f"{int(seconds) // 60}m{int(seconds) % 60:02d}s"


@dataclass(frozen=True)
class Length:
    """How a duration is spelt, and how coarse."""

    spell: Callable[[float], str]
    step_s: float


LENGTHS = (
    Choice("seconds with a unit", Length(lambda s: f"{s:.1f}s", 0.1)),
    Choice("bare seconds", Length(lambda s: f"{s:.2f}", 0.01)),
    Choice("bare milliseconds", Length(lambda s: str(round(s * 1000)), 0.001)),
    Choice("minutes and seconds", Length(_minutes, 1.0)),
    Choice("seconds in a word", Length(lambda s: f"{s:.1f} seconds", 0.1)),
    Choice("frames of 20 ms", Length(lambda s: str(round(s * 50)), 0.02), apart=True),
    Choice("1m02s", Length(_spelt, 1.0), apart=True),
    Choice("milliseconds with a unit", Length(lambda s: f"{round(s * 1000)} ms", 0.001), apart=True),
)
CAUSES: tuple[Choice[Mapping[str, str] | None], ...] = (
    Choice("none", None),
    Choice("plain", {"released": "released", "timeout": "timeout", "lost": "lost"}),
    Choice("worded", {"released": "let go", "timeout": "time-out", "lost": "faded"}),
    Choice("capitals", {"released": "NORMAL", "timeout": "TIMEOUT", "lost": "LOST"}),
    Choice("sentences", {"released": "key released", "timeout": "too long", "lost": "signal lost"}, apart=True),
)
UNKNOWN = (
    Choice("dash", "-"),
    Choice("question mark", "?"),
    Choice("unknown", "unknown"),
    Choice("nobody", "nobody"),
    Choice("in brackets", "(none)", apart=True),
)
QUALITY: tuple[Choice[Callable[[Mapping[str, Any]], list[tuple[str, str]]]], ...] = (
    Choice("none", lambda row: []),
    Choice(
        "percent and dBm",
        lambda row: (
            [("ber", f"{row['ber_pct']}%")] * (row["ber_pct"] is not None)
            + [("rssi", f"{row['rssi_dbm']}dBm")] * (row["rssi_dbm"] is not None)
        ),
    ),
    Choice(
        "all",
        lambda row: [
            ("ber", "-" if row["ber_pct"] is None else str(row["ber_pct"])),
            ("loss", "-" if row["loss_pct"] is None else str(row["loss_pct"])),
            ("rssi", "-" if row["rssi_dbm"] is None else str(row["rssi_dbm"])),
        ],
    ),
    Choice(
        "fraction",
        lambda row: [] if row["ber_pct"] is None else [("errors", f"{row['ber_pct'] / 100:.4f}")],
        apart=True,
    ),
)
REASONS: tuple[Choice[Mapping[str, str] | None], ...] = (
    Choice("no refusals", None),
    Choice("plain", {"other-mode": "other mode", "busy": "busy", "lockout": "locked out"}),
    Choice("hyphens", {"other-mode": "other-mode", "busy": "busy", "lockout": "lockout"}),
    Choice("worded", {"other-mode": "another mode holds", "busy": "channel in use", "lockout": "penalty"}, apart=True),
)
NOISE: tuple[Choice[Callable[[Any, int], str]], ...] = (
    Choice("cabinet", lambda rng, n: f"cabinet {rng.integers(15, 45)} degrees, fan {rng.integers(500, 3000)} rpm"),
    Choice(
        "counters", lambda rng, n: f"stats frames {n * 17} dropped {rng.integers(0, 9)} queue {rng.integers(0, 64)}"
    ),
    Choice("heartbeat", lambda rng, n: f"alive {n}"),
    Choice("door", lambda rng, n: f"door {'open' if rng.random() < 0.5 else 'shut'}", apart=True),
    Choice(
        "battery", lambda rng, n: f"battery {rng.uniform(11.5, 14.2):.2f} V at {rng.uniform(0, 6):.1f} A", apart=True
    ),
)
FAMILIES = (
    Choice("prose", "prose"),
    Choice("key=value", "pairs"),
    Choice("key: value, commas", "commas"),
    Choice("table by a bar", "bar"),
    Choice("table by a spaced bar", "spaced-bar"),
    Choice("JSON", "json"),
    Choice("brackets", "brackets"),
    Choice("table by semicolons, with a header", "header", apart=True),
    Choice("JSON in objects", "nested", apart=True),
    Choice("table by tabs", "tabs", apart=True),
    Choice("quoted", "quoted", apart=True),
)
TAGS: tuple[Choice[Callable[[int, int], str]], ...] = (
    Choice("none", lambda day, n: ""),
    Choice("level", lambda day, n: "INFO "),
    Choice("name and process", lambda day, n: f"speakd[{4100 + day * 371}]: "),
    Choice("line counter", lambda day, n: f"#{n} ", apart=True),
    Choice("thread", lambda day, n: f"<worker-{day + 3}> ", apart=True),
)
