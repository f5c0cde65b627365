"""The bytes of log files, packed or not, in bounded memory and as far as a damaged packing gives them."""

import bz2
import gzip
import io
import lzma
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import zstandard

MOST_MEMORY = 80 << 20  # for unpacking: `xz -9` takes 65 MiB, and `zstd -19` 8
#: A file of bytes, packed or not.
Stream = io.IOBase | gzip.GzipFile
#: What a file that breaks off or is damaged inside its packing raises.
DAMAGE = (EOFError, OSError, lzma.LZMAError, zlib.error, zstandard.ZstdError)


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


def read_full(stream: Stream, count: int) -> bytes:
    data, trouble = read_until_damage(stream, count)
    if trouble:
        raise trouble
    return data


def read_until_damage(stream: Stream, count: int) -> tuple[bytes, Exception | None]:
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


def unless_damaged(error: Exception) -> None:
    """Raise what may pass: a file that can't be read now is no other file than it was. A damaged packing is what the
    file is.
    """
    if isinstance(error, OSError) and error.errno is not None:
        raise error
