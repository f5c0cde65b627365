"""A station that is forgotten leaves no trace in the store's bytes."""

import contextlib
import json
import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store import forgetting, schema
from server.store.engine import open_store, reading, writing
from server.store.forgetting import ERASED, LEFT, ROWS, SAID, TEXTS, VALUES, Identity, erase, look, scrub
from shared.errors import AirtallyError

CALL, ID = "QA1XYZ", "9990123"
WHO = Identity([CALL, ID])
#: As a person's identity may stand in what hosts and keepers write.
SPELLINGS = ("QA1XYZ", "qa1xyz", "QA1XYZ-7", "qa1xyz/P", "QA1XYZ  B", " Qa1XyZ ", "9990123", "9990123-2")
OTHERS = ("QA1XY", "QA1XYZA", "BQA1XYZ", "99901234", "19990123", "QB2ABC")


def test_every_text_of_the_store_is_of_one_kind() -> None:
    kinds = (VALUES, TEXTS, ROWS, LEFT)
    for table in schema.metadata.sorted_tables:
        for column in table.columns:
            if isinstance(column.type, sa.String):
                times = sum(column.name in kind.get(table.name, ()) for kind in kinds)
                assert times == 1, f"{table.name}.{column.name} is looked at by {times} of the ways to forget"
    changed = {*VALUES, *TEXTS, *ROWS}
    assert changed == set(SAID) and all(names for kind in kinds for names in kind.values())


def planted(url: str) -> sa.Engine:
    """A store with the identity in every text column, in every spelling, beside others that only look like it."""
    engine = open_store(url)
    with writing(engine) as connection:
        for n, text in enumerate((*SPELLINGS, *OTHERS), 1):
            for table in schema.metadata.sorted_tables:
                held = (*VALUES.get(table.name, ()), *TEXTS.get(table.name, ()), *ROWS.get(table.name, ()))
                row: dict[str, object] = {}
                for column in table.columns:
                    if column.name in held:
                        inside = table.name not in VALUES
                        row[column.name] = (
                            json.dumps([f"heard {text}, then", text])
                            if inside and column.name in ("value", "header")
                            else f"heard {text}, then"
                            if inside
                            else text
                        )
                    elif isinstance(column.type, sa.String):
                        row[column.name] = f"{column.name} {n}"
                    elif isinstance(column.type, sa.Boolean):
                        row[column.name] = False
                    elif isinstance(column.type, sa.LargeBinary):
                        row[column.name] = b""
                    else:
                        row[column.name] = n
                connection.execute(sa.insert(table).values(**row))
    return engine


def bytes_of(folder: Path) -> bytes:
    return b"".join(file.read_bytes() for file in sorted(folder.glob("airtally.db*")))


def held_by(said: bytes) -> list[str]:
    """The spellings that stand in the bytes by themselves, in UTF-8 or UTF-16."""
    found = []
    for one in (CALL, ID):
        for text in (one, one.lower(), one.title()):
            for encoded in (text.encode(), text.encode("utf-16-le"), text.encode("utf-16-be")):
                at = -1
                while (at := said.find(encoded, at + 1)) >= 0:
                    around = said[at - 1 : at] + said[at + len(encoded) : at + len(encoded) + 1]
                    if not any(chr(byte).isalnum() for byte in around):
                        found.append(text)
    return found


def test_nothing_of_an_identity_is_left_in_the_bytes_and_others_stay(tmp_path: Path) -> None:
    engine = planted(f"sqlite:///{tmp_path / 'airtally.db'}")
    others = len(SPELLINGS) + len(OTHERS)
    assert len(held_by(bytes_of(tmp_path))) > 50
    found = look(engine, WHO)
    assert not found.left and {name: len(keys) for name, keys in found.rows.items()} == {
        name: len(SPELLINGS) + (4 if name in ("unread_line", "note", "timer_change") else 0)
        for name in SAID  # of a line and of the keeper's words also what holds it within a word
    }
    gone = erase(engine, WHO)
    scrub(engine)
    assert gone.rows == found.rows
    assert held_by(bytes_of(tmp_path)) == []
    assert (tmp_path / "airtally.db-wal").stat().st_size == 0
    assert look(engine, WHO).total() == 0
    with reading(engine) as connection:
        for name in SAID:
            left = connection.execute(sa.select(sa.func.count()).select_from(schema.metadata.tables[name])).scalar_one()
            assert left == others - (len(found.rows[name]) if name in ROWS else 0) + (name == "fact"), (
                name
            )  # the version is a fact too
        kept = set(connection.execute(sa.select(schema.over.c.station)).scalars())
        assert kept == {None, *OTHERS}
        says = connection.execute(sa.select(schema.incident.c.says)).scalars().all()
        assert sum(ERASED in text for text in says) == len(SPELLINGS) and f"heard {ERASED}, then" in says
        assert all(
            json.loads(value)
            for value in connection.execute(
                sa.select(schema.fact.c.value).where(schema.fact.c.name != "version")
            ).scalars()
        )
    engine.dispose()


def test_what_was_erased_before_leaves_the_bytes_too(tmp_path: Path) -> None:
    """Deleted by an older version, or with the oldest unread lines: the rows are gone, their bytes are not."""
    engine = planted(f"sqlite:///{tmp_path / 'airtally.db'}")
    with writing(engine) as connection:
        for table in reversed(schema.metadata.sorted_tables):
            connection.execute(sa.delete(table))
    assert held_by(bytes_of(tmp_path)) and not look(engine, WHO).total()
    scrub(engine)
    assert held_by(bytes_of(tmp_path)) == []
    engine.dispose()


def test_a_reader_that_stays_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(forgetting, "WAIT_S", 0.3)
    engine = planted(f"sqlite:///{tmp_path / 'airtally.db'}")
    erase(engine, WHO)
    with contextlib.closing(sqlite3.connect(tmp_path / "airtally.db", isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM over").fetchone()
        with pytest.raises(AirtallyError, match="stop `airtally serve` and run the same command again"):
            scrub(engine)
    scrub(engine)
    assert held_by(bytes_of(tmp_path)) == []
    engine.dispose()


def test_names_of_files_and_logs_are_named_and_left(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'airtally.db'}")
    with writing(engine) as connection:
        connection.execute(sa.insert(schema.log).values(name="/var/log/qa1xyz.log", dialect="host"))
    assert look(engine, WHO).left == ["log.name: /var/log/qa1xyz.log"] and look(engine, WHO).total() == 0
    engine.dispose()


def test_a_short_identity_is_taken_as_a_whole_value_only(tmp_path: Path) -> None:
    engine = planted(f"sqlite:///{tmp_path / 'airtally.db'}")
    with writing(engine) as connection:
        connection.execute(sa.update(schema.over).where(schema.over.c.id == 1).values(station="12"))
        connection.execute(sa.insert(schema.timer_change).values(at=1, note="12 overs were cut"))
    assert look(engine, Identity(["12"])).rows == {"over": [(1,)]}
    engine.dispose()


@pytest.mark.parametrize(
    "written",
    [
        "QA1XYZs",
        "byQA1XYZ",
        "ID9990123",
        "QA1XYZ's",
        "QA1 XYZ",
        "9990 123",
        "Q\u00c11X\u00adYZ",
        "Q\u0410\u0031\u0425YZ",
    ],
)
def test_the_keepers_words_lose_an_identity_however_it_is_written(tmp_path: Path, written: str) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'airtally.db'}")
    with writing(engine) as connection:
        for text in (f"mended, {written}, 20 m", "QA1XY and 999012 stay"):
            connection.execute(sa.insert(schema.note).values(at=1, kind="site", text=text, for_committee=False))
        connection.execute(sa.insert(schema.timer_change).values(at=1, note=f"for {written}"))
    assert erase(engine, WHO).rows == {"note": [(1,)], "timer_change": [(1,)]}
    with reading(engine) as connection:
        told = connection.execute(sa.select(schema.note.c.text).order_by(schema.note.c.id)).scalars().all()
        assert told == [f"mended, {ERASED}, 20 m", "QA1XY and 999012 stay"]
        assert connection.execute(sa.select(schema.timer_change.c.note)).scalar() == f"for {ERASED}"
    engine.dispose()
