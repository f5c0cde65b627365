"""What comes of a log by a dialect, run through the real reader and the real pairing."""

from collections.abc import Iterable

import numpy as np
import polars as pl

from parsers.adopt.fit import Fit
from parsers.reading import Carry, Reader
from server.intake.pairing import nothing_open, pair
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.zones import SECOND

KEPT_UNREAD = 20_000
LONGEST_S = 3600.0  #: an over that only stamps time is no over beyond an hour
OVERLAP_US = 1_100_000  #: whole seconds in stamps make overs of one stream overlap by so much


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
