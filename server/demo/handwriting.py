"""Events into the lines of a dialect: the inverse of reading, made from the dialect file's own shapes."""

import csv
import io
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from itertools import chain
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from server.demo.world import CALLSIGN
from shared.errors import DialectError
from shared.zones import from_us

#: What a figure would miss: a shape that can't say one of these of an event is no shape for it. What a start says, its
#: end need not.
NEEDED = {
    "over-start": ("mode", "slot", "side", "station", "target"),
    "over-end": ("mode", "slot", "side", "seconds", "cause"),
    "over": ("mode", "slot", "side", "station", "target", "seconds", "cause"),
    "refused": ("mode", "side", "station", "reason"),
    "link-up": ("mode", "network"),
    "link-down": ("mode", "network"),
    "page": ("mode", "target", "seconds"),
}
SIGNS = {"ber_pct": "%", "loss_pct": "%", "rssi_dbm": " dBm"}
WORD_KEYS = ("mode", "side", "cause", "reason", "slot")
OTHER_KEYS = ("station", "target", "seconds", "ber_pct", "loss_pct", "rssi_dbm", "network")
VARYING = ("t", "duration", *OTHER_KEYS)  # holes that differ from row to row of a sort
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DIALECTS = Path(__file__).parents[2] / "parsers" / "dialects"

Row = Mapping[str, Any]
Filler = Callable[[Row], str]


class Handwriting:
    """Writes rows (columns of shared.events.EVENT_SCHEMA) as lines of one dialect. Raises DialectError for what it
    can't say.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file = tomllib.loads(path.read_text(encoding="utf-8"))
        head = self.file["dialect"]
        self.envelope = head.get("envelope", "none")
        if self.envelope not in ("none", "syslog", "csv"):
            raise DialectError(
                f"{path}: the demo writes no '{self.envelope}' envelope; take a dialect with none, syslog or csv"
            )
        self.time, self.zone = head.get("time", "iso"), ZoneInfo(head.get("zone", "UTC"))
        self.at_end = head.get("stamp", "event") == "end"
        self.unit = self.file.get("unit", {})
        self.words = self.file.get("words", {})
        self.fields = self.file.get("fields", {})
        self.signs = {} if self.envelope == "csv" else SIGNS
        self.known: dict[tuple[Any, ...], Filler] = {}

    def header(self) -> list[str]:
        """The line that a file of this dialect begins with, if any."""
        given = self.file["dialect"].get("header")
        return [given or ",".join(self.fields)] if self.envelope == "csv" else []

    def lines(self, rows: Iterable[Row]) -> list[str]:
        """One line a row."""
        return [self._filler(row)(row) for row in rows]

    def noise(self, t: int) -> list[str]:
        """A line of each shape that is understood and of no interest, at an instant."""
        row = {"t": t, "event": "ignore", "seconds": None}
        return [self._noise(shape, row) for shape in self.file["line"] if shape["event"] == "ignore"]

    def _noise(self, shape: dict[str, Any], row: Row) -> str:
        if self.envelope == "syslog":  # the samples' own words, under a header of ours
            return self._wrapped(shape["sample"][0]["text"].split("]: ", 1)[1], row)
        return self._compile(shape, row)(row)

    def template(self, row: Row, open_holes: tuple[str, ...]) -> tuple[list[str], list[str]]:
        """The texts around, and the names of, the open holes of the line for a row, all other holes filled: one text
        more than holes.
        """
        return self.template_of(self._shape(row), row, open_holes)

    def template_of(self, shape: dict[str, Any], row: Row, open_holes: tuple[str, ...]) -> tuple[list[str], list[str]]:
        """The same for a shape of the dialect file."""
        texts, holes = [""], []
        pieces = re.split(r"\{(\w+)\}", self._filled(shape))
        for text, hole in zip(pieces[::2], [*pieces[1::2], None], strict=True):
            texts[-1] += text
            if hole in open_holes:
                holes.append(hole)
                texts.append("")
            elif hole:
                texts[-1] += self._value(hole, row)
        return texts, holes

    def _filler(self, row: Row) -> Filler:
        sort = (row["event"], *(row[key] for key in WORD_KEYS), *(row[key] is None for key in OTHER_KEYS))
        if sort not in self.known:
            self.known[sort] = self._compile(self._shape(row), row)
        return self.known[sort]

    def _shape(self, row: Row) -> dict[str, Any]:
        """The shape that says all that is needed of a row, then the most keys, then has the fewest empty holes."""
        best: dict[str, Any] | None = None
        best_rank = (-1, -1)
        for shape in self.file["line"]:
            if shape["event"] == row["event"] and "pattern" not in shape:
                rank = self._rank(shape, row)
                if rank is not None and rank > best_rank:
                    best, best_rank = shape, rank
        if best is None:
            given = {key: value for key, value in row.items() if value is not None and key not in ("line", "t")}
            raise DialectError(
                f"{self.path}: no [[line]] can say {given}; add one, or let the demo write another dialect"
            )
        return best

    def _rank(self, shape: dict[str, Any], row: Row) -> tuple[int, int] | None:
        """How many keys of a row a shape says, and how many of its holes would stay empty, negative; None where it says
        something wrong or leaves out what is needed.
        """
        holes = [self._key(hole) for hole in self._holes(shape)]
        told: dict[str, Any] = dict(shape.get("set", {}))
        for table in WORD_KEYS:
            if table in holes and row[table] is not None:
                told |= self._meaning(table, self._word(table, row))
        wrong = any(key in row and row[key] != value for key, value in told.items())
        said = {key for key in {*holes, *told} if row.get(key) is not None}
        if wrong or any(row[key] is not None and key not in said for key in NEEDED.get(row["event"], ())):
            return None
        return len(said), -sum(row.get(key) is None for key in holes if key not in ("t", "_"))

    @staticmethod
    def _filled(shape: dict[str, Any]) -> str:
        """The shape's text with what stands at its {_} in a sample."""
        text = shape["text"]
        if text.count("{_}") == 1:
            around = [re.sub(r"\\\{\w+\\\}", ".*?", re.escape(part)) for part in text.split("{_}")]
            for sample in shape.get("sample", []):
                if found := re.fullmatch("(.*)".join(around), sample["text"]):
                    return str(text.replace("{_}", found[1]))
        return str(text.replace("{_}", "7"))

    def _holes(self, shape: dict[str, Any]) -> list[str]:
        if self.envelope == "csv":
            return [key for key in self.fields.values() if isinstance(key, str) and key != "t"]
        return re.findall(r"\{(\w+)\}", shape.get("text", ""))

    @staticmethod
    def _key(hole: str) -> str:
        return "seconds" if hole == "duration" else hole

    def _meaning(self, table: str, word: str) -> dict[str, Any]:
        means = self.words.get(table, {}).get(word, word.lower())
        return means if isinstance(means, dict) else {table: int(means) if table == "slot" else means}

    def _word(self, table: str, row: Row) -> str:
        """This host's spelling of a value; a word that says more of the row at once comes first."""
        best, most = str(row[table]).upper() if table == "mode" else str(row[table]), 0
        for word in self.words.get(table, {}):
            means = self._meaning(table, word)
            fits = means.get(table) == row[table] and all(row.get(key) == value for key, value in means.items())
            if fits and len(means) > most:
                best, most = word, len(means)
        return best

    def _compile(self, shape: dict[str, Any], model: Row) -> Filler:
        """Writes rows that have a model's words and differ from it in the rest."""
        if self.envelope == "csv":
            return lambda row: self._csv_line(shape, row)
        texts, holes = self.template_of(shape, model, VARYING)

        def fill(row: Row) -> str:
            values = [self._value(hole, row) for hole in holes]
            return self._wrapped("".join(chain.from_iterable(zip(texts, [*values, ""], strict=True))), row)

        return fill

    def _wrapped(self, text: str, row: Row) -> str:
        if self.envelope == "none":
            return text
        moment = from_us(self._stamp_us(row), self.zone)
        return f"{MONTHS[moment.month - 1]} {moment.day:2d} {moment:%H:%M:%S} {CALLSIGN.lower()} links[412]: {text}"

    def _csv_line(self, shape: dict[str, Any], row: Row) -> str:
        when = shape.get("when", {})
        columns = self.header()[0].split(",")
        cells = [
            str(when[name]) if name in when else self._value(self.fields[name], row) if name in self.fields else ""
            for name in columns
        ]
        out = io.StringIO()
        csv.writer(out, lineterminator="").writerow(cells)
        return out.getvalue()

    def _stamp_us(self, row: Row) -> int:
        lasts = self.at_end and row["event"] == "over"
        return int(row["t"]) + (round(row["seconds"] * 1_000_000) if lasts else 0)

    def _value(self, hole: str, row: Row) -> str:
        if hole == "t":
            return self._stamp(self._stamp_us(row))
        key = self._key(hole)
        value = row.get(key)
        if value is None:
            return ""
        if key in WORD_KEYS:
            return self._word(key, row)
        if key == "seconds":
            return self._seconds(hole, value)
        if key in ("ber_pct", "loss_pct") and self.unit.get(key) == "fraction":
            return f"{value / 100:.5f}"
        return f"{value}{self.signs.get(key, '')}"

    def _seconds(self, hole: str, seconds: float) -> str:
        unit = self.unit.get("seconds", "s")
        if hole == "duration":
            return f"{seconds:.3f}s"
        if unit.startswith("frames:"):
            return str(round(seconds * 1000 / float(unit.removeprefix("frames:").removesuffix("ms"))))
        return str(round(seconds * 1000)) if unit == "ms" else f"{seconds:.3f}"

    def _stamp(self, us: int) -> str:
        if self.time == "epoch":
            return f"{us / 1_000_000:.3f}"
        if self.time == "epoch-ms":
            return str(us // 1000)
        moment = from_us(us, self.zone)
        if self.time == "iso":
            return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        if self.time == "syslog":
            return f"{MONTHS[moment.month - 1]} {moment.day:2d} {moment:%H:%M:%S}"
        return moment.strftime(self.time)
