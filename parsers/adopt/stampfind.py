"""Which form of time a log is stamped with, and where in its lines the stamp stands."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import polars as pl

from parsers.stamps import NOT_READ, read_stamps
from parsers.time_forms import time_form

_MONTH = r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]{0,6}"
_DAY = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]{0,6}\.?,? )"
#: (strptime, expression); A, B, C stand for numbers whose order the log itself must settle
_DATES = (
    ("%Y-%m-%d", r"\d{4}-\d{2}-\d{2}"),
    ("%Y/%m/%d", r"\d{4}/\d{1,2}/\d{1,2}"),
    ("%Y.%m.%d", r"\d{4}\.\d{1,2}\.\d{1,2}"),
    ("A/B/%Y", r"\d{1,2}/\d{1,2}/\d{4}"),
    ("A.B.%Y", r"\d{1,2}\.\d{1,2}\.\d{4}"),
    ("A-B-%Y", r"\d{1,2}-\d{1,2}-\d{4}"),
    ("A/B/C", r"\d{1,2}/\d{1,2}/\d{2}"),
    ("A.B.C", r"\d{1,2}\.\d{1,2}\.\d{2}"),
    ("A-B-C", r"\d{1,2}-\d{1,2}-\d{2}"),
    ("%d %b %Y", rf"\d{{1,2}} {_MONTH} \d{{4}}"),
    ("%d-%b-%Y", rf"\d{{1,2}}-{_MONTH}-\d{{4}}"),
    ("%d/%b/%Y", rf"\d{{1,2}}/{_MONTH}/\d{{4}}"),
    ("%d%b%Y", rf"\d{{2}}{_MONTH}\d{{4}}"),
    ("%d-%b-%y", rf"\d{{1,2}}-{_MONTH}-\d{{2}}"),
    ("%d %b %y", rf"\d{{1,2}} {_MONTH} \d{{2}}"),
    ("%b %d %Y", rf"{_MONTH} {{1,2}}\d{{1,2}} \d{{4}}"),
    ("%b %d, %Y", rf"{_MONTH} {{1,2}}\d{{1,2}}, \d{{4}}"),
    ("%Y-%b-%d", rf"\d{{4}}-{_MONTH}-\d{{1,2}}"),
    ("%Y %b %d", rf"\d{{4}} {_MONTH} {{1,2}}\d{{1,2}}"),
    ("%Y%m%d", r"(?:19|20)\d{6}"),
    ("%y%m%d", r"\d{6}"),
    ("%d %b", rf"\d{{1,2}} {_MONTH}"),
    ("%d-%b", rf"\d{{1,2}}-{_MONTH}"),
    ("%b %d", rf"{_MONTH} {{1,2}}\d{{1,2}}"),
    ("A/B", r"\d{1,2}/\d{1,2}"),
    ("A.B.", r"\d{1,2}\.\d{1,2}\."),
    ("A.B", r"\d{1,2}\.\d{1,2}"),
    ("A-B", r"\d{1,2}-\d{1,2}"),
)
_TIMES = (
    ("%H:%M:%S", r"\d{1,2}:\d{2}:\d{2}"),
    ("%H.%M.%S", r"\d{1,2}\.\d{2}\.\d{2}"),
    ("%Hh%Mm%Ss", r"\d{1,2}h\d{2}m\d{2}s"),
    ("%Hh%Mm%S", r"\d{1,2}h\d{2}m\d{2}"),
    ("%H-%M-%S", r"\d{1,2}-\d{2}-\d{2}"),
    ("%H%M%S", r"\d{6}"),
    ("%H:%M", r"\d{1,2}:\d{2}"),
)
_GAP = r"(?P<gap>[ T_,:@/|-]{1,3}| at )"
_FRACTION = r"(?P<fraction>[.,:]\d{1,9})?"
_HALF = r"(?P<half> ?[AaPp]\.?[Mm]\.?)?"
_OFFSET = r"(?P<offset> ?[+-]\d{2}:?\d{2}|(?<=\d)Z)?"
_BEFORE, _AFTER = r"(?<![\w.:/+-])", r"(?![\w:]|[.,/-]\d)"
_COUNTS = (
    ("epoch-ns", r"(?<![\w.])1\d{18}(?![\w.])"),
    ("epoch-us", r"(?<![\w.])1\d{15}(?![\w.])"),
    ("epoch-ms", r"(?<![\w.])1\d{12}(?![\w])"),
    ("epoch", r"(?<![\w.])1\d{9}(?:\.\d{1,9})?(?![\w])"),
)
_CLOCK = re.compile(rf"\W{{0,2}}(?P<stamp>\d{{1,2}}:\d{{2}}:\d{{2}}(?P<fraction>[.,]\d{{1,6}})?){_AFTER}")
STAMPED, RISING = 0.1, 0.95  #: shares of the lines with a time of day at their head, and of the steps up among them
LOOKED, LOOKED_AT_HARD = 2000, 60  #: characters of a line, and lines in which every form is looked for


@dataclass(frozen=True)
class Stamping:
    """How a log is stamped."""

    time: str  #: a dialect's `time`
    spelling: str  #: regular expression of a stamp in a line
    tail: int = 0  #: digits of a count since 1970 that are finer than the dialect's `time` takes
    sure: bool = True  #: False where day and month might be the other way round
    other: str | None = None  #: the other order


@lru_cache
def _forms() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """(name with {…} for what a match settles, expression), the longest forms first."""
    out = []
    for date, date_re in _DATES:
        for time, time_re in _TIMES:
            if time == "%H:%M" and "Y" not in date and "C" not in date:
                continue
            first = rf"{_BEFORE}(?P<day>{_DAY})?{date_re}{_GAP}{time_re}{_FRACTION}{_HALF}{_OFFSET}{_AFTER}"
            out.append((f"{date}|{time}", re.compile(first)))
            after = rf"{_BEFORE}{time_re}{_FRACTION}{_HALF}{_GAP}(?P<day>{_DAY})?{date_re}{_OFFSET}{_AFTER}"
            out.append((f"{time}<{date}", re.compile(after)))
    clock = r"\d{1,2}:\d{2}:\d{2}"
    whole = rf"{_BEFORE}{_DAY}{_MONTH} {{1,2}}\d{{1,2}} {clock}(?: (?P<zone>[A-Z]{{3,4}}))? \d{{4}}{_AFTER}"
    out.insert(0, ("%a %b %d %H:%M:%S %Y", re.compile(whole)))
    short = rf"{_BEFORE}{_MONTH} {{1,2}}\d{{1,2}} \d{{1,2}}:\d{{2}}:\d{{2}} \d{{4}}{_AFTER}"
    out.insert(1, ("%b %d %H:%M:%S %Y", re.compile(short)))
    return tuple(out + [(name, re.compile(text)) for name, text in _COUNTS])


Forms = Sequence[tuple[str, re.Pattern[str]]]


def stamps_in(text: str, forms: Forms | None = None) -> list[tuple[int, int, str]]:
    """Every stamp in a line: (start, end, form). Of stamps that overlap the one whose form comes first, which is the
    longest.
    """
    return [
        (start, end, _spelt(name, match))
        for start, end, name, match in _matches(text, _forms() if forms is None else forms)
    ]


def _matches(text: str, forms: Forms) -> list[tuple[int, int, str, re.Match[str]]]:
    found: list[tuple[int, int, str, re.Match[str]]] = []
    if not re.search(r"\d\d", text):
        return found
    for name, expression in forms:
        for match in expression.finditer(text):
            if not any(match.start() < one[1] and one[0] < match.end() for one in found):
                found.append((match.start(), match.end(), name, match))
    return sorted(found, key=lambda one: one[0])


def _spelt(name: str, match: re.Match[str]) -> str:
    """The strptime pattern of one match, with A, B, C where the order of numbers is open."""
    groups = match.groupdict()
    if "|" not in name and "<" not in name:
        return name.replace("%S %Y", f"%S {groups['zone']} %Y") if groups.get("zone") else name
    cut = "|" if "|" in name else "<"
    first, second = name.split(cut)
    date, time = (first, second) if cut == "|" else (second, first)
    if groups.get("fraction"):
        time += groups["fraction"][0] + "%f"
    if groups.get("half"):
        time = time.replace("%H", "%I") + (" %p" if groups["half"].startswith(" ") else "%p")
    weekday = groups.get("day")
    if weekday:
        date = "%a" + weekday[len(weekday.rstrip(" ,.")) :].replace(".", "") + date
    if "%b" in date:
        month = re.search(_MONTH, match[0])
        if month and len(month[0]) > 3 and month[0].lower() != "sept":
            date = date.replace("%b", "%B")
    text = date + groups["gap"] + time if cut == "|" else time + groups["gap"] + date
    if groups.get("offset"):
        text += " %z" if groups["offset"].startswith(" ") else "%z"
    return _named(text)


def _named(text: str) -> str:
    """`iso` and `syslog` where the form is one of these."""
    if re.fullmatch(r"%Y-%m-%d[T ]%H:%M:%S(?:[.,]%f)?(?:%z)?|%Y%m%dT%H%M%S(?:[.,]%f)?(?:%z)?", text):
        return "iso"
    return "syslog" if re.fullmatch(r"%b %d %H:%M:%S(?:[.,]%f)?", text) else text


def find_stamping(lines: Sequence[str], around_us: int) -> Stamping | None:
    """How these lines are stamped; None where nothing like a stamp stands in at least a few of them."""
    return _dated(lines, around_us) or _time_of_day(lines)


def _time_of_day(lines: Sequence[str]) -> Stamping | None:
    """Stamps without a date: at the head of the lines, and rising from one to the next but for midnights. A length
    does not rise.
    """
    looked = [text for text in lines[:LOOKED] if text.strip()]
    found = [match for text in looked if (match := _CLOCK.match(text)) is not None]
    forms = Counter("%H:%M:%S" + (f"{match['fraction'][0]}%f" if match["fraction"] else "") for match in found)
    if len(found) < max(2, STAMPED * len(looked)):
        return None
    form = forms.most_common(1)[0][0]
    _, us = read_stamps(pl.Series([match["stamp"] for match in found], dtype=pl.String), time_form(form))
    return Stamping(form, spelling_of(form)) if float((np.diff(us) >= 0).mean()) >= RISING else None


def _dated(lines: Sequence[str], around_us: int) -> Stamping | None:
    some = lines[:: max(1, len(lines) // LOOKED_AT_HARD)]
    seen = {name for text in some for _, _, name, _ in _matches(text[:LOOKED], _forms())}
    forms = [(name, expression) for name, expression in _forms() if name in seen]
    counts: Counter[str] = Counter()
    place: Counter[str] = Counter()
    looked = lines[:: max(1, len(lines) // 2000)]
    by_form: dict[str, list[str]] = {}
    for text in looked:
        for start, end, form in {
            form: (start, end, form) for start, end, form in reversed(stamps_in(text[:LOOKED], forms))
        }.values():
            counts[form] += 1
            place[form] += start
            by_form.setdefault(form, []).append(text[start:end])
    if not counts:
        return None
    # The form of most lines; of two in the same lines the one that stands further to the left.
    most = max(counts.values())
    form = min(
        (one for one in counts if counts[one] >= 0.9 * most), key=lambda one: (place[one] / counts[one], -counts[one])
    )
    if counts[form] < max(2, 0.05 * len(looked)):
        return None
    return _settled(form, by_form[form], around_us)


def _settled(form: str, texts: list[str], around_us: int) -> Stamping:
    if form in ("epoch-us", "epoch-ns"):
        tail = 3 if form == "epoch-us" else 6
        return Stamping("epoch-ms", r"(?<![\w.])1\d{12}(?=\d{" + str(tail) + r"}(?!\w))", tail)
    choices = _orders(form)
    ranked = sorted((_unrest(texts, one, around_us), i, one) for i, one in enumerate(choices))
    best = ranked[0]
    sure = len(ranked) == 1 or best[0][0] < ranked[1][0][0] or best[0][1] < 0.8 * ranked[1][0][1]
    return Stamping(best[2], spelling_of(best[2]), 0, sure, None if sure else ranked[1][2])


def _orders(form: str) -> list[str]:
    if "C" in form.replace("%", ""):
        return [
            form.replace("A", a).replace("B", b).replace("C", c)
            for a, b, c in (("%d", "%m", "%y"), ("%m", "%d", "%y"), ("%y", "%m", "%d"))
        ]
    if re.search(r"(?<!%)A", form):
        return [re.sub("(?<!%)A", a, re.sub("(?<!%)B", b, form)) for a, b in (("%d", "%m"), ("%m", "%d"))]
    return [form]


def _unrest(texts: list[str], time: str, around_us: int) -> tuple[float, float]:
    """How badly stamps read as `time`: the share that can't be, and how far they jump about, days; stamps far from the
    time of the file count too.
    """
    kinds, us = read_stamps(pl.Series(texts, dtype=pl.String), time_form(time))
    right = kinds != NOT_READ
    if not right.any():
        return 1.0, float("inf")
    days = us[right] / 86_400e6
    away = around_us / 86_400e6 - float(days.max()) if "%y" in time or "%Y" in time else 0.0
    # The last line was written when its file last changed, unless the file was copied since: that settles what the
    # stamps leave open.
    return float(1 - right.mean()), float(np.abs(np.diff(days)).sum()) + 1.0 + max(0.0, -away - 2) + 0.01 * min(
        abs(away), 400.0
    )


@lru_cache
def spelling_of(time: str) -> str:
    """The expression by which stamps of a form are found in lines: the form's own, without its groups, and not within
    other text.
    """
    if time in ("epoch", "epoch-ms"):
        return dict(_COUNTS)[time]
    if time == "iso":
        body = r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}:\d{2}(?:[.,]\d+)?(?:[Zz]|[+-]\d{2}:?\d{2})?"
        body += r"|\d{8}T\d{6}(?:[.,]\d+)?(?:[Zz]|[+-]\d{2}:?\d{2})?"
        return rf"{_BEFORE}(?:{body})(?![\w:]|[.,]\d)"
    expression = re.sub(r"\(\?P<\w+>", "(?:", time_form(time).expression).removeprefix(" ?")
    return rf"{_BEFORE}(?:{expression})(?![\w:]|[.,]\d)"
