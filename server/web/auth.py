"""The password and the sessions. Hash and signing key lie in private files (0600) beside the store.

Argon2id by argon2-cffi with its defaults (RFC 9106's second recommended setting); sessions are signed by itsdangerous.
"""

import hashlib
import secrets
import unicodedata
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from itsdangerous import BadData, URLSafeTimedSerializer

from shared.errors import StoreError, UnusableError
from shared.private import write_private

HASH_FILE = "airtally.password"
KEY_FILE = "airtally.key"
SHORTEST = 8  # characters; NIST SP 800-63B's least length, from memory
LONGEST = 1024
SESSION_S = 30 * 24 * 3600
FORM_S = 12 * 3600


def set_password(folder: Path, text: str) -> None:
    """Sets the password of the pages; every session that was open ends. UnusableError where it is too short or too long."""
    if not SHORTEST <= len(text) <= LONGEST:
        raise UnusableError(f"The password has {len(text)} characters: use {SHORTEST} to {LONGEST}.")
    _keep(folder / HASH_FILE, PasswordHasher().hash(_normal(text)))


def has_password(folder: Path) -> bool:
    """Whether a password is set."""
    return (folder / HASH_FILE).exists()


def check(folder: Path, text: str) -> bool:
    """Whether this is the password; slow on purpose. False where none is set."""
    kept = _read(folder / HASH_FILE)
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
    """Signed session cookies and form tokens of one folder's key. Nothing is kept: a cookie is good while it is signed, fresh, and of
    the password in force."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def issue(self) -> str:
        """The value of a new session's cookie."""
        return self._signer("session").dumps([self._password_in_force(), secrets.token_urlsafe(9)])

    def good(self, cookie: str | None) -> bool:
        """Whether a cookie is a session of the password in force, no older than 30 days."""
        said = self._opened("session", cookie, SESSION_S)
        in_force = self._password_in_force()
        return isinstance(said, list) and in_force != "" and secrets.compare_digest(str(said[0]), in_force)

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

    def _password_in_force(self) -> str:
        """A fingerprint of the kept hash (itself salted anew at each change); empty where none is set."""
        kept = _read(self._folder / HASH_FILE)
        return "" if kept is None else hashlib.sha256(kept.strip().encode()).hexdigest()[:32]


def _signing_key(folder: Path) -> str:
    """The key that signs sessions, made at first need."""
    kept = _read(folder / KEY_FILE)
    if kept is None:
        _keep(folder / KEY_FILE, secrets.token_urlsafe(48), only_new=True)
        kept = _read(folder / KEY_FILE)
    if kept is None or len(kept.strip()) < 32:
        raise StoreError(f"{folder / KEY_FILE} holds no signing key: delete the file, a new one is made by itself.")
    return kept.strip()


def _read(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeError) as trouble:
        raise StoreError(f"{path} can't be read ({trouble}): see who owns it.") from trouble


def _keep(path: Path, text: str, *, only_new: bool = False) -> None:
    try:
        write_private(path, text + "\n", only_new=only_new)
    except OSError as trouble:
        raise StoreError(f"{path} can't be written ({trouble}): see who owns the folder.") from trouble
