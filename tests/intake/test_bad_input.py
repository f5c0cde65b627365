"""What bad input gets: a clear sentence, the good lines kept, nothing lost."""

import resource
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.intake import batches, file_readings
from server.intake.batches import split_lines
from server.intake.blocks import MOST_LINES, blocks
from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import open_store
from shared.errors import StoreError
from tests.intake.conftest import MakeFolder, over_line


def test_unreadable_lines_are_counted_and_kept_and_the_good_ones_stored(folder: MakeFolder) -> None:
    one = folder()
    garbage = [b"\x00\x01\x02\xff\xfe\n", b"caf\xe9 \xf0\x28\x8c\n", b"{\n", b"x" * 1_000_000 + b"\n", b'{"t": 5}\n']
    one.write("host.log", b"".join(over_line(number) + garbage[number % 5] for number in range(10)))
    caught = one.catch_up()
    assert (caught.lines, caught.understood, caught.unread) == (20, 10, 10)
    assert one.numbers() == list(range(10))
    kept = one.rows(schema.unread_line, "text", "cut")
    assert len(kept) == 10
    assert sorted(len(text) for text, cut in kept if cut) == [4096, 4096]
    assert all("\0" not in text for text, _ in kept)


def test_a_line_longer_than_a_block_is_one_unread_line(folder: MakeFolder) -> None:
    one = folder()
    one.restart(block_bytes=1000)
    one.write("host.log", over_line(1) + b"y" * 12_345 + b"\n" + over_line(2))
    caught = one.catch_up()
    assert (caught.lines, caught.unread) == (3, 1)
    assert one.numbers() == [1, 2]


def test_an_overlong_line_that_is_still_being_written_is_counted_once(folder: MakeFolder) -> None:
    one = folder()
    one.restart(block_bytes=1000)
    one.write("host.log", b"y" * 5000)
    one.catch_up()
    one.restart(block_bytes=1000)
    one.write("host.log", b"y" * 5000 + b"\n" + over_line(2))
    one.catch_up()
    assert one.rows(schema.log, "lines", "understood", "unread") == [(2, 1, 1)]


def test_windows_line_ends_and_no_line_end_at_all_are_lines() -> None:
    assert split_lines(b"a\r\nb\r\n").to_list() == ["a", "b"]
    assert split_lines(b"a\n\nb").to_list() == ["a", "", "b"]
    assert split_lines(b"\xff\n").to_list() == ["\ufffd"]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.text(alphabet=st.sampled_from('ab ,"#\t\0\x1f\x1e\u2028é\ufeff\\'), max_size=12), min_size=1, max_size=30
    ),
    st.binary(max_size=6),
    st.booleans(),
    st.booleans(),
)
def test_however_a_block_is_split_its_lines_are_those_of_a_plain_split(
    texts: list[str], junk: bytes, ended: bool, first: bool
) -> None:
    data = "\n".join(texts).encode() + junk.replace(b"\r", b"") + (b"\n" if ended else b"")
    padding = b"x" * 100 + b"\n"
    long = padding * (batches.QUICK_BYTES // len(padding) + 1)  # enough for the quick way
    data = data + b"\n" + long if first else long + data
    assert split_lines(data).to_list() == data.decode("utf-8", "replace").removesuffix("\n").split("\n")


def test_a_board_that_boots_in_the_past_leaves_the_present_as_it_was(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", b'{"t":"2026-11-16T10:00:00Z","event":"over-start","mode":"fm"}\n')
    one.write("host.log", b'{"t":"1970-01-01T00:00:09Z","event":"host-start"}\n')
    one.write("host.log", b'{"t":"1970-01-01T00:00:20Z","event":"over","mode":"fm","seconds":3,"target":"1"}\n')
    one.write("host.log", b'{"t":"2026-11-16T10:05:00Z","event":"over","mode":"fm","seconds":4,"target":"2"}\n')
    one.catch_up()
    assert one.rows(schema.over, "target", "end") == [("1", 23_000_000), ("2", 1_794_823_504_000_000), (None, None)]


def test_the_store_is_readable_by_its_owner_only(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", over_line(1))
    one.catch_up()
    for file in one.path.glob("airtally.db*"):
        assert stat.S_IMODE(file.stat().st_mode) & 0o077 == 0, file


def test_a_store_that_is_open_to_others_is_closed_to_them(tmp_path: Path) -> None:
    (tmp_path / "loose.db").touch(mode=0o666)
    open_store(f"sqlite:///{tmp_path / 'loose.db'}").dispose()
    assert stat.S_IMODE((tmp_path / "loose.db").stat().st_mode) == 0o600


def test_a_locked_store_is_a_sentence_and_nothing_is_lost(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", over_line(1))
    holder = sqlite3.connect(one.path / "airtally.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    impatient = open_store(one.station.store_url(), busy_ms=50)
    with pytest.raises(StoreError, match="another program holds the store locked; nothing was lost"):
        Intake(impatient, one.station).catch_up()
    holder.execute("ROLLBACK")
    holder.close()
    assert Intake(impatient, one.station).catch_up().lines == 1
    impatient.dispose()
    assert one.numbers() == [1]


def test_a_full_disk_is_a_sentence_and_the_lines_come_when_there_is_room(folder: MakeFolder) -> None:
    """A limit on file size stands in for the disk: SQLite gets the same refusal to write on."""
    one = folder()
    one.write("host.log", b"".join(over_line(number) for number in range(20_000)))
    command = [sys.executable, "-m", "server.cli", "ingest", "--station", str(one.station_file)]

    def small_disk() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))

    import signal

    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        preexec_fn=lambda: (signal.signal(signal.SIGXFSZ, signal.SIG_IGN), small_disk()),
    )
    assert done.returncode == 1
    assert "the disk is full or failing" in done.stderr and "Traceback" not in done.stderr
    assert one.numbers() == []
    again = subprocess.run(command, capture_output=True, text=True)
    assert again.returncode == 0, again.stderr
    assert one.numbers() == list(range(20_000))


def test_something_that_is_no_store_is_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / "no.db").write_bytes(b"this is a shopping list, not a database, and long enough to be read as one" * 20)
    with pytest.raises(StoreError, match=r"no\.db: is not an airtally store, or is damaged"):
        open_store(f"sqlite:///{tmp_path / 'no.db'}")


def test_a_log_that_may_not_be_read_is_named_and_the_others_are_read(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = folder("*.log")
    one.write("a.log", over_line(1))
    one.write("b.log", over_line(2))
    real = file_readings.open_log

    def closed(path: Path):  # the refusal that a plain user gets; tests may run as root, who gets none
        if path.name == "a.log":
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(file_readings, "open_log", closed)
    assert one.catch_up().troubles == [
        f"{one.path}/a.log: can't be read to its end (Permission denied); what came before is kept."
    ]
    assert one.numbers() == [2]


def test_blank_lines_without_end_take_no_room_and_are_read_in_bounded_blocks(folder: MakeFolder) -> None:
    one = folder()
    many = 3_000_000
    older = one.write("host.log.1", over_line(1) + b"\n" * many + b" \t\r\n" * 1000 + over_line(2))
    one.write("host.log", over_line(3))
    with older.open("rb", buffering=0) as stream:
        found = list(blocks(stream, 0, 8 << 20, skipping=False, ended=True))
    assert max(block.data.count(b"\n") for block in found) <= MOST_LINES and len(found) > 10
    assert [block.final for block in found] == [False] * (len(found) - 1) + [True]
    assert b"".join(block.data for block in found).count(b"\n") == many + 1002
    caught = one.catch_up()
    assert (caught.lines, caught.ignored, caught.troubles) == (many + 1003, many + 1000, [])
    assert one.numbers() == [1, 2, 3]
    assert 0 < sum(len(blob) for (blob,) in one.rows(schema.line_hour, "ignored")) <= 4 * 1_000 * len(found)
    assert one.catch_up().lines == 0
