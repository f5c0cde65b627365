"""Files that a command makes where the keeper says: the station's own are refused, what others wrote stays unless it is
given up, and pipes and devices are written through."""

import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from parsers.dialect import dialect_path
from server.cli.prompts import make_way
from server.config import Station
from server.store.engine import open_store, sqlite_file
from server.teaching.teachable import teachable_files
from shared.errors import DialectError, UnusableError
from shared.private import write_private
from shared.text import escaped

BESIDE_A_STORE = ("", "-wal", "-shm", "-journal")  # https://www.sqlite.org/tempfiles.html, 2.1 to 2.3


def place_for(file: Path, station: Station, is_ours: Callable[[bytes], bool], *, yes: bool = False) -> Path:
    """Where to write what is meant for `file`: the end of symbolic links. Other content there is kept as FILE.bak with
    `yes`, or asked for. Raises UnusableError, Abort.
    """
    refuse_own(file, station)
    if is_stream(file):
        return file
    place = Path(os.path.realpath(file))
    if not place.parent.is_dir():
        raise UnusableError(f"{escaped(str(file))}: there is no folder {escaped(str(_folder(file, place)))}.")
    kept = make_way(place, is_ours, yes=yes)
    if kept is not None:
        click.echo(f"What {escaped(str(file))} held is kept as {escaped(str(kept))}.", err=True)
    return place


def refuse_own(file: Path, station: Station) -> None:
    """Raises UnusableError where a file is one of the station's own, by whatever path or link, or would be."""
    place = Path(os.path.realpath(file))
    for own in _own_files(station):
        if place == Path(os.path.realpath(own)) or (file.exists() and own.exists() and file.samefile(own)):
            raise UnusableError(
                f"{escaped(str(file))}: is one of the station's own files ({escaped(own.name)}); name another file."
            )


def is_stream(file: Path) -> bool:
    """Whether it is a pipe, a device, or what the output goes to already: written through, not replaced."""
    try:
        found = file.stat()
    except FileNotFoundError:
        return False
    return not stat.S_ISREG(found.st_mode) or _descriptor(found) is not None


def write_made(place: Path, content: str | bytes) -> None:
    """Write to what `place_for` gave: a file whole or not at all, for its owner only. Raises OSError."""
    if not is_stream(place):
        write_private(place, content)
        return
    descriptor = _descriptor(place.stat())
    with os.fdopen(os.open(place, os.O_WRONLY) if descriptor is None else os.dup(descriptor), "wb") as out:
        out.write(content.encode("utf-8") if isinstance(content, str) else content)


def _descriptor(found: os.stat_result) -> int | None:
    """The standard stream that is this file, such as /dev/stdout sent to a file by the shell."""
    for descriptor in (1, 2):
        try:
            if os.path.samestat(found, os.fstat(descriptor)):
                return descriptor
        except OSError:  # closed
            continue
    return None


def _folder(file: Path, place: Path) -> Path:
    return place.parent if file.is_symlink() else file.parent


def _own_files(station: Station) -> Iterator[Path]:
    from server.web.proxies import SEEN_FILE
    from server.web.sign.auth import HASH_FILE, KEY_FILE, SESSIONS_FILE
    from server.web.sign.tokens import TOKENS_FILE

    store = sqlite_file(open_store(station.store_url()))
    if store is not None:
        yield from (store.with_name(store.name + ending) for ending in BESIDE_A_STORE)
    yield station.path
    if station.stations.id_list is not None:
        yield station.folder / station.stations.id_list
    yield from (station.private_folder / name for name in (HASH_FILE, KEY_FILE, SESSIONS_FILE, TOKENS_FILE, SEEN_FILE))
    yield from (station.folder / log.path for log in station.log if log.path)
    yield from map(Path, teachable_files(station))
    for log in station.log:
        try:
            yield dialect_path(log.dialect, station.folder)
        except DialectError:  # `activity`, or intake says so
            continue
