"""Find a station's log files, know them by their content, and read them in blocks of whole lines."""

import bz2
import gzip
import hashlib
import io
import lzma
import os
import re
import stat
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fnmatch import fnmatch
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import zstandard

from server.intake.rungs import FIRST_BYTES, Ladder
from server.intake.troubles import Trouble
from shared.text import escaped

HEAD_BYTES = 4096
TAIL_BYTES = 256
MOST_LINES = 1 << 18  # of a block: 8 MiB of lines of 32 bytes
MOST_MEMORY = 80 << 20  # for unpacking: `xz -9` takes 65 MiB, and `zstd -19` 8
PACKED = (".gz", ".xz", ".zst", ".bz2")
#: A file of bytes, packed or not.
Stream = io.IOBase | gzip.GzipFile
#: What a file that breaks off or is damaged inside its packing raises.
DAMAGE = (EOFError, OSError, lzma.LZMAError, zlib.error, zstandard.ZstdError)

_ROTATED = re.compile(
    r"^(?P<base>.+?)[.-](?P<mark>\d{1,4}|\d{8}(?:[-_.T]?\d{2,10})?|\d{4}-\d{2}(?:-\d{2})?(?:[-_.T]?\d{2,10})?)$"
)
_DATED = re.compile(
    r"(?<!\d)((?:19|20)\d{2}[-_.]?(?:0[1-9]|1[0-2])(?:[-_.]?(?:0[1-9]|[12]\d|3[01]))?(?:[-_T]?[0-2]\d)?)(?!\d)"
)


@dataclass(frozen=True)
class Found:
    """A log file that is there now."""

    path: Path
    setting: int  #: which [[log]] of the station file it belongs to, from 0
    log_name: str
    age_key: tuple[str, int, str, int]  #: sorts the files of one log from the oldest to the live one
    live: bool  #: the host may still be writing it: not a rotated sibling, not packed
    device: int
    inode: int
    size: int
    mtime_ns: int

    @property
    def packed(self) -> bool:
        return self.path.suffix in PACKED

    @property
    def stamp(self) -> tuple[int, int, int, int]:
        """Changes when the file does."""
        return self.device, self.inode, self.size, self.mtime_ns


@dataclass(frozen=True)
class Print:
    """Fingerprint of what was read of a file: its first bytes, and the bytes just before the offset."""

    offset: int
    head_bytes: int
    head_hash: str
    tail_bytes: int
    tail_hash: str
    rungs: bytes = b""  #: server.intake.rungs; none of what an older version read


@dataclass(frozen=True)
class Place:
    """How a file begins and ends up to the place where reading goes on."""

    head: bytes = b""
    tail: bytes = b""
    ladder: Ladder = field(default_factory=Ladder)

    def grow(self, block: bytes, offset: int) -> tuple["Place", Print]:
        """The place after one more block, which ends at `offset`, and the fingerprint of what was read up to there."""
        head = self.head if len(self.head) >= HEAD_BYTES else (self.head + block)[:HEAD_BYTES]
        tail = (self.tail + block)[-TAIL_BYTES:]
        ladder = self.ladder.grow(block)
        return Place(head, tail, ladder), Print(
            offset, len(head), digest(head), len(tail), digest(tail), ladder.digests
        )


@dataclass(frozen=True)
class Block:
    """Some whole lines of a file."""

    data: bytes  #: the lines, with their line ends
    passed: bytes  #: what was passed over before them: the rest of an overlong line
    offset: int  #: of the first byte after the block
    skipping: bool  #: the block ends inside a line that is too long to hold
    final: bool  #: the file ended here


def name_parts(name: str) -> tuple[str, str, str, bool]:
    """Of a file name: the name without packing and rotation, the rotation mark, the packing, and whether the name
    itself is dated.
    """
    packing = next((suffix for suffix in PACKED if name.endswith(suffix)), "")
    bare = name.removesuffix(packing)
    rotated = _ROTATED.match(bare)
    base, mark = (rotated["base"], rotated["mark"]) if rotated else (bare, "")
    return base, mark, packing, bool(_DATED.search(base))


def log_name(path: Path) -> str:
    """The log that a file belongs to: its path, in one spelling, without rotation, packing and date, so that dated
    files continue one another.
    """
    base, _mark, _packing, _dated = name_parts(path.name)
    return stored_text(straight(path.parent) / _DATED.sub("*", base))


def covers(folder: Path, setting: str, log: str) -> bool:
    """Whether a log of this name belongs to a [[log]] path."""
    if log == setting:
        return True
    pattern = folder / setting
    return fnmatch(log, log_name(pattern)) or fnmatch(log, stored_text(straight(pattern.parent) / pattern.name))


def straight(folder: Path) -> Path:
    """A folder by its one name, whatever links and dots lead to it."""
    return Path(os.path.realpath(folder))


def stored_text(path: Path) -> str:
    """A path as the store can hold it: bytes of a name that are no UTF-8 are spelt as `\\xff` is."""
    return str(path).encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def discover(settings: list[str], folder: Path) -> tuple[list[Found], list[Trouble]]:
    """All files of the [[log]] paths (files or globs, relative to `folder`), oldest first within a log, each content
    once however many paths lead to it; and what could not be looked at, while the rest is.
    """
    seen: set[tuple[int, int]] = set()
    straightened = lru_cache(straight)
    found: list[Found] = []
    troubles: list[Trouble] = []
    for number, setting in enumerate(settings):
        if not setting:  # a journal
            continue
        try:
            paths = [straightened(path.parent) / path.name for path in _matching(folder / setting, setting, troubles)]
            for path in sorted(paths, key=_links_last):
                file = _looked_at(path, number, troubles)
                if file is not None and (file.device, file.inode) not in seen:
                    seen.add((file.device, file.inode))
                    found.append(file)
        except Exception as error:  # whatever it is, the other logs are looked for
            troubles.append(Trouble(setting, f"{escaped(setting)}: can't be looked for ({_why(error)})."))
    return sorted(found, key=lambda file: (file.setting, file.log_name, file.age_key)), troubles


def _links_last(path: Path) -> tuple[bool, Path]:
    """A file before the links to it, so that its log has its own name."""
    return path.is_symlink(), path


def _why(error: Exception) -> str:
    return escaped(getattr(error, "strerror", None) or f"{type(error).__name__}: {error}")


def _looked_at(path: Path, setting: int, troubles: list[Trouble]) -> Found | None:
    try:
        status = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        troubles.append(Trouble(log_name(path), f"{escaped(str(path))}: can't be read ({_why(error)})."))
        return None
    if stat.S_ISREG(status.st_mode):
        return _found(path, setting, status)
    if not stat.S_ISDIR(status.st_mode):
        says = f"{escaped(str(path))}: is a pipe, a device or a socket; a log file was expected, and it is not read."
        troubles.append(Trouble(log_name(path), says))
    return None


def _matching(pattern: Path, setting: str, troubles: list[Trouble]) -> Iterator[Path]:
    """Files that match, and rotated or packed siblings of what matches, whether or not that still exists. Folders that
    can't be looked into are told, and the others are.
    """
    exact = pattern.name if not any(mark in pattern.name for mark in "*?[") else None
    for folder in _folders(pattern, setting, troubles):
        try:
            with os.scandir(folder) as entries:
                names = [entry.name for entry in entries]
        except (FileNotFoundError, NotADirectoryError):
            continue
        except OSError as error:
            troubles.append(Trouble(setting, f"{escaped(str(folder))}: can't be looked into ({_why(error)})."))
            continue
        if exact in names and os.path.isdir(folder / exact):
            place = escaped(str(folder / exact))
            troubles.append(
                Trouble(setting, f"{place}: is a folder; a log file was expected, or a glob such as *.log.")
            )
        for name in names:
            base, _mark, packing, _dated = name_parts(name)
            bare = name.removesuffix(packing)
            if any(fnmatch(one, pattern.name) for one in (name, bare, base)):
                yield folder / name


def _folders(pattern: Path, setting: str, troubles: list[Trouble]) -> list[Path]:
    """The folders that a path or glob names. A folder whose own folder can't be searched is told when it is looked
    into.
    """
    if not any(mark in str(pattern.parent) for mark in "*?["):
        return [pattern.parent]
    try:
        found = Path(pattern.anchor or ".").glob(str(pattern.parent.relative_to(pattern.anchor)))
        return [path for path in found if os.path.isdir(path)]
    except OSError as error:
        troubles.append(
            Trouble(setting, f"{escaped(str(error.filename or pattern.parent))}: can't be looked into ({_why(error)}).")
        )
        return []


def found_at(path: Path) -> Found:
    """A file as it lies there, of no [[log]]. Raises OSError."""
    return _found(path, 0, path.stat())


def _found(path: Path, setting: int, status: os.stat_result) -> Found:
    base, mark, packing, _dated = name_parts(path.name)
    numbered = -int(mark) if mark.isdigit() and len(mark) <= 4 else 0
    dates = "".join(re.sub(r"\D", "", date) for date in _DATED.findall(base))
    live = not mark and not packing
    return Found(
        path=path,
        setting=setting,
        log_name=log_name(path),
        age_key=(dates, int(not mark), "" if numbered else re.sub(r"\D", "", mark), numbered),
        live=live,
        device=status.st_dev,
        inode=status.st_ino,
        size=status.st_size,
        mtime_ns=status.st_mtime_ns,
    )


class TooMuchMemory(EOFError):
    """A packed file whose packing asks for more memory than any packer of logs takes."""


class _Unpacked(io.RawIOBase):
    """A packed file's content, in bounded memory. A file that breaks off raises EOFError, where the libraries' own
    readers take it for one that ends, or take whatever memory its head asks for.
    """

    CHUNK = 1024  # packed bytes at a time: what a few of them unpack to can be a thousand times as much

    def __init__(self, path: Path, frame: Callable[[], Any]) -> None:
        """`frame` makes what unpacks one frame or stream; a file can hold several."""
        self._file = path.open("rb")
        self._packed = b""
        self._new = frame
        self._frame: Any = None
        self._content, self._at = b"", 0

    def readable(self) -> bool:
        return True

    def readinto(self, into: Any) -> int:
        while self._at == len(self._content):
            self._packed = self._packed or self._file.read(self.CHUNK)
            if not self._packed and self._frame is not None:
                raise EOFError("it breaks off")
            if not self._packed:
                return 0
            if self._frame is None and not (packed := self._packed.lstrip(b"\0")):  # padding between streams
                self._packed = packed
                continue
            self._unpack()
        part = self._content[self._at : self._at + len(into)]
        into[: len(part)] = part
        self._at += len(part)
        return len(part)

    def _unpack(self) -> None:
        self._frame = self._frame or self._new()
        try:
            self._content, self._at = self._frame.decompress(self._packed), 0
        except (lzma.LZMAError, zstandard.ZstdError) as error:
            if "memory" in str(error).lower():
                raise TooMuchMemory(f"it asks for over {MOST_MEMORY >> 20} MB of memory; unpack it by hand") from error
            raise
        ended = self._frame.eof
        self._packed = self._frame.unused_data.lstrip(b"\0") if ended else b""
        self._frame = None if ended else self._frame

    def close(self) -> None:
        self._file.close()
        super().close()


def _xz_frame() -> lzma.LZMADecompressor:
    return lzma.LZMADecompressor(memlimit=MOST_MEMORY)


def _zst_frame() -> Any:
    return zstandard.ZstdDecompressor(max_window_size=MOST_MEMORY).decompressobj()


def open_log(path: Path) -> Stream:
    """The file's content, unpacked as it is read."""
    match path.suffix:
        case ".gz":
            return gzip.open(path, "rb")
        case ".xz":
            return io.BufferedReader(_Unpacked(path, _xz_frame))
        case ".bz2":
            return bz2.open(path, "rb")
        case ".zst":
            return io.BufferedReader(_Unpacked(path, _zst_frame))
        case _:
            return path.open("rb", buffering=0)


def digest(data: bytes) -> str:
    """The hash that a fingerprint holds."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def resume(stream: Stream, known: Print, packed: bool) -> Place | None:
    """Put a freshly opened stream behind what was read under a fingerprint. None where the content is not what was
    read.
    """
    first = _read_full(stream, min(FIRST_BYTES, known.offset))
    head, ladder = first[:HEAD_BYTES], Ladder().grow(first)
    if len(head) < known.head_bytes or digest(head[: known.head_bytes]) != known.head_hash:
        return None
    if known.rungs and known.rungs != ladder.digests:
        return None
    before = known.offset - known.tail_bytes
    if before < len(first):
        tail = (first + _read_full(stream, known.offset - len(first)))[before : known.offset]
    elif packed:
        left = before - len(first)
        while left and (passed := len(stream.read(min(left, 1 << 20)))):
            left -= passed
        tail = _read_full(stream, known.tail_bytes)
    else:
        stream.seek(before)
        tail = _read_full(stream, known.tail_bytes)
    return Place(head, tail, ladder) if len(tail) == known.tail_bytes and digest(tail) == known.tail_hash else None


def matches(path: Path, known: Print) -> bool:
    """Whether the file begins with what was read under this fingerprint. Raises OSError where it can't be read now."""
    try:
        with open_log(path) as stream:
            return resume(stream, known, path.suffix in PACKED) is not None
    except DAMAGE as error:
        _unless_damaged(error)
        return False


def begins_with(path: Path, other: Path) -> bool:
    """Whether all of the file `other`, as far as its packing holds, stands at the beginning of the file at `path`.
    Raises OSError where one can't be read now.
    """
    with open_log(path) as longer, open_log(other) as shorter:
        while True:
            part, trouble = _read_until_damage(shorter, 1 << 16)
            if _read_until_damage(longer, len(part))[0] != part:
                return False
            if trouble:
                _unless_damaged(trouble)
            if len(part) < 1 << 16:
                return True


def reaches(path: Path, offset: int) -> bool:
    """Whether a file holds so many bytes, unpacked, as far as its packing holds. Raises OSError where it can't be read
    now.
    """
    with open_log(path) as stream:
        while offset > 0:
            part, trouble = _read_until_damage(stream, min(offset, 1 << 20))
            offset -= len(part)
            if trouble:
                _unless_damaged(trouble)
            if trouble or not part:
                break
    return offset <= 0


def first_bytes(path: Path, count: int) -> bytes:
    """A file's first bytes, all of them where it has fewer, or where its packing breaks off. Raises OSError where it
    can't be read now.
    """
    with open_log(path) as stream:
        data, trouble = _read_until_damage(stream, count)
    if trouble:
        _unless_damaged(trouble)
    return data


def _unless_damaged(error: Exception) -> None:
    """Raise what may pass: a file that can't be read now is no other file than it was. A damaged packing is what the
    file is.
    """
    if isinstance(error, OSError) and error.errno is not None:
        raise error


def _read_full(stream: Stream, count: int) -> bytes:
    data, trouble = _read_until_damage(stream, count)
    if trouble:
        raise trouble
    return data


def _read_until_damage(stream: Stream, count: int) -> tuple[bytes, Exception | None]:
    """Up to `count` bytes; fewer only at the end, or where the error that is given too came in between."""
    read_some = getattr(stream, "read1", stream.read)
    parts: list[bytes] = []
    while count > 0:
        try:
            part = read_some(min(count, 1 << 20))
        except DAMAGE as error:
            return b"".join(parts), error
        if not part:
            break
        parts.append(part)
        count -= len(part)
    return b"".join(parts), None


def _by_lines(data: bytes) -> Iterator[bytes]:
    """What was read, in parts of MOST_LINES lines: what is kept of a line while it is read is more than a short one
    takes.
    """
    start = 0
    if data.count(b"\n") > MOST_LINES:
        for end in np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))[MOST_LINES - 1 :: MOST_LINES] + 1:
            yield data[start:end]
            start = int(end)
    if start < len(data) or not data:
        yield data[start:]


def blocks(stream: Stream, offset: int, block_bytes: int, *, skipping: bool, ended: bool) -> Iterator[Block]:
    """Whole lines from the stream's place on, about `block_bytes` at a time, and MOST_LINES at most.

    A last line without its end is left for the next time, unless the file has `ended`. Of a line longer than a block
    the first block is given as a line (a reader calls it unread), and the rest passed over. What a damaged packing
    still gave is given before its error is raised."""
    rest = passed = b""
    while True:
        data, trouble = _read_until_damage(stream, block_bytes)
        last = len(data) < block_bytes
        if skipping:
            cut = data.find(b"\n") + 1
            skipping = not cut
            passed, data = (data[:cut], data[cut:]) if cut else (data, b"")
            offset += len(passed)
            if skipping and passed:
                yield Block(b"", passed, offset, True, last)
                passed = b""
        data = rest + data
        cut = len(data) if last and ended and trouble is None else data.rfind(b"\n") + 1
        if cut == 0 and len(data) >= block_bytes:
            cut, skipping = len(data), True
        rest = data[cut:]
        if cut or passed:
            whole = list(_by_lines(data[:cut]))
            for number, part in enumerate(whole, start=1):
                offset += len(part)
                ends = number == len(whole)
                yield Block(part, passed, offset, skipping and ends, last and trouble is None and ends)
                passed = b""
        if trouble:
            raise trouble
        if last:
            return
