"""Radiated power against its definition and published pairs of values."""

import math
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.airtime import Fullest
from server.analytics.exposure import (
    LIMITS,
    Exposure,
    Radiator,
    distance_m,
    eirp_w,
    exposure,
    near_field_m,
    power_density,
)
from server.analytics.figure_types import Duty, Stretch
from shared.zones import DAY


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
    density = power_density(eirp_w(power_w, 0, 10 * math.log10(gain)), metres)
    assert density / 10 == pytest.approx(mw_cm2, rel=1e-3)


def test_the_worked_example_of_a_distance_comes_out() -> None:
    # The same filings (seen, worked): 100 mW, 2.15 dBi, 0.47 mW/cm2 -> 5.3 cm; 1 mW/cm2 = 10 W/m2.
    assert distance_m(eirp_w(0.1, 0, 2.15), 4.7) == pytest.approx(0.053, abs=0.0005)


@pytest.mark.parametrize(
    ("name", "frequency_mhz", "w_m2"),
    [
        ("icnirp-2020-public-whole-body", 435, 2.175),  # ICNIRP 2020, table 5 (from memory)
        ("icnirp-2020-public-whole-body", 145, 2),
        ("icnirp-2020-public-local", 435, 10.78),  # Health Physics 118:483-524, a reprinted table (quoted, worked)
        ("icnirp-2020-public-local", 145, 10),
        ("oet-65-general-population", 902.75, 6.018),  # OET Bulletin 65, table 1 (quoted): 0.6018 mW/cm2
        ("oet-65-general-population", 145, 2),
    ],
)
def test_the_limits_are_the_published_ones(name: str, frequency_mhz: float, w_m2: float) -> None:
    assert next(one for one in LIMITS if one.name == name).at(frequency_mhz) == pytest.approx(w_m2, rel=5e-4)


def test_no_limit_is_claimed_outside_of_the_bands_that_are_held() -> None:
    assert [one.at(29.0) for one in LIMITS] == [None] * 3
    assert [one.at(1800) is None for one in LIMITS] == [False, False, True]


def test_where_two_bands_of_a_limit_meet_they_agree() -> None:
    for limit in LIMITS:
        low, high = limit.bands
        assert low.high_mhz == high.low_mhz
        # 0.058 x 400^0.86 is 10.03: the guidelines round their factor.
        assert low.w_m2(low.high_mhz) == pytest.approx(high.w_m2(high.low_mhz), rel=0.005)


def test_the_near_field_reaches_a_sixth_of_a_wavelength() -> None:
    assert near_field_m(435) == pytest.approx(0.11, abs=0.001)  # λ is 300 / f metres within 0.1 %


HILL = Radiator(frequency_mhz=435.0, power_w=25.0, feeder_loss_db=2.0, antenna_gain_dbi=8.15)
MONTH = Stretch(0, 30 * DAY, ZoneInfo("UTC"), 0.0)


def sheet(radiator: Radiator, six: float | None, thirty: float | None) -> Exposure:
    return exposure(MONTH, Duty(Fullest(six), Fullest(thirty), Fullest(thirty)), radiator)


def test_the_average_goes_by_the_worst_share_of_the_time_that_the_limit_is_averaged_over() -> None:
    whole, local, oet = sheet(HILL, 0.9, 0.5).limits
    eirp = 25 * 10**0.615
    assert whole.distance_m == pytest.approx(math.sqrt(eirp * 0.5 / (4 * math.pi * 2.175)))
    assert local.distance_m == pytest.approx(math.sqrt(eirp * 0.9 / (4 * math.pi * 0.058 * 435**0.86)))
    assert oet.distance_m == pytest.approx(math.sqrt(eirp * 0.5 / (4 * math.pi * 2.9)))


radiators = st.builds(
    Radiator,
    frequency_mhz=st.floats(30, 1500),
    power_w=st.floats(0.1, 2000),
    feeder_loss_db=st.floats(0, 20),
    antenna_gain_dbi=st.floats(-10, 20),
    ground_reflection=st.booleans(),
)


@given(radiators)
def test_full_duty_equals_duty_one(radiator: Radiator) -> None:
    for one in sheet(radiator, 1.0, 1.0).limits:
        assert one.distance_m == one.distance_full_duty_m


@given(radiators, st.floats(0.001, 1))
def test_at_the_distance_the_density_is_the_limit_and_the_share_scales_by_its_root(
    radiator: Radiator, share: float
) -> None:
    eirp, near = radiator.eirp_w, near_field_m(radiator.frequency_mhz or 0)
    assert eirp is not None
    for one in sheet(radiator, share, share).limits:
        if one.distance_m is not None:
            assert one.w_m2 is not None and one.distance_full_duty_m is not None
            found = power_density(eirp * share, one.distance_m, radiator.ground_reflection)
            assert found == pytest.approx(one.w_m2) and one.distance_m >= near
            assert one.distance_m == pytest.approx(one.distance_full_duty_m * math.sqrt(share))


def test_the_ground_makes_every_distance_1_6_times_as_far() -> None:
    # OET Bulletin 65 (quoted): 2.56 is the square of 1.6 times the field.
    plain, grounded = (sheet(Radiator(435.0, 25.0, 2.0, 8.15, ground), 1.0, 1.0).limits for ground in (False, True))
    for one, other in zip(plain, grounded, strict=True):
        assert one.distance_m is not None and other.distance_m == pytest.approx(1.6 * one.distance_m)


def test_no_distance_is_given_in_the_near_field() -> None:
    weak = Radiator(frequency_mhz=435.0, power_w=0.01, feeder_loss_db=0.0, antenna_gain_dbi=0.0)
    assert all(one.distance_m is None and one.distance_full_duty_m is None for one in sheet(weak, 1.0, 1.0).limits)
    assert sheet(HILL, 0.0, 0.0).limits[0].distance_m is None


@pytest.mark.parametrize("name", ["frequency_mhz", "power_w", "feeder_loss_db", "antenna_gain_dbi"])
def test_what_is_not_set_is_not_taken_for_nothing(name: str) -> None:
    given = {one: getattr(HILL, one) for one in ("frequency_mhz", "power_w", "feeder_loss_db", "antenna_gain_dbi")}
    found = sheet(Radiator(**{**given, name: None}), 1.0, 1.0)
    assert all(one.distance_m is None and one.distance_full_duty_m is None for one in found.limits)
    assert found.as_json("")["to_set"] == [f"[transmitter] {name}"]
    assert (found.as_json("")["eirp_w"] is None) == (name != "frequency_mhz")
    assert (found.near_field_m is None) == (name == "frequency_mhz")


def test_of_a_window_that_nobody_saw_only_full_duty_is_known() -> None:
    found = sheet(HILL, None, None)
    assert found.duty == {"6min": None, "30min": None}
    assert all(one.distance_m is None and one.distance_full_duty_m is not None for one in found.limits)
