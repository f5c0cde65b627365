"""What stands around a host's own words: syslog, journal, JSON, csv, or nothing; and the zone and instants of its
stamps.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from parsers.adopt.model import Known, Sample
from parsers.adopt.stampfind import Stamping, find_stamping, spelling_of, stamps_in
from parsers.clock import to_instants
from parsers.constants import BLANKS, LONGEST_LINE
from parsers.envelopes import BOM, unwrap_journal, unwrap_syslog
from parsers.jsonlines import load_object, text_of
from parsers.stamps import DAYLESS, INSTANT, read_stamps
from parsers.tables import cells
from parsers.time_forms import NAMED, time_form
from parsers.timeofday import with_days

MOST = 0.8
LEAST_CELLS, ALIKE = 4, 0.9  #: a table has so many cells, and the same number in such a share of its lines
SEPARATORS = (",", ";", "\t", "|")
PRIORITY = "(?:<[0-9]{1,3}>)?"
HEAD = r"(?:[A-Z][a-z]{2} [ 0-9][0-9] [0-9:]{8}(?:[.,][0-9]+)?|[0-9]{4}-[0-9][^ ]*)"
ZONES = {"UTC": "UTC", "GMT": "UTC", "Z": "UTC", "BST": "Europe/London", "CET": "Europe/Paris", "CEST": "Europe/Paris"}


def open_sample(lines: Sequence[str], known: Known, around_us: int, zone: str | None) -> Sample:
    """The lines without their envelope, with their stamps read. `zone` is the station's, where there is one; with
    `headless`, lines of cells
    are a table although no header line names its columns."""
    lines = [line.removeprefix(BOM).rstrip("\r\n") if len(line) <= LONGEST_LINE else "" for line in lines]
    sample = _unwrapped(lines)
    _find_stamps(sample, known, around_us)
    _read(sample, known, around_us, zone)
    return sample


def _unwrapped(lines: list[str]) -> Sample:
    if (table := _csv(lines)) is not None:  # whose blanks may be tabs between empty cells
        return table
    if (table := _headless(lines)) is not None:
        return table
    lines = [line.strip(BLANKS) for line in lines]
    filled = [line for line in lines if line]
    braces = sum(line[0] == "{" and line[-1] == "}" for line in filled)
    if filled and braces >= MOST * len(filled):
        series = pl.Series(lines, dtype=pl.String)
        if all('"__REALTIME_TIMESTAMP"' in line for line in filled[:50] if line[0] == "{"):
            return Sample(lines, "journal", unwrap_journal(series).text.to_list(), [None] * len(lines))
        records = [flat_object(load_object(line)) if line[:1] == "{" else None for line in lines]
        if not _prose_inside(records):
            return Sample(lines, "json", [None] * len(lines), records)
    if (messages := _syslog(lines)) is not None:
        return Sample(lines, "syslog", messages, [None] * len(lines))
    return Sample(lines, "none", list(lines), [None] * len(lines))


def flat_object(value: dict[str, Any] | None, before: str = "") -> dict[str, str] | None:
    """An object's scalars under paths with dots."""
    if value is None:
        return None
    out: dict[str, str] = {}
    for key, one in value.items():
        if isinstance(one, dict):
            out |= flat_object(one, f"{before}{key}.") or {}
        elif (text := text_of(one)) is not None:
            out[before + key] = text
    return out


def _prose_inside(records: Sequence[dict[str, str] | None]) -> bool:
    """Whether the objects are a coat around sentences, so that they must be read as text."""
    some = [record for record in records if record][:2000]
    wordy: Counter[str] = Counter()
    spread: dict[str, set[str]] = {}
    for record in some:
        for key, value in record.items():
            if value.count(" ") >= 2 and not stamps_in_whole(value):
                wordy[key] += 1
                spread.setdefault(key, set()).add(value)
    return any(count > 0.5 * len(some) and len(spread[key]) > 0.3 * count for key, count in wordy.items())


def stamps_in_whole(text: str) -> bool:
    """Whether a text is a stamp and nothing else."""
    text = bare_stamp(text)
    found = stamps_in(text) if len(text) < 40 else []
    return len(found) == 1 and found[0][:2] == (0, len(text))


def bare_stamp(text: str) -> str:
    """A cell without the brackets around its stamp and without the name of its zone."""
    return re.sub(r"(?<=[0-9Mm]) (?:UTC|GMT|Z|[A-Z]{3,4})$", "", text.strip().lstrip("[(<").rstrip("])>"))


def dressed(time: str, text: str) -> str:
    """A form of time with the brackets and the zone's name that a cell has around its stamp."""
    text, bare = text.strip(), bare_stamp(text)
    if text == bare or bare not in text:
        return time
    before, after = text.split(bare, 1)
    spelt = {"iso": "%Y-%m-%dT%H:%M:%S" if "T" in bare else "%Y-%m-%d %H:%M:%S", "syslog": "%b %d %H:%M:%S"}.get(
        time, time
    )
    if time == "iso":
        fraction = re.search(r"[0-9]([.,])[0-9]+(?:Z|[+-][0-9:]+)?$", bare)
        spelt += (f"{fraction[1]}%f" if fraction else "") + (
            "%z" if re.search(r"(?:Z|[+-][0-9]{2}:?[0-9]{2})$", bare) else ""
        )
    return before + spelt + re.sub(r"[A-Z]{1,4}", "%Z", after)


def _csv(lines: list[str]) -> Sample | None:
    """A csv with its header line; None where there is none."""
    for row, line in enumerate(lines[:50]):
        if not line.strip(BLANKS) or line.lstrip()[:1] == "{":
            continue
        for separator in SEPARATORS:
            names = cells(line, separator)
            if names and _are_names(names) and _heads(names, lines[row + 1 : row + 400], separator):
                return _table(lines, tuple(names), separator)
    return None


def _are_names(names: Sequence[str]) -> bool:
    distinct = len(names) >= 3 and len(set(names)) == len(names)
    return distinct and all(re.fullmatch(r"[A-Za-z_][\w .%/()°-]{0,40}", name) for name in names)


def _heads(names: Sequence[str], lines: Sequence[str], separator: str) -> bool:
    """Whether names stand above lines of as many cells, one of which is a stamp."""
    below = [line for line in lines if line]
    fitting = [cut for line in below if (cut := cells(line, separator)) and len(cut) == len(names)]
    stamped = any(stamps_in_whole(cell) for cut in fitting[:50] for cell in cut)
    return len(below) >= 2 and len(fitting) >= 0.7 * len(below) and stamped


def _table(lines: list[str], names: tuple[str, ...], separator: str) -> Sample:
    records: list[dict[str, str] | None] = []
    for text in lines:
        found = cells(text, separator)
        whole = found is not None and len(found) == len(names) and tuple(found) != names
        records.append(dict(zip(names, found or [], strict=True)) if whole else None)
    return Sample(lines, "csv", [None] * len(lines), records, names, separator)


def _headless(lines: list[str]) -> Sample | None:
    """A table without a header line: the same number of cells, 4 or more, in nearly all lines, one of which is the
    stamp.
    """
    some = [line for line in lines if line.strip(BLANKS)][:4000]
    for separator in SEPARATORS:
        cut = [cells(line, separator) or [] for line in some]
        counts = Counter(map(len, cut))
        many, often = counts.most_common(1)[0] if counts else (0, 0)
        if many < LEAST_CELLS or often < ALIKE * len(some):
            continue
        rows = [row for row in cut if len(row) == many]
        stamps = [place for place in range(many) if all(stamps_in_whole(row[place]) for row in rows[:50])]
        if not stamps or _is_prose(rows, stamps[0]):
            continue
        names = tuple(str(place + 1) for place in range(many))
        records = [
            dict(zip(names, row, strict=True)) if (row := cells(line, separator)) and len(row) == many else None
            for line in lines
        ]
        return Sample(lines, "csv", [None] * len(lines), records, names, separator, headed=False)
    return None


def _is_prose(rows: Sequence[Sequence[str]], stamp: int) -> bool:
    """Whether most cells say what they are by a word of their own, as `mode: DMR`: such lines are pairs."""
    told = [
        bool(re.match(r"[A-Za-z_]\w*(?:=|: )", cell))
        for row in rows[:200]
        for place, cell in enumerate(row)
        if place != stamp and cell
    ]
    return bool(told) and sum(told) > 0.5 * len(told)


def _syslog(lines: list[str]) -> list[str | None] | None:
    """The messages of syslog lines. None where there is no such header, or where its tags say something that a dialect
    needs.
    """
    some = pl.Series([line for line in lines if line][:4000], dtype=pl.String)
    inside = unwrap_syslog(some)
    if not len(some) or inside.text.is_not_null().mean() < 0.95 or (inside.kinds == 0).mean() > 0.05:  # type: ignore[operator]
        return None
    long = some.str.contains(r"^(?:<[0-9]{1,3}>)?1 [0-9]{4}-")
    if long.all():
        return unwrap_syslog(pl.Series(lines, dtype=pl.String)).text.to_list()
    head = some.str.extract(rf"^{PRIORITY}{HEAD} ([^ ]+) ", 1)
    tags = some.str.extract(rf"^{PRIORITY}{HEAD} [^ ]+ ([^ :\[\]]{{1,64}})(?:\[[^\]]*\])?: ?", 1)
    if head.drop_nulls().n_unique() > 2 or tags.is_null().mean() > 0.02 or tags.drop_nulls().n_unique() > 1:  # type: ignore[operator]
        return None
    return unwrap_syslog(pl.Series(lines, dtype=pl.String)).text.to_list()


def _find_stamps(sample: Sample, known: Known, around_us: int) -> None:
    if known.time:
        sample.stamping = Stamping(known.time, spelling_of(known.time))
    if sample.envelope == "journal":
        sample.stamping = Stamping("iso", "")
    elif sample.envelope == "syslog":
        sample.stamping = Stamping("syslog", "")
    elif sample.is_table:
        _stamp_field(sample, around_us)
    elif sample.stamping is None:
        sample.stamping = find_stamping([line for line in sample.lines if line], around_us)


def _stamp_field(sample: Sample, around_us: int) -> None:
    """The field of a table that holds the stamp: filled in most rows, and the one that rises most steadily."""
    records = [record for record in sample.records if record]
    best: tuple[float, int] = (0.0, 0)
    for place, name in enumerate(dict.fromkeys(key for record in records[:500] for key in record)):
        texts = [record[name] for record in records if record.get(name)]
        if len(texts) < 0.5 * len(records) or sum(stamps_in_whole(text) for text in texts[:40]) < 0.9 * len(texts[:40]):
            continue
        found = find_stamping([bare_stamp(text) for text in texts[:3000]], around_us)
        if found is None or found.tail:
            continue
        found = replace(found, time=dressed(found.time, texts[0]))
        _, us = read_stamps(pl.Series(texts[:5000], dtype=pl.String), time_form(found.time))
        steady = float((np.diff(us) >= 0).mean()) if len(us) > 1 else 1.0
        worth = (round(len(texts) / len(records), 1) + steady, -place)
        if worth > best:
            best, sample.stamp_field = worth, name
            sample.stamping = sample.stamping if sample.stamping and not sample.stamping.sure else found
            sample.stamping = found


def _read(sample: Sample, known: Known, around_us: int, zone: str | None) -> None:
    """Reads the stamps into instants; lines without one have that of the line before."""
    n = len(sample.lines)
    kinds, us = np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64)
    series = pl.Series(list(sample.lines), dtype=pl.String)
    stamping = sample.stamping
    if sample.envelope in ("syslog", "journal"):
        inside = (unwrap_syslog if sample.envelope == "syslog" else unwrap_journal)(series)
        kinds, us = inside.kinds, inside.us
    elif stamping is not None:
        if sample.is_table:
            texts = pl.Series(
                [record.get(sample.stamp_field or "") if record else None for record in sample.records], dtype=pl.String
            )
        else:
            spelling = re.compile(stamping.spelling)
            found = [spelling.search(line) for line in sample.lines]
            texts = pl.Series([match[0] if match else None for match in found], dtype=pl.String)
        form = NAMED["epoch-ms"] if stamping.tail else time_form(stamping.time)
        kinds, us = read_stamps(texts.str.strip_chars(), form)
    fixed = kinds[kinds != 0]
    local = bool(len(fixed)) and bool((fixed != INSTANT).mean() > 0.5)
    sample.zone, sample.zone_sure = (_zone(sample, known, zone)) if local else ("UTC", True)
    if (kinds == DAYLESS).any():
        kinds, us = with_days(kinds, us, ZoneInfo(sample.zone), None, None, around_us)
    us, told = to_instants(kinds, us.copy(), np.zeros(n, dtype=np.int64), ZoneInfo(sample.zone), None, around_us)
    before = np.maximum.accumulate(np.where(told, np.arange(n), -1)) if n else np.zeros(0, dtype=np.int64)
    sample.us = np.where(before >= 0, us[np.maximum(before, 0)], 0) if n else us
    sample.stamped = told & (kinds != 0)


def _zone(sample: Sample, known: Known, zone: str | None) -> tuple[str, bool]:
    """The zone of stamps without an offset: said, or written behind the stamp. Otherwise it is a guess: the station's,
    from which a host's clock may differ, or UTC.
    """
    if known.zone:
        return known.zone, True
    if sample.stamping and sample.stamping.spelling:
        after = re.compile(rf"(?:{sample.stamping.spelling})\W?(UTC|GMT|BST|CEST|CET|Z)\b")
        words = {match[1] for line in sample.lines[:5000] if (match := after.search(line))}
        if words and not sample.is_table:
            return next((ZONES[word] for word in words if word not in ("UTC", "GMT", "Z")), "UTC"), True
    return zone or "UTC", False
