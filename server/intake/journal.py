"""The systemd journal of a unit, read through journalctl: entries after a cursor, some at a time, each with the cursor
to go on from.

journalctl(1) documents the options; the export format's fields stand in systemd.journal-fields(7).
"""

import json
import os
import subprocess
import time
from collections.abc import Generator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from selectors import EVENT_READ, DefaultSelector

import numpy as np

from parsers.envelopes import unwrap_journal
from parsers.reading import Carry, Reader, Reading
from parsers.timeofday import AHEAD_US, BLIND_GAP_US
from server.config import Journal
from server.intake.batches import Batch, split_lines
from server.intake.blocks import Block
from server.intake.discovery import LogFile
from server.intake.fingerprints import Fingerprint
from shared.errors import AirtallyError
from shared.events import UNREAD
from shared.text import escaped
from shared.zones import HOUR

CURSOR = "__CURSOR"
SLICE_S = 1.0  # of waiting for an entry, between looks at other logs
PATIENCE_S = 30.0  # with a journalctl that gives nothing; the first entry of a large journal can take seconds
END_WITHIN_S = 5.0
MOST_ERRORS = 4096
NO_ENTRY = (
    "the journal holds no entry of this unit, or none that this user may read; `systemctl list-units` has the "
    "units' names."
)


class JournalError(AirtallyError):
    """The journal can't be read now."""


def journal_file(journal: Journal, setting: int) -> LogFile:
    """What stands for its file; no real one is like it."""
    return LogFile(
        Path(journal.name), setting, journal.name, ("", 1, "", 0), live=True, device=0, inode=0, size=0, mtime_ns=0
    )


def fingerprint_after(entries: int) -> Fingerprint:
    """The fingerprint of so many entries, which no file has."""
    return Fingerprint(entries, 1, "journal", 0, "")


@dataclass(frozen=True)
class Entries:
    """Some entries that follow one another."""

    lines: bytes  #: as journalctl gives them, JSON, one a line
    count: int
    cursor: str  #: of the last one
    lost: bool = False  #: the entry that was read last before is in the journal no more


def entries(journal: Journal, cursor: str | None, block_bytes: int) -> Generator[Entries | None]:
    """The entries after a cursor, about `block_bytes` at a time; None whenever none came for a second, so that whoever
    asks can do something else meanwhile. Raises JournalError.
    """
    process = _journalctl(journal, cursor)
    errors = _ErrorOutput()
    is_empty = True
    with closing(_blocks(process, block_bytes, errors)) as blocks:
        for data in blocks:
            if data is None:
                yield None
                continue
            some, cursor = _after(cursor, data.splitlines(keepends=True)), None
            if some is not None:
                is_empty = False
                yield some
    if process.returncode or (errors.last and is_empty):
        raise JournalError(f"journalctl can't read {journal.name}: {errors.last or 'it does not say why'}.")


def _journalctl(journal: Journal, cursor: str | None) -> "subprocess.Popen[bytes]":
    """Raises JournalError."""
    if journal.directory is not None and not journal.directory.is_dir():
        raise JournalError(f"{journal.directory}: there is no such folder; mend journal_directory.")
    command = ["journalctl", "--output=json", "--output-fields=MESSAGE", "--all", "--quiet", "--no-pager"]
    command += [f"--unit={journal.unit}"]
    command += [f"--directory={journal.directory}"] if journal.directory else []
    command += [f"--cursor={cursor}"] if cursor else []  # with that entry itself: so it shows whether it is still there
    try:
        return subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    except FileNotFoundError as error:
        raise JournalError(
            "journalctl is not there: it comes with systemd, and a journal can't be read without it."
        ) from error
    except OSError as error:
        raise JournalError(f"journalctl can't be run ({error.strerror}).") from error


def _after(cursor: str | None, lines: list[bytes]) -> Entries | None:
    """The entries of these lines, of which the first is to be that of the cursor; None where there are no others."""
    lost = bool(cursor) and _cursor_of(lines[0]) != cursor
    lines = lines[1:] if cursor and not lost else lines
    return Entries(b"".join(lines), len(lines), _cursor_of(lines[-1]), lost) if lines else None


class _ErrorOutput:
    """The end of what journalctl says on standard error, however much that is."""

    def __init__(self) -> None:
        self._end = b""

    def add(self, data: bytes) -> None:
        self._end = (self._end + data)[-MOST_ERRORS:]

    @property
    def last(self) -> str:
        lines = self._end.decode(errors="replace").strip().splitlines()
        return escaped(lines[-1]) if lines else ""


def _blocks(process: "subprocess.Popen[bytes]", block_bytes: int, errors: _ErrorOutput) -> Generator[bytes | None]:
    """Whole lines of its output, about `block_bytes` at a time, None whenever nothing came for a while; a last line
    that was cut short is left out. Ends the process whatever happens. Raises JournalError where it stays silent.
    """
    assert process.stdout is not None and process.stderr is not None
    try:
        with DefaultSelector() as selector:
            selector.register(process.stdout, EVENT_READ)
            selector.register(process.stderr, EVENT_READ)
            held, silent_s = b"", 0.0
            while process.stdout in selector.get_map():
                begun = time.monotonic()
                came = _read_some(process, selector, errors)
                held += came
                silent_s = 0.0 if came else silent_s + time.monotonic() - begun
                if len(held) < block_bytes and silent_s < SLICE_S and process.stdout in selector.get_map():
                    continue
                whole = held.rfind(b"\n") + 1
                if whole or silent_s:
                    yield _whole_or_silence(held[:whole], silent_s)
                    held = held[whole:]
            _end(process, selector, errors)
    finally:
        with suppress(OSError):
            process.kill()
        process.stdout.close()
        process.stderr.close()
        process.wait()


def _read_some(process: "subprocess.Popen[bytes]", selector: DefaultSelector, errors: _ErrorOutput) -> bytes:
    """What comes on its standard output within SLICE_S."""
    came = b""
    for key, _ in selector.select(SLICE_S):
        data = os.read(key.fd, 1 << 16)
        if not data:
            selector.unregister(key.fileobj)
        elif key.fileobj is process.stdout:
            came = data
        else:
            errors.add(data)
    return came


def _whole_or_silence(lines: bytes, silent_s: float) -> bytes | None:
    """Raises JournalError where it has been silent for too long."""
    if not lines and silent_s >= PATIENCE_S:
        raise JournalError(f"journalctl has given nothing for {PATIENCE_S:.0f} s, and was ended.")
    return lines or None


def _end(process: "subprocess.Popen[bytes]", selector: DefaultSelector, errors: _ErrorOutput) -> None:
    """Let it end, and say what it has to say. Raises JournalError where it doesn't end."""
    until = time.monotonic() + END_WITHIN_S
    while process.poll() is None or selector.get_map():
        if time.monotonic() > until:
            if process.poll() is None:
                raise JournalError(
                    f"journalctl did not end within {END_WITHIN_S:.0f} s of its last entry, and was ended."
                )
            return  # somebody else holds its standard error
        for key, _ in selector.select(0.05):
            data = os.read(key.fd, 1 << 16)
            errors.add(data)
            if not data:
                selector.unregister(key.fileobj)


def _cursor_of(line: bytes) -> str:
    try:
        return str(json.loads(line)[CURSOR])
    except (ValueError, KeyError, TypeError) as error:
        raise JournalError("journalctl gave a line that is no entry of a journal in JSON.") from error


def batch_of(some: Entries, reader: Reader, envelope: str, carry: Carry, entries_before: int) -> Batch:
    """The entries read: a dialect with the journal envelope reads them as they are, with their stamps, any other one
    their messages.
    """
    lines = split_lines(some.lines)
    inside = unwrap_journal(lines)
    written = np.where(inside.kinds > 0, inside.us, 0)
    texts = lines if envelope == "journal" else inside.text.fill_null("")
    if getattr(reader, "dayless", False):  # each message lies on the day of its entry, or before
        carry = Carry(carry.last_us, carry.header, near_us=written - BLIND_GAP_US + AHEAD_US)
    read: Reading = reader.read(texts, carry, int(written[-1]) if written[-1] else 24 * HOUR)
    block = Block(b"", b"", entries_before + some.count, False, False)
    return Batch(block, read, texts.gather(np.flatnonzero(read.verdicts == UNREAD)).to_list())
