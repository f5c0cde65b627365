"""Texts of libraries without the secrets of the addresses that they speak of.

Whatever is said of a failure goes through `redacted` before anybody reads or keeps it: libraries quote addresses whole,
in parts, decoded, or as their own. An address's secrets are all its parts but scheme, host and port: a token may stand
in its path as well as a password before its host."""

import base64
import re
from collections.abc import Iterable
from urllib.parse import quote, quote_plus, unquote, unquote_plus

HIDDEN = "***"
SHORTEST = 4  # of a part that is hidden wherever it stands; a shorter one only where it stands by itself
COMMON = frozenset(
    {"true", "false", "html", "text", "json", "post", "http", "https"}
)  # values of options, never a secret
_ADDRESS = re.compile(r"\b([A-Za-z][A-Za-z0-9+.-]*://)(?:[^\s'\"<>/?#]*@)?([^\s'\"<>/?#@]*)([/?#][^\s'\"<>]*)?")


def place_of(url: str, *, host: str | None = None) -> str:
    """An address as anybody may read it: scheme, host and port. `host`, where a library knows it, is taken for that in
    the address.
    """
    scheme, mark, rest = url.partition("://")
    if not mark:
        return HIDDEN
    netloc, _, path = re.split(r"[?#]", rest, maxsplit=1)[0].partition("/")
    if host is None:
        # an @ too many: where does the password end?
        host = HIDDEN if "@" in path or netloc.count("@") > 1 else netloc.rpartition("@")[2]
    behind = rest[len(netloc) :].strip("/")
    return f"{scheme}://{host}{'/...' if behind else '/' if host else ''}"


def secrets_of(url: str, shown: str) -> tuple[str, ...]:
    """Every spelling of every part of an address that `shown`, its readable form, does not show; the longest first."""
    scheme, mark, rest = url.partition("://")
    if not mark:
        scheme, rest = "", url
    before_options = re.split(r"[?#]", rest, maxsplit=1)[0]
    users = {
        before_options.partition("/")[0].rpartition("@")[0],
        (before_options if "@" in before_options else rest).rpartition("@")[0],
    }
    parts = {rest, *_behind_the_host(rest)}
    for user in users - {""}:
        parts |= {user, user.partition(":")[2], *_encoded(user), *_split(user)}
    spellings = {spelling for part in parts for spelling in _spellings(part)}
    hidden = spellings - {"", scheme, shown, *_split(shown)}
    return tuple(sorted((text for text in hidden if text.lower() not in COMMON), key=lambda text: (-len(text), text)))


def _behind_the_host(rest: str) -> Iterable[str]:
    """Parts of path and options that are long enough to be looked for anywhere; names of options are no secrets."""
    behind = re.split(r"[/?#&=]", re.sub(r"(?<=[?&])[^=&]*=", "=", rest))[1:]
    return (part for part in (*behind, *_split("/".join(behind))) if len(part) >= SHORTEST)


def _encoded(user: str) -> Iterable[str]:
    """User and password as HTTP (RFC 7617), SMTP's PLAIN (RFC 4616) and LOGIN send them."""
    name, _, password = (unquote(part) for part in user.partition(":"))
    for text in (f"{name}:{password}", f"\0{name}\0{password}", password):
        yield base64.b64encode(text.encode()).decode()


def _split(text: str) -> list[str]:
    return re.split(r"[/:@?&=#,;\s]+", text)


def _spellings(part: str) -> Iterable[str]:
    plain, plus = unquote(part), unquote_plus(part)
    for text in (part, plain, plus):
        yield from (text, quote(text, safe=""), quote(text), quote_plus(text), repr(text)[1:-1], ascii(text)[1:-1])


def redacted(text: str, secrets: Iterable[str] = ()) -> str:
    """A text without these secrets, and with no more of any address in it than its place."""
    for secret in secrets:
        if secret in text:
            wanted = re.escape(secret) if len(secret) >= SHORTEST else rf"(?<!\w){re.escape(secret)}(?!\w)"
            text = re.sub(wanted, HIDDEN, text)
    return _ADDRESS.sub(lambda at: at[1] + at[2] + ("/..." if len(at[3] or "") > 1 else at[3] or ""), text)
