"""Tokens for programs that read /api/v1 and /metrics: made and withdrawn by `airtally password`, kept as fingerprints
in a private file beside the password.

A token is 256 random bits, so SHA-256 is enough to keep it by: there is nothing to guess that a slow hash would guard
(NIST SP 800-63B on look-up secrets of 112 bits and more, from memory)."""

import hashlib
import json
import secrets
import time
from dataclasses import dataclass
from pathlib import Path

from server.web.sign.auth import changing, keep_file, read_file
from shared.errors import UnusableError

TOKENS_FILE = "airtally.tokens"
MOST_TOKENS = 64
LONGEST_NAME = 64


@dataclass(frozen=True)
class Token:
    """A token that is kept; not the token itself."""

    name: str
    made: int  #: seconds since 1970
    fingerprint: str


def issue_token(folder: Path, name: str) -> str:
    """A new token under a name; it is shown this once. Raises StoreError, and UnusableError over the name."""
    name = name.strip()
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise UnusableError(f"A token's name has 1 to {LONGEST_NAME} characters that can be printed, such as grafana.")
    with changing(folder / TOKENS_FILE):
        kept = tokens(folder)
        _refuse(name, kept)
        text = secrets.token_urlsafe(32)
        _keep(folder, [*kept, Token(name, int(time.time()), _fingerprint(text))])
    return text


def _refuse(name: str, kept: list[Token]) -> None:
    """Raises UnusableError where no token of that name can be added."""
    if any(one.name == name for one in kept):
        raise UnusableError(
            f"There is a token {name} already: withdraw it with `airtally password --withdraw {name}`, or take another "
            "name."
        )
    if len(kept) >= MOST_TOKENS:
        raise UnusableError(f"There are {MOST_TOKENS} tokens already: withdraw one that nobody uses any more.")


def tokens(folder: Path) -> list[Token]:
    """Those that are good, oldest first. Raises StoreError."""
    try:
        found = json.loads(read_file(folder / TOKENS_FILE) or "[]")
        return [Token(str(one["name"]), int(one["made"]), str(one["fingerprint"])) for one in found]
    except (ValueError, TypeError, KeyError, RecursionError):
        return []  # lost or spoilt: none is good


def withdraw_token(folder: Path, name: str) -> bool:
    """End a token; whether there was one of that name. Raises StoreError."""
    with changing(folder / TOKENS_FILE):
        kept = tokens(folder)
        left = [one for one in kept if one.name != name.strip()]
        if len(left) < len(kept):
            _keep(folder, left)
    return len(left) < len(kept)


def token_good(folder: Path, text: str) -> bool:
    """Whether this is a token that was not withdrawn. Raises StoreError."""
    given = _fingerprint(text)
    return any([secrets.compare_digest(one.fingerprint, given) for one in tokens(folder)])


def tokens_in_force(folder: Path) -> str:
    """Changes whenever a token is made or withdrawn."""
    return _fingerprint(read_file(folder / TOKENS_FILE) or "")


def _fingerprint(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _keep(folder: Path, kept: list[Token]) -> None:
    rows = [{"name": one.name, "made": one.made, "fingerprint": one.fingerprint} for one in kept]
    keep_file(folder / TOKENS_FILE, json.dumps(rows, indent=1))
