"""Slows down whoever guesses passwords: so many failures an address, then a pause."""

import ipaddress
from collections import OrderedDict

FAILURES = 5
PAUSE_S = 15 * 60
REMEMBERED = 2048  # addresses; the ones longest unheard of are forgotten first


def network_of(address: str) -> str:
    """What counts as one address: an IPv4 address, or the /56 that one IPv6 subscriber may have all of (RFC 6177, 2:
    between /64 and /48).
    """
    try:
        parsed = ipaddress.ip_address(address.split("%", 1)[0])
    except ValueError:
        return address
    if parsed.version == 4:
        return str(parsed)
    mapped = parsed.ipv4_mapped
    return str(mapped) if mapped else str(ipaddress.ip_network((parsed, 56), strict=False))


class Throttle:
    """Attempts in the last 15 minutes by address. The clock is a parameter: seconds of any steady clock."""

    def __init__(self) -> None:
        self._attempts: OrderedDict[str, list[float]] = OrderedDict()
        self._password = ""

    def under(self, password: str) -> None:
        """Which password is in force, by a fingerprint: a new one lifts every lock-out."""
        if password != self._password:
            self._attempts.clear()
            self._password = password

    def wait_s(self, address: str, now: float) -> float:
        """How long this address has to wait before it may try; 0 where it may now."""
        recent = self._recent(network_of(address), now)
        return max(0.0, recent[-FAILURES] + PAUSE_S - now) if len(recent) >= FAILURES else 0.0

    def attempt(self, address: str, now: float) -> None:
        """An attempt begins: it counts from now on, so that attempts at once can't slip through together."""
        key = network_of(address)
        self._attempts[key] = [*self._recent(key, now), now]
        self._attempts.move_to_end(key)
        while len(self._attempts) > REMEMBERED:
            self._attempts.popitem(last=False)

    def right(self, address: str) -> None:
        """The password was right: what went before is forgotten."""
        self._attempts.pop(network_of(address), None)

    def _recent(self, key: str, now: float) -> list[float]:
        return [then for then in self._attempts.get(key, []) if now - then < PAUSE_S]
