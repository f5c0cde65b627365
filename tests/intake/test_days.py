"""Logs whose stamps have no date: read at once or followed, in any blocks, each line has its day (docs/contract.md,
Dialect file).
"""

import datetime as dt
import gzip
import os
import random
from pathlib import Path

import pytest

from server.intake.ingest import Intake
from server.store import schema
from shared.zones import SECOND, to_us
from tests.intake.conftest import Folder, MakeFolder

DIALECT = """
[dialect]
name = "tarn"
time = "%H:%M:%S"

[[line]]
event = "over"
text = "{t} {mode} {target} lasted {seconds}"
"""
FIRST = dt.datetime(2026, 5, 1, 21, 0, tzinfo=dt.UTC)


def moments(count: int, longest_h: float, seed: int) -> list[dt.datetime]:
    rng = random.Random(seed)
    out = [FIRST]
    while len(out) < count:
        out.append(out[-1] + dt.timedelta(seconds=rng.randint(1, int(longest_h * 3600))))
    return out


def line(number: int, moment: dt.datetime) -> bytes:
    return f"{moment:%H:%M:%S} dmr {number} lasted 1.0\n".encode()


def changed(path: Path, moment: dt.datetime) -> None:
    os.utime(path, (moment.timestamp(), moment.timestamp()))


def made(folder: MakeFolder, tmp_path: Path, now: list[dt.datetime], block_bytes: int | None = None) -> Folder:
    (tmp_path / "tarn.toml").write_text(DIALECT)
    one = folder(dialect="tarn")
    one.intake = Intake(one.engine, one.station, block_bytes, now_us=lambda: to_us(now[0]))
    return one


def starts(one: Folder) -> list[int]:
    return sorted(start for (start,) in one.rows(schema.over, "start"))


@pytest.mark.parametrize("block_bytes", [64, 300, None])
def test_a_log_read_at_once_has_its_days_in_any_blocks(
    folder: MakeFolder, tmp_path: Path, block_bytes: int | None
) -> None:
    when = moments(60, 19, 1)
    one = made(folder, tmp_path, [when[-1] + dt.timedelta(days=40)], block_bytes)
    path = one.write("host.log", b"".join(line(n, t) for n, t in enumerate(when)))
    changed(path, when[-1] + dt.timedelta(seconds=2))
    one.catch_up()
    assert starts(one) == [to_us(t) for t in when]


@pytest.mark.parametrize("seed", range(6))
def test_following_live_gives_the_days_that_reading_at_once_gives(
    folder: MakeFolder, tmp_path: Path, seed: int
) -> None:
    when = moments(40, 19, seed)
    now = [when[0]]
    one = made(folder, tmp_path, now)
    rng = random.Random(seed)
    for number, moment in enumerate(when):
        path = one.write("host.log", line(number, moment))
        changed(path, moment + dt.timedelta(seconds=1))
        now[0] = moment + dt.timedelta(seconds=2)
        if rng.random() < 0.4:
            one.catch_up()
        if rng.random() < 0.1:
            one.intake = Intake(one.engine, one.station, now_us=lambda: to_us(now[0]))
        if number == 25:
            with gzip.open(tmp_path / "host.log.1.gz", "wb") as packed:
                packed.write(path.read_bytes())
            changed(tmp_path / "host.log.1.gz", moment + dt.timedelta(seconds=1))
            path.unlink()
    one.catch_up()
    assert starts(one) == [to_us(t) for t in when]


def test_no_line_lies_beyond_the_moment_of_reading_whatever_the_file_says(folder: MakeFolder, tmp_path: Path) -> None:
    now = dt.datetime(2026, 5, 3, 12, 0, tzinfo=dt.UTC)
    one = made(folder, tmp_path, [now])
    path = one.write("host.log", b"23:00:00 dmr 0 lasted 1.0\n13:00:00 dmr 1 lasted 1.0\n")
    changed(path, now + dt.timedelta(days=9))
    one.catch_up()
    assert starts(one) == [
        to_us(dt.datetime(2026, 5, 1, 23, tzinfo=dt.UTC)),
        to_us(dt.datetime(2026, 5, 2, 13, tzinfo=dt.UTC)),
    ]


def test_a_gap_that_only_the_files_time_of_change_shows_is_seen_while_following(
    folder: MakeFolder, tmp_path: Path
) -> None:
    now = [FIRST]
    one = made(folder, tmp_path, now)
    for number, moment in enumerate([FIRST, FIRST + dt.timedelta(days=5, minutes=1)]):
        changed(one.write("host.log", line(number, moment)), moment)
        now[0] = moment
        one.catch_up()
    assert starts(one) == [to_us(FIRST), to_us(FIRST) + (5 * 86_400 + 60) * SECOND]
