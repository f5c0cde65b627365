"""Frames on their way into SQLite come back as they were and in their order, however long they are and whatever they
lack.
"""

from pathlib import Path
from typing import Any

import polars as pl
import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from server.intake.pairing import OVER_SCHEMA
from server.store import frames, schema
from server.store.engine import open_store, reading, writing

NAMES = [name for name in OVER_SCHEMA if name != "start"]
HOSTILE = "x'); DROP TABLE over; --?"


def rows_of(engine: sa.Engine, names: list[str]) -> list[tuple[Any, ...]]:
    with reading(engine) as connection:
        return [
            tuple(row)
            for row in connection.execute(
                sa.select(*(schema.over.c[name] for name in names)).order_by(schema.over.c.id)
            )
        ]


def stored(folder: Path, frame: pl.DataFrame) -> list[tuple[Any, ...]]:
    engine = open_store(f"sqlite:///{folder}/airtally.db")
    with writing(engine) as connection:
        connection.execute(sa.delete(schema.over))
        frames.insert_frame(connection, schema.over, frame, log_id=7)
    found = rows_of(engine, ["log_id", *OVER_SCHEMA])
    engine.dispose()
    return found


ROW = st.fixed_dictionaries(
    {
        "end": st.none() | st.integers(0, 2**50),
        "until": st.none() | st.integers(0, 2**50),
        "mode": st.sampled_from([None, "dmr", "c4fm"]),
        "slot": st.sampled_from([None, 1, 2]),
        "side": st.sampled_from([None, "air", "link"]),
        "station": st.sampled_from([None, "QA1XYZ", "\ufffe", HOSTILE]),
        "target": st.sampled_from([None, "", "?", HOSTILE]),
        "ber_pct": st.sampled_from([None, 0.0, 1.5]),
        "loss_pct": st.none(),
        "rssi_dbm": st.sampled_from([None, -97.0]),
        "cause": st.sampled_from([None, "released", "timeout"]),
        "doubtful": st.booleans(),
        "whole": st.booleans(),
    }
)


@settings(max_examples=60, deadline=None)
@given(st.lists(ROW, min_size=1, max_size=12), st.sampled_from([1, 2, 40, 999, 1000, 1001, 2500]))
def test_rows_come_back_as_they_were(
    tmp_path_factory: pytest.TempPathFactory, kinds: list[dict[str, Any]], count: int
) -> None:
    rows = [{"start": i // 7, **kinds[i % len(kinds) if i % 3 else i * len(kinds) // count]} for i in range(count)]
    frame = pl.DataFrame(rows, schema=OVER_SCHEMA)
    folder = tmp_path_factory.getbasetemp() / "frames"
    folder.mkdir(exist_ok=True)
    wanted = [(7, *row) for row in frame.with_columns(pl.col(pl.Enum).cast(pl.String)).rows()]
    assert stored(folder, frame) == wanted


def test_a_frame_without_rows_leaves_the_table_as_it_is(tmp_path: Path) -> None:
    assert stored(tmp_path, pl.DataFrame(schema=OVER_SCHEMA)) == []


def test_words_stand_in_the_statement_and_what_a_log_says_never_does(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path}/airtally.db")
    said: list[str] = []
    sa.event.listen(engine, "before_cursor_execute", lambda _c, _cur, statement, *_rest: said.append(statement))
    row = {
        "start": 1,
        "mode": "dmr",
        "side": "air",
        "slot": 2,
        "station": HOSTILE,
        "target": HOSTILE,
        "doubtful": False,
        "whole": False,
    }
    with writing(engine) as connection:
        frames.insert_frame(connection, schema.over, pl.DataFrame([row] * frames.LONG, schema=OVER_SCHEMA), log_id=1)
    engine.dispose()
    inserts = [statement for statement in said if statement.startswith("INSERT INTO over")]
    assert inserts and all("'dmr'" in statement and "DROP" not in statement for statement in inserts)
