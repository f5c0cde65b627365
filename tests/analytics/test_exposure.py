"""Radiated power against its definition and published pairs of values."""

import math

import pytest

from server.analytics.exposure import eirp_w


def test_it_is_the_power_at_the_antenna_times_the_gain_over_an_isotropic_one() -> None:
    # Radio Regulations 1.161 (from memory): power supplied to the antenna x gain relative to an isotropic antenna.
    assert eirp_w(25, 0, 0) == 25
    assert eirp_w(25, 2.0, 8.15) == pytest.approx(25 * 10**-0.2 * 10**0.815)
    assert eirp_w(25, 2.0, 8.15) == pytest.approx(103, rel=0.01)


def test_ten_watts_eirp_are_6_1_watts_into_a_half_wave_dipole() -> None:
    # Ofcom, EMF policy and FAQ (seen): 10 W EIRP, 6.1 W ERP; a dipole has 2.15 dBi, a factor of 1.64.
    assert eirp_w(6.1, 0, 2.15) == pytest.approx(10, rel=0.005)
    assert eirp_w(1, 0, 2.15) == pytest.approx(1.64, abs=0.002)


@pytest.mark.parametrize(
    ("power_w", "gain", "metres", "mw_cm2"), [(0.5, 2.818, 0.2, 0.2803), (0.039811, 1.0, 0.2, 0.007920)]
)
def test_the_worked_examples_of_published_filings_come_out(
    power_w: float, gain: float, metres: float, mw_cm2: float
) -> None:
    # Equipment filings that follow FCC OET Bulletin 65 (seen, worked): S = P G / (4 pi R^2), 1 mW/cm2 = 10 W/m2.
    density = eirp_w(power_w, 0, 10 * math.log10(gain)) / (4 * math.pi * metres**2)
    assert density / 10 == pytest.approx(mw_cm2, rel=1e-3)
