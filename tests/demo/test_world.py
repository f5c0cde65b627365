"""Nobody in the demo can be a real station.

Sources: Radio Regulations, Appendix 42 (no call sign series begins with Q: quoted);
ids that start with 999 are the project's own choice for the invented world.
"""

import re

from server.demo import world
from server.demo.simulate import Simulated

CALLSIGN = re.compile(r"Q[A-Z][0-9][A-Z]{3}(/M|-7)?")
NUMBER = re.compile(r"999[0-9]{4}")


def test_every_station_in_a_log_has_a_q_call_sign_or_an_id_that_starts_with_999(autumn: Simulated) -> None:
    stations = autumn.events["station"].drop_nulls().unique().to_list()
    assert len(stations) > 100
    assert all(CALLSIGN.fullmatch(one) or NUMBER.fullmatch(one) for one in stations)
    assert any(NUMBER.fullmatch(one) for one in stations)
    assert any("/" in one for one in stations)


def test_ids_appear_only_on_dmr(autumn: Simulated) -> None:
    rows = autumn.events.select("mode", "station").drop_nulls().unique().rows()
    assert {mode for mode, station in rows if station.isdigit()} == {"dmr"}


def test_call_signs_and_ids_are_each_one_persons() -> None:
    people = world.people()
    assert len({one.callsign for one in people}) == len(people) == world.LOCAL_PEOPLE + world.FAR_PEOPLE
    numbers = [one.number for one in people if one.number]
    assert len(set(numbers)) == len(numbers)
    assert world.CALLSIGN not in {one.callsign for one in people}


def test_dmr_ids_and_talkgroups_fit_the_24_bits_of_the_standard() -> None:
    # DMR ids have 24 bits: talkgroups 1 to 16,777,215, radios 1 to 16,776,415 (quoted).
    assert all(1 <= int(one.number) <= 16_776_415 for one in world.people() if one.number)
    assert all(1 <= int(one.name or 0) <= 16_777_215 for one in world.targets_of("dmr"))


def test_the_world_is_the_same_each_time() -> None:
    assert world.people() == world.people()


def test_every_reach_is_in_use_and_a_weeks_shares_sum_to_one() -> None:
    assert {one.reach for one in world.TARGETS} == {"local", "regional", "wide"}
    assert abs(world.hourly_shares().sum() - 1) < 1e-12
