"""Where the pages are listened on, and under which addresses a browser finds them."""

import ipaddress
import socket

from shared.errors import UnusableError


def reachable(host: str) -> list[str]:
    """The host parts under which a browser finds what listens on `host`: where that is every address, those of this
    machine, or its name where it knows of none but loopback.
    """
    if host not in ("0.0.0.0", "::"):
        return [_host_part(host)]
    name = socket.gethostname()
    family = socket.AF_INET if host == "0.0.0.0" else socket.AF_UNSPEC
    try:
        known = socket.getaddrinfo(name, None, family, socket.SOCK_STREAM)
    except OSError:
        return [name]
    own = dict.fromkeys(str(entry[4][0]) for entry in known)
    return [_host_part(address) for address in own if not is_own_only(address)] or [name]


def _host_part(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def is_own_only(address: str) -> bool:
    """Whether no other machine's browser can open the address: loopback, or of one link and so in need of a zone."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    return parsed.is_loopback or parsed.is_link_local


def listen_on(host: str, port: int, listen: str) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise UnusableError(
            f"[web] listen is {listen}: can't be listened on ({error.strerror}); choose another port."
        ) from error
    return listener
