"""Log files to a dialect: sample them, learn, read them whole with what was learnt, and learn again what was left
unread.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from parsers.adopt.account import Account, account
from parsers.adopt.fit import Fit
from parsers.adopt.learn import Learnt, NothingToLearn, learn
from parsers.adopt.model import Known
from parsers.dialect import reader
from server.intake.batches import split_lines
from server.intake.blocks import blocks
from server.intake.judging import measure
from server.intake.log_names import PACKED
from server.intake.unpacking import DAMAGE, open_log
from shared.errors import UnusableError

BLOCK_BYTES = 8 << 20
MOST_BYTES = 1 << 30  #: of a log that is read whole to measure the fit
LEARNT_LINES = 24_000
HEAD_LINES, CHUNK_BYTES, CHUNKS = 12_000, 192 << 10, 12
LEFT_LINES = 6_000  #: unread lines that a second round learns from
WORTH_AGAIN = 0.0005

Progress = Callable[[int], None]  #: bytes just read


@dataclass(frozen=True)
class Adopted:
    """What a log taught."""

    learnt: Learnt
    fit: Fit
    account: Account


def adopt_files(
    paths: Sequence[Path],
    *,
    known: Known | None = None,
    zone: str | None = None,
    name: str = "learnt",
    progress: Progress | None = None,
    around_us: int,
) -> Adopted:
    """Learns the dialect of some files of one log, the oldest first. No stamp without a year lies more than a day after
    `around_us`. Raises NothingToLearn, UnusableError.
    """
    sample = sample_lines(paths)
    if not sample:
        raise UnusableError(f"{paths[0]}: is empty, so there is nothing to learn.")

    def whole() -> Iterator[pl.Series]:
        return every_line(paths, progress)

    return adopt_lines(sample, whole, around_us, known=known, zone=zone, name=name)


def adopt_lines(
    sample: Sequence[str],
    whole: Callable[[], Iterator[pl.Series]],
    around_us: int,
    *,
    known: Known | None = None,
    zone: str | None = None,
    name: str = "learnt",
) -> Adopted:
    """The same from sample lines, and the whole log as often as it is asked for."""
    learnt = learn(sample, around_us, known=known, zone=zone, name=name)
    fit = measure(reader(learnt.dialect), whole(), around_us)
    if fit.unread > WORTH_AGAIN * fit.lines and fit.kept and fit.lines > len(sample):
        # Rare shapes and spellings that the sample had none of.
        left = [text for _, text in fit.kept[:: max(1, len(fit.kept) // LEFT_LINES)]]
        again = learn([*sample, *left], around_us, known=known, zone=zone, name=name)
        second = measure(reader(again.dialect), whole(), around_us)
        if second.unread < fit.unread and second.overs >= fit.overs * 0.999:
            learnt, fit = again, second
    if learnt.several and not fit.overs:
        raise NothingToLearn(learnt.several)
    return Adopted(learnt, fit, account(learnt, fit))


def every_line(paths: Sequence[Path], progress: Progress | None = None) -> Iterator[pl.Series]:
    """All lines of the files, a block at a time, MOST_BYTES of them at most."""
    passed = 0
    for path in paths:
        try:
            with open_log(path) as stream:
                for block in blocks(stream, 0, BLOCK_BYTES, skipping=False, ended=True):
                    if progress:
                        progress(len(block.data))
                    passed += len(block.data)
                    yield split_lines(block.data)
                    if passed >= MOST_BYTES:
                        return
        except DAMAGE as error:
            if isinstance(error, FileNotFoundError | PermissionError | IsADirectoryError):
                raise UnusableError(f"{path}: can't be read ({error.strerror}).") from error
            continue  # damaged at its end: what came before is enough to learn from


def sample_lines(paths: Sequence[Path]) -> list[str]:
    """Lines to learn from: of a small log all; of a large one its head, stretches spread over it, and its tail."""
    share = max(2000, LEARNT_LINES // len(paths))
    out: list[str] = []
    for path in paths[-8:]:
        try:
            out += _sample(path, share)
        except DAMAGE as error:
            raise UnusableError(f"{path}: can't be read ({getattr(error, 'strerror', None) or error}).") from error
    return out


def _sample(path: Path, share: int) -> list[str]:
    head_bytes = 24 * CHUNK_BYTES
    with open_log(path) as stream:
        head = _some(stream, head_bytes)
        lines = _whole_lines(head, first=True, last=len(head) < head_bytes)
        if len(head) < head_bytes:
            return _thinned(lines, share)
        out = lines[: min(HEAD_LINES, share // 2)]
        left = share - len(out)
        if path.suffix in PACKED:
            passed = 0
            while len(out) < share and (piece := _some(stream, BLOCK_BYTES)):
                passed += len(piece)
                out += _whole_lines(piece[:CHUNK_BYTES], first=False, last=False)[: left // CHUNKS]
            return out
        size = path.stat().st_size
        for chunk in range(1, CHUNKS + 1):
            stream.seek(max(0, (size - CHUNK_BYTES) * chunk // CHUNKS))
            out += _whole_lines(_some(stream, CHUNK_BYTES), first=False, last=chunk == CHUNKS)[-(left // CHUNKS) :]
    return out


def _thinned(lines: list[str], share: int) -> list[str]:
    """All lines, or the head, stretches in between and the tail."""
    if len(lines) <= share:
        return lines
    out = lines[: share // 2]
    size = (share - len(out)) // CHUNKS
    rest = len(lines) - len(out) - size
    for chunk in range(CHUNKS):
        start = len(out[: share // 2]) + rest * (chunk + 1) // CHUNKS
        out += lines[start : start + size]
    return out


def _some(stream, count: int) -> bytes:  # type: ignore[no-untyped-def]
    parts: list[bytes] = []
    while count > 0 and (part := stream.read(count)):
        parts.append(part)
        count -= len(part)
    return b"".join(parts)


def _whole_lines(data: bytes, *, first: bool, last: bool) -> list[str]:
    """The lines of a stretch without those that it cuts."""
    start = 0 if first else data.find(b"\n") + 1
    end = len(data) if last else data.rfind(b"\n") + 1
    return split_lines(data[start:end]).to_list()
