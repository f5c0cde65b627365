"""Erlang B, Engset and occupancy against published tables."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.airtime import occupancy
from server.analytics.queueing import engset, offered
from server.analytics.traffic import erlang_b
from shared import spans as sp

#: Offered load at a blocking, by servers. A Lucent course's Erlang B table (seen, and worked out within 0.001); the
#: last digit is its own.
TWO_PERCENT = {
    3: 0.602,
    5: 1.657,
    7: 2.935,
    9: 4.345,
    11: 5.842,
    13: 7.402,
    15: 9.010,
    17: 10.656,
    19: 12.333,
    21: 14.036,
    23: 15.761,
    25: 17.505,
}
#: Published tables (15: a calculator's manual, seen; the others from memory), all worked out independently.
ONE_PERCENT = {1: 0.0101, 2: 0.1526, 5: 1.361, 10: 4.461, 15: 8.108, 20: 12.03, 50: 37.90, 100: 84.06}


@pytest.mark.parametrize(("servers", "load"), TWO_PERCENT.items())
def test_erlang_b_at_2_percent(servers: int, load: float) -> None:
    assert erlang_b(servers, load - 0.001) < 0.02 < erlang_b(servers, load + 0.001)


@pytest.mark.parametrize(("servers", "load"), ONE_PERCENT.items())
def test_erlang_b_at_1_percent(servers: int, load: float) -> None:
    assert erlang_b(servers, load * 0.999) < 0.01 < erlang_b(servers, load * 1.001)


def test_engset_for_5_servers_and_10_sources_of_a_fifth_of_an_erlang() -> None:
    # README of fast-engset 3.0.1, after Azimzadeh and Carpenter, Operations Research Letters 44(3), 2016 (seen, worked
    # out).
    assert engset(5, 10, 0.2) == pytest.approx(0.016349962386312377, rel=1e-12)


@pytest.mark.parametrize(
    ("servers", "sources", "load", "lost"),
    [
        (2, 10, 0.05, 0.06305088884),
        (2, 6, 0.3, 0.32895571932),
        (1, 4, 0.1, 0.24499799840),
        (2, 30, 0.05, 0.30334364457),
        (3, 20, 0.1, 0.19669190893),
    ],
)
def test_engset_is_what_the_package_fast_engset_gives(servers: int, sources: int, load: float, lost: float) -> None:
    # fast-engset 3.0.1, blocking_prob(servers, sources, sources * load) by bisection, run once: it asks for a compiler,
    # so it is no test dependency.
    assert engset(servers, sources, load) == pytest.approx(lost, abs=1e-10)


@given(st.integers(1, 5), st.integers(2, 12), st.floats(0.01, 0.8))
def test_engset_is_the_share_of_calls_that_the_birth_and_death_of_calls_loses(
    servers: int, more: int, load: float
) -> None:
    # The chain of busy servers, solved as a linear system (worked out here; independent of the closed form).
    sources = servers + more
    lost = engset(servers, sources, load)
    idle = load / (1 - load * (1 - lost))
    rates = np.zeros((servers + 1, servers + 1))
    for busy in range(servers):
        rates[busy, busy + 1], rates[busy + 1, busy] = (sources - busy) * idle, busy + 1
    np.fill_diagonal(rates, -rates.sum(axis=1))
    share = np.linalg.lstsq(
        np.vstack([rates.T, np.ones(servers + 1)]), np.append(np.zeros(servers + 1), 1.0), rcond=None
    )[0]
    calls = share * (sources - np.arange(servers + 1))
    assert lost == pytest.approx(calls[-1] / calls.sum(), rel=1e-6)


def test_engset_of_very_many_sources_is_erlang_b() -> None:
    # The limit of many sources with one load among them (Engset's own argument; independent of the fixed point's code).
    assert engset(5, 1_000_000, 3 / 1_000_000) == pytest.approx(erlang_b(5, 3), rel=1e-4)


def test_engset_of_no_more_sources_than_servers_blocks_nobody() -> None:
    assert engset(5, 5, 0.9) == 0 and engset(2, 10, 0) == 0
    for wrong in ((0, 10, 0.1), (2, 10, 1.0), (2, 10, -0.1)):
        with pytest.raises(ValueError, match="Engset"):
            engset(*wrong)


@given(st.integers(1, 20), st.floats(0.01, 30))
def test_the_offered_load_is_found_from_what_is_carried(servers: int, load: float) -> None:
    carried = load * (1 - erlang_b(servers, load))
    if carried < 0.98 * servers:
        assert offered(servers, carried) == pytest.approx(load, rel=1e-6)


@pytest.mark.parametrize(("servers", "load"), TWO_PERCENT.items())
def test_the_table_read_backwards_gives_the_offered_load(servers: int, load: float) -> None:
    # The Lucent course's table (seen): of the load in it 98 % is carried, and so much carried was so much offered.
    assert offered(servers, 0.98 * load) == pytest.approx(load, abs=0.002)


@pytest.mark.parametrize(("servers", "load"), ONE_PERCENT.items())
def test_the_other_table_read_backwards_gives_the_offered_load(servers: int, load: float) -> None:
    assert offered(servers, 0.99 * load) == pytest.approx(load, rel=0.002)


def test_no_finite_load_fills_all_servers() -> None:
    with pytest.raises(ValueError, match="carried"):
        offered(2, 2.0)


@pytest.mark.parametrize(("share", "samples"), [(0.1, 3461), (0.2, 1535), (0.5, 381)])
def test_so_many_samples_of_the_occupancy_come_within_a_tenth_of_it_19_times_of_20(share: float, samples: int) -> None:
    # Recommendation ITU-R SM.1880's table for ± 10 % at 95 % (its values from memory; (1.96 / 0.1)² (1 − p) / p gives
    # 3457, 1537, 384). Sampling at random instants is independent of how the occupancy of a window is reckoned here.
    rng = np.random.default_rng(7)
    edges = np.sort(rng.choice(10_000_000, size=4000, replace=False))
    covered = sp.spans(edges[::2], edges[::2] + np.diff(edges)[::2] * 2 * share)
    covered = sp.union(covered)
    true = occupancy(covered, (0, 10_000_000), 10_000_000)
    assert true is not None and abs(true - share) < 0.03
    within = 0
    for _ in range(400):
        sampled = sp.covers(covered, rng.integers(0, 10_000_000, size=samples)).mean()
        within += abs(sampled - true) <= 0.1 * true
    assert 0.92 <= within / 400 <= 0.985
