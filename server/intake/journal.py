"""The systemd journal of a unit, read through journalctl: entries after a cursor, some at a time, each with the cursor
to go on from.

journalctl(1) documents the options; the export format's fields stand in systemd.journal-fields(7).
"""

import json
import subprocess
from collections.abc import Generator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from parsers.envelopes import unwrap_journal
from parsers.reading import Carry, Reader, Reading
from parsers.timeofday import AHEAD_US, BLIND_GAP_US
from server.config import Journal
from server.intake.files import Block, Found, Print
from server.intake.pieces import Piece, split_lines
from shared.errors import AirtallyError
from shared.events import UNREAD
from shared.text import escaped
from shared.zones import HOUR

CURSOR = "__CURSOR"
NO_ENTRY = "the journal holds no entry of this unit, or none that this user may read; `systemctl list-units` has the units' names."


class JournalError(AirtallyError):
    """The journal can't be read now."""


def stand_in(journal: Journal, setting: int) -> Found:
    """What stands for its file; no real one is like it."""
    return Found(
        Path(journal.name), setting, journal.name, ("", 1, "", 0), live=True, device=0, inode=0, size=0, mtime_ns=0
    )


def print_after(entries: int) -> Print:
    """The fingerprint of so many entries, which no file has."""
    return Print(entries, 1, "journal", 0, "")


@dataclass(frozen=True)
class Entries:
    """Some entries that follow one another."""

    lines: bytes  #: as journalctl gives them, JSON, one a line
    count: int
    cursor: str  #: of the last one
    lost: bool = False  #: the entry that was read last before is in the journal no more


def entries(journal: Journal, cursor: str | None, block_bytes: int) -> Generator[Entries]:
    """The entries after a cursor, about `block_bytes` at a time. Raises JournalError."""
    if journal.directory is not None and not journal.directory.is_dir():
        raise JournalError(f"{journal.directory}: there is no such folder; mend journal_directory.")
    command = [
        "journalctl",
        "--output=json",
        "--output-fields=MESSAGE",
        "--all",
        "--quiet",
        "--no-pager",
        f"--unit={journal.unit}",
    ]
    command += [f"--directory={journal.directory}"] if journal.directory else []
    command += [f"--cursor={cursor}"] if cursor else []  # with that entry itself: so it shows whether it is still there
    try:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    except FileNotFoundError as error:
        raise JournalError(
            "journalctl is not there: it comes with systemd, and a journal can't be read without it."
        ) from error
    except OSError as error:
        raise JournalError(f"journalctl can't be run ({error.strerror}).") from error
    assert process.stdout is not None and process.stderr is not None
    try:
        first = True
        while lines := process.stdout.readlines(block_bytes):
            if not lines[-1].endswith(b"\n"):  # cut short: it comes again
                lines.pop()
            lost = False
            if first and cursor and lines:
                here = _cursor_of(lines[0]) == cursor
                lines, lost = (lines[1:], False) if here else (lines, True)
            first = first and not lines
            if lines:
                yield Entries(b"".join(lines), len(lines), _cursor_of(lines[-1]), lost)
        said = process.stderr.read().decode(errors="replace").strip()
        if process.wait() or (said and first):
            raise JournalError(
                f"journalctl can't read {journal.name}: {escaped(said.splitlines()[-1]) if said else 'it does not say why'}."
            )
    finally:
        with suppress(OSError):
            process.kill()
        process.stdout.close()
        process.stderr.close()
        process.wait()


def _cursor_of(line: bytes) -> str:
    try:
        return str(json.loads(line)[CURSOR])
    except (ValueError, KeyError, TypeError) as error:
        raise JournalError("journalctl gave a line that is no entry of a journal in JSON.") from error


def piece_of(some: Entries, reader: Reader, envelope: str, carry: Carry, entries_before: int) -> Piece:
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
    return Piece(block, read, texts.gather(np.flatnonzero(read.verdicts == UNREAD)).to_list())
