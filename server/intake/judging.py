"""What comes of a log by a dialect, run through the real reader and the real pairing."""

from collections.abc import Iterable

import numpy as np
import polars as pl

from parsers.adopt.fit import Fit
from parsers.adopt.trial import Overs, Trial, alone, tried
from parsers.reading import Carry, Reader
from server.intake.pairing import nothing_open, pair
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.zones import SECOND

KEPT_UNREAD = 20_000
KEPT = ("start", "end", "mode", "slot", "side", "doubtful")  #: columns of overs that the trial needs
STREAM = ("mode", "slot", "side")  #: overs of one stream can't overlap


def measure(reads: Reader, blocks: Iterable[pl.Series], around_us: int) -> Fit:
    """Reads blocks of lines and pairs their events as intake does, counting."""
    fit = Fit()
    carry, still_open = Carry(), nothing_open()
    ended: list[pl.DataFrame] = []
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
        finished = paired.overs.filter(pl.col("end").is_not_null())
        _count(fit, finished)
        ended.append(finished.select(KEPT))
    fit.unfinished += still_open.height
    if ended:
        fit.trial = _tried(fit, pl.concat(ended).sort("start"))
    return fit


def _count(fit: Fit, ended: pl.DataFrame) -> None:
    """Adds what finished overs (OVER_SCHEMA) tell."""
    fit.with_mode += ended["mode"].count()
    fit.with_side += ended["side"].count()
    fit.with_station += ended["station"].count()
    dmr = ended.filter((pl.col("mode") == "dmr").fill_null(False))
    fit.dmr += dmr.height
    fit.dmr_with_slot += dmr["slot"].count()


def _tried(fit: Fit, ended: pl.DataFrame) -> Trial:
    """The trial of finished overs (KEPT, by start): the one by which readings of the traffic were weighed."""
    stream = ended.select(pl.struct(STREAM).rank("dense")).to_series().to_numpy().astype(np.int64)
    start, end = (ended[name].to_numpy() / SECOND for name in ("start", "end"))
    overs = Overs(start, end, stream, ~ended["doubtful"].fill_null(False).to_numpy(), fit.unfinished + fit.orphans)
    told = {"mode": fit.with_mode / max(1, ended.height)}
    if fit.dmr:
        told["slots apart"] = float(alone(overs)[(ended["mode"] == "dmr").fill_null(False).to_numpy()].mean())
    return tried(overs, told)
