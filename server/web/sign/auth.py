"""The password and the sessions. Hash and signing key lie in private files (0600) beside the store.

Argon2id by argon2-cffi with its defaults (RFC 9106's second recommended setting, as argon2-cffi's own profile has it);
sessions are signed by itsdangerous, and those that are open stand in a private file too, so that signing out ends one
for good."""

import hashlib
import json
import secrets
import threading
import time
import unicodedata
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from itsdangerous import BadData, URLSafeTimedSerializer

from shared.errors import StoreError, UnusableError
from shared.numbers import grouped
from shared.private import alone_with, write_private

HASH_FILE = "airtally.password"
KEY_FILE = "airtally.key"
SESSIONS_FILE = "airtally.sessions"
MOST_SESSIONS = 64  #: open at once; the one opened first ends first
SHORTEST = 8  # characters; NIST SP 800-63B's least length, from memory
LONGEST = 1024
SESSION_S = 30 * 24 * 3600
FORM_S = 12 * 3600
_SESSIONS = threading.Lock()  # one change of the file at a time


def set_password(folder: Path, text: str) -> None:
    """Sets the password of the pages; every session that was open ends. UnusableError where it is too short or too
    long.
    """
    if not SHORTEST <= len(text) <= LONGEST:
        raise UnusableError(f"The password has {grouped(len(text))} characters: use {SHORTEST} to {grouped(LONGEST)}.")
    keep_file(folder / HASH_FILE, PasswordHasher().hash(_normal(text)))
    with _SESSIONS:
        keep_file(folder / SESSIONS_FILE, "{}")


def has_password(folder: Path) -> bool:
    """Whether a password is set."""
    return (folder / HASH_FILE).exists()


def check(folder: Path, text: str) -> bool:
    """Whether this is the password; slow on purpose. False where none is set."""
    kept = read_file(folder / HASH_FILE)
    if kept is None or len(text) > LONGEST:
        return False
    try:
        return PasswordHasher().verify(kept.strip(), _normal(text))
    except (VerificationError, InvalidHashError):
        return False


def _normal(text: str) -> str:
    """One spelling, however the keyboard composed its letters."""
    return unicodedata.normalize("NFKC", text)


class Sessions:
    """Signed session cookies and form tokens of one folder's key. A cookie is good while it is signed, fresh, of the
    password in force, and open: the file has a fingerprint of each open session and the second in which it began.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def issue(self) -> str:
        """The value of a new session's cookie."""
        name = secrets.token_urlsafe(18)
        now = int(time.time())
        with _SESSIONS:
            fresh = {one: began for one, began in self._open().items() if now - began < SESSION_S}
            kept = dict(sorted(fresh.items(), key=lambda one: one[1])[-(MOST_SESSIONS - 1) :]) | {
                _fingerprint(name): now
            }
            keep_file(self._folder / SESSIONS_FILE, json.dumps(kept))
        return self._signer("session").dumps([self.password_in_force(), name])

    def end(self, cookie: str | None) -> None:
        """End a session, wherever its cookie was copied to."""
        said = self._opened("session", cookie, SESSION_S)
        if isinstance(said, list) and len(said) == 2:
            with _SESSIONS:
                left = self._open()
                if left.pop(_fingerprint(str(said[1])), None) is not None:
                    keep_file(self._folder / SESSIONS_FILE, json.dumps(left))

    def good(self, cookie: str | None) -> bool:
        """Whether a cookie is an open session of the password in force, no older than 30 days."""
        said = self._opened("session", cookie, SESSION_S)
        in_force = self.password_in_force()
        if (
            not isinstance(said, list)
            or len(said) != 2
            or in_force == ""
            or not secrets.compare_digest(str(said[0]), in_force)
        ):
            return False
        return _fingerprint(str(said[1])) in self._open()

    def form_token(self, purpose: str, visitor: str) -> str:
        """A token that ties a form to the visitor's own cookie."""
        return self._signer(f"form {purpose}").dumps(visitor)

    def form_good(self, purpose: str, visitor: str | None, token: str | None) -> bool:
        said = self._opened(f"form {purpose}", token, FORM_S)
        return bool(visitor) and isinstance(said, str) and secrets.compare_digest(said, str(visitor))

    def _opened(self, purpose: str, text: str | None, oldest_s: int) -> object:
        if not text:
            return None
        try:
            return self._signer(purpose).loads(text, max_age=oldest_s)
        except BadData:
            return None

    def _signer(self, purpose: str) -> URLSafeTimedSerializer:
        return URLSafeTimedSerializer(_signing_key(self._folder), salt=f"airtally {purpose}")

    def password_in_force(self) -> str:
        """A fingerprint of the kept hash (itself salted anew at each change); empty where none is set."""
        kept = read_file(self._folder / HASH_FILE)
        return "" if kept is None else _fingerprint(kept.strip())

    def _open(self) -> dict[str, int]:
        """The sessions that are open; none where the file was lost or spoilt."""
        try:
            found = json.loads(read_file(self._folder / SESSIONS_FILE) or "{}")
        except (ValueError, RecursionError):
            return {}
        return {one: began for one, began in found.items() if isinstance(began, int)} if isinstance(found, dict) else {}


def _fingerprint(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _signing_key(folder: Path) -> str:
    """The key that signs sessions, made at first need."""
    kept = read_file(folder / KEY_FILE)
    if kept is None:
        keep_file(folder / KEY_FILE, secrets.token_urlsafe(48), only_new=True)
        kept = read_file(folder / KEY_FILE)
    if kept is None or len(kept.strip()) < 32:
        raise StoreError(f"{folder / KEY_FILE} holds no signing key: delete the file, a new one is made by itself.")
    return kept.strip()


def read_file(path: Path) -> str | None:
    """The text of a private file; None where there is none. Raises StoreError."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeError) as trouble:
        raise StoreError(f"{path} can't be read ({trouble}): see who owns it.") from trouble


def keep_file(path: Path, text: str, *, only_new: bool = False) -> None:
    """Write a private file. Raises StoreError."""
    try:
        write_private(path, text + "\n", only_new=only_new)
    except OSError as trouble:
        raise StoreError(f"{path} can't be written ({trouble}): see who owns the folder.") from trouble


@contextmanager
def changing(path: Path) -> Iterator[None]:
    """To read a private file and write it back with nobody between. Raises StoreError."""
    with ExitStack() as held:
        try:
            held.enter_context(alone_with(path))
        except OSError as trouble:
            raise StoreError(f"{path} can't be locked ({trouble}): see who owns the folder.") from trouble
        yield
