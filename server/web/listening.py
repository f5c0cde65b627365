"""Where the pages may be listened on, and for whom without a password."""

import ipaddress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from shared.errors import UnusableError


@dataclass(frozen=True)
class WebOptions:
    """The settings of the pages."""

    folder: Path  #: where password and signing key lie: beside the store
    listen: str = "127.0.0.1:8087"
    path_prefix: str = ""  #: such as /airtally
    trusted_proxy: tuple[str, ...] = field(default=())  #: addresses whose X-Forwarded-* headers are believed
    paper: Literal["a4", "letter"] = "a4"  #: size of the pages of PDFs


def listen_address(listen: str) -> tuple[str, int]:
    """Host and port of `127.0.0.1:8087` or `[::1]:8087`. UnusableError where it is neither."""
    host, colon, port = listen.rpartition(":")
    if not colon or not host or not port.isascii() or not port.isdigit() or not 0 <= int(port) < 65536:
        raise UnusableError(f"[web] listen is {listen!r}: an address and a port such as 127.0.0.1:8087 were expected.")
    return host.removeprefix("[").removesuffix("]"), int(port)


def is_loopback(host: str) -> bool:
    """Whether a host name or address can only mean this machine."""
    if host.lower().rstrip(".") == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def host_only(header: str) -> str:
    """The host of a Host header, without its port; empty where there is none."""
    if header.startswith("["):
        return header[1:].partition("]")[0]
    return header.partition(":")[0]


def refusal_to_listen(listen: str, has_password: bool) -> str | None:
    """The sentence with which `serve` refuses to listen beyond loopback without a password; None where it may
    listen."""
    host, _ = listen_address(listen)
    if has_password or is_loopback(host):
        return None
    return (
        f"[web] listen is {listen}, which others can reach, and no password is set: "
        "set one with `airtally password`, or listen on 127.0.0.1."
    )
