"""TOML text to values, whatever the text: what tomllib has no word for (nesting without end, numbers without end) is
refused in words.
"""

import tomllib
from typing import Any

MOST_BYTES = 4 << 20  #: no file of settings is as large
LARGEST = 1 << 63  #: TOML 1.0.0, "Integer": 64 bits with a sign are what must be taken


class TomlError(ValueError):
    """A text is not TOML that can be taken: why, and the line where that is known."""

    def __init__(self, says: str, line: int | None = None) -> None:
        super().__init__(says)
        self.line = line


def loads(text: str) -> dict[str, Any]:
    """The values of a TOML text. Raises TomlError."""
    if len(text) > MOST_BYTES:
        raise TomlError(f"it has more than {MOST_BYTES >> 20} MB")
    try:
        values = tomllib.loads(text)
        _check_numbers(values)
    except tomllib.TOMLDecodeError as error:
        raise TomlError(str(error), _line_of(str(error))) from error
    except RecursionError:
        raise TomlError("its lists and tables are nested too deeply") from None
    except ValueError as error:
        if isinstance(error, TomlError):
            raise
        raise TomlError("it holds a number with too many digits") from None
    return values


def _check_numbers(value: Any) -> None:
    if isinstance(value, dict):
        for inner in value.values():
            _check_numbers(inner)
    elif isinstance(value, list):
        for inner in value:
            _check_numbers(inner)
    elif isinstance(value, int) and not -LARGEST <= value < LARGEST:
        raise TomlError("it holds a number of more than 64 bits")


def _line_of(says: str) -> int | None:
    """The line that tomllib's sentence names."""
    _, _, after = says.partition("at line ")
    digits = after.partition(",")[0]
    return int(digits) if digits.isdigit() else None
