"""A host was upgraded: its new lines are noticed, proposals read them, and what was unread is read again exactly once,
as if it had been understood from the start.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from parsers.adopt.learn import Learnt, learn
from parsers.adopt.more import propose, with_proposal
from parsers.dialect import dialect_from_text
from parsers.samples import check_samples
from server.config import load_station
from server.intake.ingest import Intake
from server.intake.rereading import reread
from server.store import schema
from server.store.engine import open_store, reading
from tests.adopt.book import book
from tests.adopt.hands_seen import storyteller

STATION = '[repeater]\ncallsign = "QB0BFR"\n[[log]]\npath = "host.log"\ndialect = "host"\n[store]\nurl = "sqlite:///{store}"\n'
WHAT = (
    "start",
    "end",
    "until",
    "mode",
    "slot",
    "side",
    "station",
    "target",
    "cause",
    "ber_pct",
    "loss_pct",
    "rssi_dbm",
)


def new_ends(line: str) -> str:
    return line.replace(" let the key go after ", " released the key, having spoken for ").replace(
        "All is well", "Everything is fine"
    )


def new_starts(line: str) -> str:
    return line.replace(" opens the mouth in ", " has pressed the key in ").replace(
        ", and wishes for ", " in order to reach "
    )


def both(line: str) -> str:
    return new_starts(new_ends(line))


@pytest.fixture(scope="module")
def before() -> tuple[list[str], Learnt]:
    """Two days' log of a host, and the dialect that was learnt from it."""
    lines = list(storyteller(book(days=2), np.random.default_rng(1)))
    return lines, learn(lines, book(days=2).rows[-1]["t"], name="host")


def ingested(folder: Path, store: str, lines: list[str], dialect: str) -> sa.Engine:
    folder.mkdir(exist_ok=True)
    (folder / "host.log").write_text("".join(line + "\n" for line in lines))
    (folder / "host.toml").write_text(dialect)
    (folder / "station.toml").write_text(STATION.format(store=store))
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()
    return engine


def held(engine: sa.Engine) -> dict[str, object]:
    """All that a store holds of a log, in an order of its own."""
    over, event, log, hour, still = schema.over, schema.event, schema.log, schema.line_hour, schema.open_over
    with reading(engine) as connection:
        overs = sorted(map(repr, connection.execute(sa.select(*(over.c[name] for name in WHAT)))))
        events = sorted(
            map(repr, connection.execute(sa.select(event.c.t, event.c.event, event.c.mode, event.c.station)))
        )
        counts = connection.execute(sa.select(log.c.lines, log.c.understood, log.c.ignored, log.c.unread)).one()
        opened = sorted(
            map(repr, connection.execute(sa.select(still.c.start, still.c.mode, still.c.slot, still.c.side)))
        )
        hours = {}
        for row in connection.execute(sa.select(hour)):
            blobs = (np.frombuffer(blob, dtype="<u4") for blob in (row.understood, row.ignored, row.unread))
            hours[row.hour] = tuple(tuple(sorted(blob.tolist())) for blob in blobs)
        kept = connection.execute(sa.select(sa.func.count()).select_from(schema.unread_line)).scalar()
    return {"overs": overs, "events": events, "counts": tuple(counts), "open": opened, "hours": hours, "kept": kept}


@pytest.mark.parametrize("changed", [new_ends, new_starts, both])
def test_lines_read_again_leave_the_store_as_if_they_had_been_understood_at_once(
    tmp_path: Path, before: tuple[list[str], Learnt], changed: Callable[[str], str]
) -> None:
    lines, learnt = before
    upgraded = lines[: len(lines) // 2] + [changed(line) for line in lines[len(lines) // 2 :]]
    engine = ingested(tmp_path / "followed", "a.db", upgraded, learnt.text)
    with reading(engine) as connection:
        unread = [
            row.text for row in connection.execute(sa.select(schema.unread_line).order_by(schema.unread_line.c.id))
        ]
        log_name = connection.execute(sa.select(schema.log.c.name)).scalar()
    assert len(unread) > 200
    text = learnt.text
    for proposal in propose(text, learnt.dialect, unread, book(days=2).rows[-1]["t"]):
        text = with_proposal(text, learnt.dialect, proposal)
    grown = dialect_from_text(text, Path("host.toml"))
    # A wider line further down may match too (docs/contract.md: the first one wins); nothing else may be said.
    assert [one.says for one in check_samples(grown) if not one.warning] == []
    again = reread(engine, log_name, text, tmp_path / "host.toml")
    assert again.lines == len(unread)
    fresh = ingested(tmp_path / "fresh", "b.db", upgraded, text)
    assert held(engine) == held(fresh)
    assert reread(engine, log_name, text, tmp_path / "host.toml").lines == 0
    assert held(engine) == held(fresh)
    engine.dispose()
    fresh.dispose()


def test_rubbish_is_not_proposed(before: tuple[list[str], Learnt]) -> None:
    _, learnt = before
    rng = np.random.default_rng(3)
    rubbish = ["".join(chr(int(c)) for c in rng.integers(33, 0x2FF, size=int(rng.integers(5, 60)))) for _ in range(200)]
    assert [one for one in propose(learnt.text, learnt.dialect, rubbish, 0) if one.event != "ignore"] == []


def test_new_lines_of_one_station_alone_are_proposed_for_every_station() -> None:
    learnt = _learnt_of_two_lines_an_over()
    new = [f"2026-11-{2 + n // 24:02} {n % 24:02}:40:00.000 DMR PARKED from=QA1XYZ after={n}.5s" for n in range(40)]
    proposed = propose(learnt.text, learnt.dialect, new, 0)
    assert [(one.event, one.lines) for one in proposed] == [("over-end", 40)]
    assert "from={station} after={duration}" in proposed[0].toml


def _learnt_of_two_lines_an_over() -> Learnt:
    """Rows are invented."""
    rows = []
    for n in range(300):
        at, mode, who = (
            f"2026-11-{2 + n // 24:02} {n % 24:02}",
            ("DMR", "M17", "C4FM")[n % 3],
            f"Q{'ABC'[n % 3]}{n % 9 + 1}XYZ",
        )
        rows.append(f"{at}:05:00.000 {mode} BEGIN from={who} to=grove-{n % 4} via={('air', 'wire')[n % 2]}")
        rows.append(
            f"{at}:05:{2 + n % 50:02}.{n % 7}00 {mode} END from={who} after={2 + n % 50}.{n % 7}s ber=0.{n % 9}%"
        )
    return learn(rows, 0, zone="UTC")
