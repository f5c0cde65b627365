"""Reading a station file: from its text to checked settings."""

from pathlib import Path

from pydantic import ValidationError

from server.config.explaining import first_problem
from server.config.id_list import why_unreadable
from server.config.station import Station
from shared import toml
from shared.errors import StationFileError


def load_station(path: Path) -> Station:
    """Read and check a station file. Raises StationFileError: which file, which key, what was expected."""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors begin a file with a byte order mark
    except FileNotFoundError:
        raise StationFileError(
            f"{path}: there is no such station file; `airtally init` writes one, `--station FILE` names another."
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise StationFileError(f"{path}: can't be read ({why_unreadable(error)}).") from error
    try:
        found = toml.loads(text)
    except toml.TomlError as error:
        raise StationFileError(f"{path}: is not TOML: {error}.") from error
    try:
        station = Station.model_validate(found)
    except ValidationError as error:
        raise StationFileError(f"{path}: {first_problem(error)}") from error
    station._path = path
    return station
