"""Hosts drawn from the productions: how each writes a book of traffic, and what its words mean, for a keeper who is
asked.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np

from tests.adopt.book import Book, Row
from tests.adopt.grammar import productions as of
from tests.adopt.grammar.fresh import CHOICES, FAMILIES, plain, spelt
from tests.adopt.grammar.productions import Choice

T = TypeVar("T")
MADE_UP = (
    "brolm",
    "quist",
    "fenna",
    "tarv",
    "oskle",
    "piddo",
    "wruth",
    "glaim",
    "nordle",
    "hesk",
    "yaffin",
    "cruve",
    "dwile",
    "mizzle",
    "plash",
)


@dataclass(frozen=True)
class GrammarHost:
    """One drawn host. `names` says which production stands for each part."""

    seed: int
    names: dict[str, str]
    apart: tuple[str, ...]  #: parts whose production is kept apart
    stamp: of.Stamp
    zone: str
    family: str
    modes: dict[str, str]
    slot: tuple[str, bool]
    sides: tuple[str, str] | None
    verbs: dict[str, str]
    tells: str
    length: of.Length
    causes: dict[str, str] | None
    unknown: str
    quality: Any
    reasons: dict[str, str] | None
    noise: Sequence[Any]
    tag: Any
    order: tuple[str, ...]
    links: bool
    targets: bool
    lost: float = 0.0  #: share of lines that are missing
    damaged: float = 0.0  #: share of lines that are cut
    made_up: bool = False
    logs: frozenset[str] = field(default_factory=frozenset)  #: fields of an over that this host writes

    @property
    def step_s(self) -> float:
        """How coarse starts and lengths are, seconds."""
        return max(self.stamp.step_s, self.length.step_s if self.tells != "bare" else self.stamp.step_s)

    def answer(self, key: str) -> str | None:
        """What a keeper who knows the host says to a question; None where they don't know either."""
        table, _, spelling = key.partition(".")
        if table == "zone":
            return self.zone
        tables: dict[str, dict[str, str]] = {
            "mode": self.modes,
            "side": dict(zip(("air", "link"), self.sides, strict=True)) if self.sides else {},
            "cause": self.causes or {},
            "reason": self.reasons or {},
        }
        joined = (
            {self.modes["dmr"] + self.slot[0].format(n=n, word=""): f"dmr {n}" for n in (1, 2)} if self.slot[1] else {}
        )
        if table == "mode" and spelling in joined:
            return joined[spelling]
        for means, words in tables.get(table, {}).items():
            if words == spelling:
                return means
        return None


def draw_host(seed: int, *, held: bool, made_up: bool = False, lossy: bool = False, fresh: bool = False) -> GrammarHost:
    """A host at random. One that is `held` takes productions that are kept apart in about half of its parts, at least
    two; one that is `fresh` likewise takes those of fresh.py.
    """
    rng = np.random.default_rng([seed, 77, 2 if fresh else held])
    names: dict[str, str] = {}
    apart: list[str] = []

    def pick(part: str, choices: tuple[Choice[T], ...]) -> T:
        kept = [one for one in choices if one.apart]
        new = CHOICES.get(part.rstrip(" 01"), ())
        pool = [one for one in choices if not one.apart]
        if (fresh and new and rng.random() < 0.5) or (held and kept and rng.random() < 0.5):
            pool = list(new) if fresh else kept
        chosen = pool[int(rng.integers(len(pool)))]
        names[part] = chosen.name
        if chosen.apart or chosen in new:
            apart.append(part)
        return chosen.value

    stamp, zone = pick("stamp", of.STAMPS), pick("zone", of.ZONES)
    family, modes, slot = pick("family", of.FAMILIES), dict(pick("modes", of.MODES)), pick("slots", of.SLOTS)
    sides, verbs, tells = pick("sides", of.SIDES), dict(pick("events", of.EVENTS)), pick("tells", of.TELLS)
    length, causes, reasons = pick("lengths", of.LENGTHS), pick("causes", of.CAUSES), pick("reasons", of.REASONS)
    if tells == "end" and length.step_s < stamp.step_s:
        names["tells"] += ", coarser stamps than lengths"
    if made_up:
        words = iter(rng.permutation(MADE_UP))
        sides, verbs = (str(next(words)), str(next(words))), {event: str(next(words)) for event in verbs}
        causes = {cause: str(next(words)) for cause in causes} if causes else None
    has_side = rng.random() < 0.85
    order = [str(one) for one in rng.permutation(["mode", "side", "station", "target"])]
    host = GrammarHost(
        seed=seed,
        names=names,
        apart=tuple(apart),
        stamp=stamp,
        zone="UTC" if stamp.absolute else zone,
        family=family,
        modes=modes,
        slot=slot,
        sides=sides if has_side else None,
        verbs=verbs,
        tells=tells,
        length=length,
        causes=dict(causes) if causes and tells != "bare" else None,
        unknown=pick("unknown", of.UNKNOWN),
        quality=pick("quality", of.QUALITY),
        reasons=dict(reasons) if reasons else None,
        noise=[pick(f"noise {n}", of.NOISE) for n in range(2)],
        tag=pick("tag", of.TAGS),
        order=tuple(order),
        links=rng.random() < 0.6,
        targets=rng.random() < 0.8,
        lost=0.1 if lossy else 0.0,
        damaged=0.002 if rng.random() < 0.3 else 0.0,
        made_up=made_up,
    )
    if (held or fresh) and len(host.apart) < 2:
        return draw_host(seed + 1_000_003, held=held, made_up=made_up, lossy=lossy, fresh=fresh)
    logs = {
        "mode",
        "slot",
        "station",
        *(["side"] if has_side else []),
        *(["target"] if host.targets else []),
        *(["cause"] if host.causes else []),
    }
    return GrammarHost(**{**host.__dict__, "logs": frozenset(logs)})


def write_log(host: GrammarHost, book: Book) -> Iterator[str]:
    """The host's log of a book, line by line."""
    rng = np.random.default_rng([host.seed, 5])
    pen = _Pen(host)
    lines: list[tuple[int, str]] = []
    if host.family == "header":
        lines.append((0, ";".join(("time", *COLUMNS))))
    for n, row in enumerate(book.rows):
        text = pen.line(row, n)
        if text is not None and not (host.lost and row["event"] != "host-start" and rng.random() < host.lost):
            lines.append((row["t"], text))
        if rng.random() < 0.3:
            lines.append((row["t"], pen.chatter(row["t"], n, rng)))
    for _, text in lines:
        yield text[: max(5, int(rng.integers(len(text))))] if host.damaged and rng.random() < host.damaged else text


#: Of the families that are tables, in their order.
COLUMNS = ("event", "mode", "slot", "side", "station", "target", "session", "length", "cause", "note")


class _Pen:
    """Writes one host's lines."""

    def __init__(self, host: GrammarHost) -> None:
        self._host = host
        self._first: int | None = None

    def line(self, row: Row, number: int) -> str | None:
        host, event = self._host, row["event"]
        self._first = row["t"] if self._first is None else self._first
        at, cells = row["t"], {}
        if event == "over-start":
            if host.tells in ("end", "at-start"):
                return None
            cells = self._who(row)
        elif event == "over-end":
            whole = host.tells in ("end", "at-start")
            event = "over" if whole else event
            at = row["start"] if host.tells == "at-start" else at
            cells = {} if host.tells == "session" else self._who(row)
            if host.tells == "key":
                cells = {key: cells[key] for key in ("mode", "slot") if key in cells}
            if host.tells != "bare":
                cells["length"] = host.length.spell(row["seconds"])
            if host.causes:
                cells["cause"] = host.causes[row["cause"]]
            cells |= dict(host.quality(row))
        elif event == "refused":
            if host.reasons is None:
                return None
            cells = {**self._who({**row, "side": row["side"]}), "cause": host.reasons[row["reason"]]}
        elif event in ("link-up", "link-down"):
            if not host.links:
                return None
            cells = {"network": row["network"]}
        else:
            return (
                self._dress(row["t"], number, f"host {'started' if event == 'host-start' else event}")
                if event == "host-start"
                else None
            )
        if host.tells == "session" and event in ("over-start", "over-end"):
            cells["session"] = row["session"]
        return self._spelt(at, number, host.verbs[event], cells)

    def chatter(self, us: int, number: int, rng: np.random.Generator) -> str:
        return self._dress(us, number, self._host.noise[int(rng.integers(len(self._host.noise)))](rng, number))

    def _who(self, row: Row) -> dict[str, str]:
        host = self._host
        template, joined = host.slot
        mode = host.modes[row["mode"]]
        slot = (
            template.format(n=row["slot"], word={1: "first", 2: "second"}.get(row["slot"], "")) if row["slot"] else None
        )
        told = {"mode": mode + (slot if slot and joined else "")}
        if slot and not joined:
            told["slot"] = slot
        if host.sides:
            told["side"] = host.sides[row["side"] == "link"]
        told["station"] = row["station"] or host.unknown
        if host.targets:
            told["target"] = row["target"] or host.unknown
        ordered = {key: told[key] for key in host.order if key in told}
        if "slot" in told:  # it stands right behind its mode
            at = list(ordered).index("mode") + 1
            ordered = dict([*list(ordered.items())[:at], ("slot", told["slot"]), *list(ordered.items())[at:]])
        return ordered

    def _spelt(self, at: int, number: int, verb: str, cells: dict[str, str]) -> str:
        host, family = self._host, self._host.family
        stamp = host.stamp.spell(at, host.zone)
        if family in FAMILIES:
            return spelt(family, stamp, self._tag(at, number), verb, cells)
        if family in ("json", "nested"):
            bare = {key: _of_slot(value) if key == "slot" else value for key, value in cells.items()}
            inner = (
                bare
                if family == "json"
                else {"who": {key: bare.pop(key) for key in ("station", "target") if key in bare}, "how": bare}
            )
            return json.dumps({"time": stamp.strip("[]"), "event": verb, **inner})
        if family in ("bar", "spaced-bar", "tabs", "header"):
            mark = {"bar": "|", "spaced-bar": " | ", "tabs": "\t", "header": ";"}[family]
            note = " ".join(f"{key} {value}" for key, value in cells.items() if key not in COLUMNS and key != "network")
            row = {**cells, "event": verb, "note": note, "target": cells.get("network", cells.get("target", ""))}
            row["slot"] = _of_slot(row.get("slot", ""))
            return mark.join([stamp, *(row.get(key, "") for key in COLUMNS)])
        if family == "pairs":
            return self._dress(
                at,
                number,
                " ".join(
                    [
                        f"event={_safe(verb)}",
                        *(f"{k}={_safe(_of_slot(v) if k == 'slot' else v)}" for k, v in cells.items()),
                    ]
                ),
            )
        if family == "commas":
            return self._dress(
                at,
                number,
                ", ".join([f"event: {verb}", *(f"{k}: {_of_slot(v) if k == 'slot' else v}" for k, v in cells.items())]),
            )
        if family == "brackets":
            return self._dress(at, number, f"{verb} " + " ".join(f"[{value}]" for value in cells.values()))
        if family == "quoted":
            quoted = {
                key: f'"{value}"' if key in ("station", "target", "network") else value for key, value in cells.items()
            }
            return self._dress(at, number, f"{verb} " + " ".join(quoted.values()))
        lead = {
            "station": "by ",
            "target": "to ",
            "length": "after ",
            "cause": "because ",
            "session": "no ",
            "network": "of ",
            "ber": "ber ",
            "loss": "loss ",
            "rssi": "rssi ",
            "errors": "errors ",
        }
        return self._dress(
            at, number, f"{verb}: " + " ".join(lead.get(key, "") + value for key, value in cells.items())
        )

    def _dress(self, us: int, number: int, text: str) -> str:
        host = self._host
        stamp = host.stamp.spell(us, host.zone)
        if host.family in FAMILIES:
            return plain(host.family, stamp, self._tag(us, number), text)
        if host.family in ("json", "nested"):
            return json.dumps({"time": stamp.strip("[]"), "event": "note", "text": text})
        if host.family in ("bar", "spaced-bar", "tabs", "header"):
            mark = {"bar": "|", "spaced-bar": " | ", "tabs": "\t", "header": ";"}[host.family]
            return mark.join([stamp, "note", *[""] * (len(COLUMNS) - 2), text])
        return f"{stamp} {self._tag(us, number)}{text}"

    def _tag(self, us: int, number: int) -> str:
        return str(self._host.tag((us - (self._first or us)) // 86_400_000_000, number))


def _of_slot(text: str) -> str:
    """Where a column says what it holds, a slot is its number or word alone."""
    return text.removeprefix("slot ").removeprefix("ts=").removeprefix("TS")


def _safe(text: str) -> str:
    return f'"{text}"' if " " in text else text
