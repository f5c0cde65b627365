"""Files that only their owner can read."""

import fcntl
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


def write_private(path: Path, content: str | bytes, *, only_new: bool = False) -> None:
    """Write a file whole or not at all, readable by its owner only; with `only_new` one that is there stays. Raises
    OSError.
    """
    scratch = path.with_name(f".{path.name}.{secrets.token_hex(6)}")
    try:
        with os.fdopen(os.open(scratch, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(content.encode("utf-8") if isinstance(content, str) else content)
            out.flush()
            os.fsync(out.fileno())
        if only_new:
            with suppress(FileExistsError):
                os.link(scratch, path)
        else:
            os.replace(scratch, path)
    finally:
        scratch.unlink(missing_ok=True)


@contextmanager
def alone_with(path: Path) -> Iterator[None]:
    """Nobody else who asks this way has the file until it is left: what is read there and written back is not written
    over meanwhile. The lock is a file beside it, as the file itself is replaced. Raises OSError.
    """
    beside = path.with_name(f"{path.name}.lock")
    lock = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
    finally:
        os.close(lock)
