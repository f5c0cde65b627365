"""The keeper's list of ids: which numeric id is whose."""

from pathlib import Path

from shared.errors import StationFileError
from shared.identity import identity


def read_id_list(text: str, path: Path) -> dict[str, str]:
    """Numeric id -> identity, from `id,call sign` rows; a first row without an id is a header. Raises
    StationFileError.
    """
    names: dict[str, str] = {}
    for number, row in enumerate(text.splitlines(), start=1):
        if row.strip() and not (number == 1 and _is_header(row)):
            key, name = _entry(row, f"{path}, line {number}")
            names[key] = name
    return names


def _is_header(row: str) -> bool:
    key, comma, _ = row.partition(",")
    return bool(comma) and not key.strip()[:1].isdigit()


def _entry(row: str, where: str) -> tuple[str, str]:
    key, comma, name = row.partition(",")
    named = identity(name.strip().strip('"'))
    if not comma or not key.strip().isdigit() or named is None:
        raise StationFileError(f"{where}: `id,call sign` was expected, such as 9990123,QA1XYZ.")
    return key.strip(), named


def why_unreadable(error: OSError | UnicodeDecodeError) -> str:
    """Why a file can't be read, in a few words."""
    return error.strerror or str(error) if isinstance(error, OSError) else "it is not UTF-8"
