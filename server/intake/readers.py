"""The dialects of a station's logs, which may grow while logs are followed."""

from parsers.dialect import dialect_path, find_dialect
from parsers.reading import Reader
from server.config import Station
from shared.errors import DialectError


class Readers:
    """The reader of each [[log]], by its number from 0."""

    def __init__(self, station: Station) -> None:
        """Raises DialectError where a log's dialect is unknown or wrong."""
        self._station = station
        self._readers: list[Reader] = []
        for number, log in enumerate(station.log, start=1):
            try:
                self._readers.append(find_dialect(log.dialect, station.folder))
            except DialectError as error:
                raise DialectError(f"{station.path}: log[{number}].dialect = {log.dialect!r}: {error}") from error
        self._files = self._dialect_files()

    def __getitem__(self, number: int) -> Reader:
        return self._readers[number]

    def refresh(self) -> None:
        """Take up dialects that have changed. Raises where one is wrong for now; those before it stay in force."""
        files = self._dialect_files()
        if files != self._files:
            self._readers = [find_dialect(log.dialect, self._station.folder) for log in self._station.log]
            self._files = files

    def _dialect_files(self) -> list[tuple[str, int] | None]:
        """Which files the dialects are in, and when they changed last."""
        paths = [
            None if log.dialect == "activity" else dialect_path(log.dialect, self._station.folder)
            for log in self._station.log
        ]
        return [None if path is None else (str(path), path.stat().st_mtime_ns) for path in paths]
