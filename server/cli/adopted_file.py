"""What `airtally adopt` adds to a dialect file that it writes: from which log it was learnt, and a mark by which a
change by hand is seen.
"""

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from shared.text import escaped

LEARNT = "# Learnt by `airtally adopt` from "
MARK = "# As adopt wrote it: "


def signed(text: str, logs: Sequence[Path]) -> str:
    """The file's text between the line that names the last log and the mark."""
    body = f"{LEARNT}{escaped(str(logs[-1].resolve()))}\n{text}"
    return f"{body}{MARK}{_digest(body.encode('utf-8', 'replace'))}\n"


def is_as_written(content: bytes) -> bool:
    """Whether a file is one that `adopt` wrote, and nobody changed it since."""
    body, mark, digest = content.rpartition(MARK.encode())
    return bool(mark) and digest.strip().decode("ascii", "replace") == _digest(body)


def learnt_from(path: Path) -> str | None:
    """The log that a dialect file says it was learnt from; None where it says nothing. Raises OSError."""
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        found = re.match(re.escape(LEARNT) + r"(/.+)$", file.readline().rstrip("\n"))
    return found[1] if found else None


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:32]
