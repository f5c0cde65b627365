"""Models of waiting and loss beside what was measured (docs/definitions.md, Traffic); Erlang B itself is in
`traffic`."""

import math

from server.analytics.traffic import erlang_b

STEPS = 200  # of bisection: more than a double has bits


def engset(servers: int, sources: int, erlangs_a_source: float) -> float:
    """The share of calls of a few sources that find all servers busy (call congestion), blocked calls going away.

    `erlangs_a_source` is what each source would carry if it were never blocked, so the intensity of an idle source is
    M = a / (1 − a (1 − P)), and P = C(S−1, N) Mᴺ / Σ C(S−1, i) Mⁱ is a fixed point (P. Azimzadeh and T. Carpenter,
    Operations
    Research Letters 44, 2016, as the README of fast-engset has it). 0 where there are no more sources than servers.
    Raises ValueError for fewer than one server, or a load not in [0, 1).
    """
    if servers < 1 or sources < 0 or not 0 <= erlangs_a_source < 1:
        raise ValueError("Engset needs a server, and a load of each source in [0, 1)")
    if sources <= servers or erlangs_a_source == 0:
        return 0.0

    def congestion(blocked: float) -> float:
        idle = erlangs_a_source / (1 - erlangs_a_source * (1 - blocked))
        terms = [math.comb(sources - 1, busy) * idle**busy for busy in range(servers + 1)]
        return terms[-1] / sum(terms)

    low, high = 0.0, 1.0  # congestion falls as more is blocked, so it crosses the diagonal once
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if congestion(middle) > middle else (low, middle)
    return (low + high) / 2


def offered(servers: int, carried: float) -> float:
    """The offered load, erlang, of which so much is carried where blocked calls go away: a = A (1 − B(N, A)).

    Raises ValueError where it is not below the number of servers: no finite load fills them.
    """
    if not 0 <= carried < servers:
        raise ValueError("the carried load lies between none and the number of servers")
    low, high = carried, carried + 1.0
    while high * (1 - erlang_b(servers, high)) < carried:
        high *= 2
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if middle * (1 - erlang_b(servers, middle)) < carried else (low, middle)
    return (low + high) / 2
