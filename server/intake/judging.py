"""Whole readings of a log compete: each is written as a dialect, run through the real reader and the real pairing, and
judged by the traffic
that comes out."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from parsers.adopt.fit import Fit
from parsers.adopt.learn import Learnt, NothingToLearn, learn
from parsers.adopt.model import Known
from parsers.adopt.trade import nobody
from parsers.dialect import reader
from parsers.reading import Carry, Reader
from server.intake.pairing import leave_unfinished, nothing_open, pair
from shared.callsigns import CALL_SIGN
from shared.errors import AirtallyError
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.zones import SECOND

MARGIN = 0.1  #: a reading by words must be so much better than one by evidence
KEPT_UNREAD = 20_000
LONGEST_S = 3600.0  #: an over that only stamps time is no over beyond an hour
JUDGED_LINES = 8_000  #: so much traffic is enough to tell readings apart
USUAL_S, SPREAD = (
    12.0,
    1.6,
)  #: overs last so long in the middle, and their middle varies by such a factor's logarithm (demo traffic; no source)
OVERLAP_US = 1_100_000  #: whole seconds in stamps make overs of one stream overlap by so much
#: what each term weighs; every term lies between 0 and 1
WEIGHTS: Mapping[str, float] = {
    "covered": 4.0,
    "paired": 3.0,
    "alone": 3.0,
    "agreeing": 2.0,
    "mode": 3.0,
    "length": 1.0,
    "slot": 0.5,
    "side": 0.4,
    "station": 1.0,
    "target": 0.3,
    "cause": 0.2,
}
_WHO = re.compile(rf"(?<![\w.])(?:{CALL_SIGN.pattern}|[1-9][0-9]{{6}})(?![\w.])")


@dataclass(frozen=True)
class Verdict:
    """How well the traffic that came out can be."""

    terms: Mapping[str, float]
    overs: int

    @property
    def total(self) -> float:
        return sum(WEIGHTS[name] * value for name, value in self.terms.items()) if self.overs else 0.0


def best_reading(lines: Sequence[str], around_us: int, *, known: Known | None, zone: str | None, name: str) -> Learnt:
    """The reading whose traffic is the likeliest. Raises NothingToLearn where none gives any."""
    best: tuple[float, Learnt] | None = None
    refused: AirtallyError | None = None
    for by_evidence in (True, False):
        try:
            learnt = learn(lines, around_us, known=known, zone=zone, name=name, by_evidence=by_evidence)
        except AirtallyError as error:
            refused = refused or error
            continue
        worth = judge(learnt, lines, around_us).total
        if best is None or worth > best[0] + MARGIN:
            best = worth, learnt
    if best is None:
        raise refused or NothingToLearn("The log holds no lines that are alike, so that nothing can be learnt from it.")
    return best[1]


def judge(learnt: Learnt, lines: Sequence[str], around_us: int) -> Verdict:
    """What comes of some lines by a dialect, read and paired as intake does it."""
    some = list(lines[:JUDGED_LINES])
    read = reader(learnt.dialect).read(pl.Series(some, dtype=pl.String), Carry(header=learnt.sample.header), around_us)
    paired = pair(nothing_open(), read.events)
    overs = pl.concat([paired.overs, leave_unfinished(paired.still_open)])
    ended = overs.filter(pl.col("end").is_not_null()).sort("start")
    orphans = paired.others.filter(pl.col("event") == "orphan").height
    n = max(1, ended.height)
    talk = np.fromiter((_WHO.search(line) is not None for line in some), dtype=np.bool_, count=len(some))
    seconds = ((ended["end"] - ended["start"]) / SECOND).to_numpy()
    middle = float(np.median(seconds)) if len(seconds) else 0.0
    dmr = ended.filter((pl.col("mode") == "dmr").fill_null(False))
    told = {key: ended[key].count() / n for key in ("mode", "side", "cause")}
    told |= {key: sum(not nobody(value) for value in ended[key].drop_nulls()) / n for key in ("station", "target")}
    terms = {
        "covered": float((read.verdicts[talk] == UNDERSTOOD).mean()) if talk.any() else 1.0,
        "paired": ended.height / max(1, overs.height + orphans),
        "alone": _alone(ended),
        "agreeing": 1 - float(ended["doubtful"].sum()) / n,
        "length": float(np.exp(-((np.log(max(middle, 1e-3) / USUAL_S) / SPREAD) ** 2) / 2)),
        "slot": dmr["slot"].count() / dmr.height if dmr.height else 1.0,
        **told,
    }
    return Verdict(terms, ended.height)


def _alone(ended: pl.DataFrame) -> float:
    """The share of overs that begin after the one before them on their stream ended."""
    if ended.height < 2:
        return 1.0
    streams = ended.with_columns_seq(pl.col("end").cum_max().shift(1).over("mode", "slot", "side").alias("before"))
    late = (streams["start"] >= streams["before"] - OVERLAP_US).fill_null(True)
    return float(late.sum()) / ended.height


def measure(reads: Reader, blocks: Iterable[pl.Series], around_us: int) -> Fit:
    """Reads blocks of lines and pairs their events as intake does, counting."""
    fit = Fit()
    carry, still_open = Carry(), nothing_open()
    for lines in blocks:
        read = reads.read(lines, carry, around_us)
        carry = read.carry
        counts = np.bincount(read.verdicts, minlength=3)
        if len(fit.kept) < KEPT_UNREAD and counts[UNREAD]:
            at = np.flatnonzero(read.verdicts == UNREAD)[: KEPT_UNREAD - len(fit.kept)]
            fit.kept += [(fit.lines + int(i), text) for i, text in zip(at, lines.gather(at).to_list(), strict=True)]
        fit.lines += len(lines)
        fit.understood += int(counts[UNDERSTOOD])
        fit.ignored += int(counts[IGNORED])
        fit.unread += int(counts[UNREAD])
        paired = pair(still_open, read.events)
        still_open = paired.still_open
        fit.orphans += paired.others.filter(pl.col("event") == "orphan").height
        fit.unfinished += paired.overs["end"].null_count()
        _count(fit, paired.overs.filter(pl.col("end").is_not_null()).sort("start"))
    fit.unfinished += still_open.height
    return fit


def _count(fit: Fit, ended: pl.DataFrame) -> None:
    """Adds finished overs (OVER_SCHEMA, by start)."""
    streams = ended.with_columns_seq(pl.col("end").cum_max().shift(1).over("mode", "slot", "side").alias("before"))
    late = (streams["start"] >= streams["before"] - OVERLAP_US).fill_null(True)
    short = (streams["end"] - streams["start"]) <= LONGEST_S * SECOND
    fit.overs += ended.height
    fit.agreeing += int((late & short & ~streams["doubtful"].fill_null(False)).sum())
    fit.with_mode += ended["mode"].count()
    fit.with_side += ended["side"].count()
    fit.with_station += ended["station"].count()
    fit.dmr_overlapping += int((~late & (streams["mode"] == "dmr").fill_null(False)).sum())
    dmr = ended.filter((pl.col("mode") == "dmr").fill_null(False))
    fit.dmr += dmr.height
    fit.dmr_with_slot += dmr["slot"].count()
