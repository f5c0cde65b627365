"""Airtime from frames against published rows; source and status beside each."""

import pytest

from shared import units


def test_airtime_from_frames_agrees_with_the_published_frame_times() -> None:
    # ETSI TS 102 361-1, from memory; quoted: burst 27.5 ms + gap 2.5 ms, superframe 6 frames = 360 ms
    assert pytest.approx(0.0275 + 0.0025) == units.DMR_SLOT_S
    assert pytest.approx(0.360) == units.DMR_SUPERFRAME_S
    # Codan, P25 Training Guide, chapter 4, seen and worked: header, ten units, simple terminator
    assert units.p25_seconds(10) == pytest.approx(1.8975)
    # M17 specification v2.0.4, seen and worked: 25 frames
    assert units.m17_seconds(25) == pytest.approx(1.120)
    assert pytest.approx(384 / 9600) == units.M17_FRAME_S
    # JARL specification, from memory, worked: 100 frames
    assert units.dstar_seconds(100) == pytest.approx(2.164, abs=0.0005)
    assert pytest.approx(96 / 4800) == units.DSTAR_FRAME_S
    # NXDN TS 1-A and Amateur Radio Digital Standards v1.02, from memory; worked from 384 and 960 bits
    assert {rate: pytest.approx(384 / rate) for rate in (4800, 9600)} == units.NXDN_FRAME_S
    assert pytest.approx(960 / 9600) == units.C4FM_FRAME_S


# ITU-R M.584-2 annex 1, 1.1 and 1.2, seen (rates from memory), worked
@pytest.mark.parametrize(
    ("rate", "seconds"), [(512, (2.1875, 3.25, 4.3125)), (1200, (0.9333, 1.3867, 1.84)), (2400, (0.4667, 0.6933, 0.92))]
)
def test_pocsag_batches_last_as_the_recommendation_has_it(rate: int, seconds: tuple[float, ...]) -> None:
    assert [units.pocsag_seconds(batches, rate) for batches in (1, 2, 3)] == pytest.approx(seconds, abs=0.00005)


def test_frames_are_counted_in_milliseconds() -> None:
    assert units.frames_seconds(620, 20) == pytest.approx(12.4)
