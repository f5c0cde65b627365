"""What each link brought and how it fared, by hand and by counting over by over (definitions.md, Links; no source
outside of it).
"""

from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.figure_types import Stretch
from server.analytics.linking import Change, Key
from server.analytics.links import LinkFigures, LinkOvers, Outage, carried, links
from shared import spans as sp
from shared.zones import HOUR, SECOND

MINUTE = 60 * SECOND
UTC = ZoneInfo("UTC")
A: Key = ("moorland", "dmr", "99920")
B: Key = ("moorland", "dstar", "FELLS C")

Over = tuple[int, int, str | None, str | None, float | None]  #: start, end, mode, target, loss


def overs(*rows: Over) -> LinkOvers:
    start, end, mode, target, loss = zip(*rows, strict=True) if rows else ([],) * 5
    whole = (np.array(column, dtype=np.int64) for column in (start, end))
    return LinkOvers(*whole, tuple(mode), tuple(target), np.array(loss, dtype=np.float64))


def one_link(changes: list[Change], *rows: Over, blind: sp.Spans = sp.NONE, until: int = 10 * HOUR) -> LinkFigures:
    (found,) = links({A: changes}, overs(*rows), Stretch(0, 10 * HOUR, UTC, 0.0), blind, until).links
    return found


def test_availability_and_outages_by_hand() -> None:
    # Up from before the window, down for 2 of its 10 hours of which one is blind; the log ends after 9: 7 up, 1 down.
    changes = [(-5 * HOUR, True), (3 * HOUR, False), (5 * HOUR, True)]
    found = one_link(changes, blind=sp.spans([4 * HOUR], [5 * HOUR]), until=9 * HOUR)
    assert (found.known_s, found.down_s, found.availability) == (8 * 3600, 3600, 7 / 8)
    assert found.outages == (Outage(3 * HOUR, 4 * HOUR),) and found.flaps == 0


def test_an_outage_shorter_than_a_minute_is_a_flap_and_no_outage() -> None:
    changes = [(0, True), (HOUR, False), (HOUR + 59 * SECOND, True), (2 * HOUR, False), (2 * HOUR + MINUTE, True)]
    found = one_link(changes)
    assert found.flaps == 1 and found.outages == (Outage(2 * HOUR, 2 * HOUR + MINUTE),)
    assert found.down_s == 119  # both are time down


def test_what_the_window_or_the_log_cuts_short_is_no_flap() -> None:
    before = one_link([(-HOUR, False), (30 * SECOND, True)])
    assert before.flaps == 0 and before.outages == (Outage(0, 30 * SECOND),)
    at_the_end = one_link([(0, True), (10 * HOUR - 30 * SECOND, False)])
    assert at_the_end.flaps == 0 and at_the_end.outages == (Outage(10 * HOUR - 30 * SECOND, None),)
    said = at_the_end.as_json(UTC)["outages"]
    assert said == [{"from": "1970-01-01T09:59:30+00:00", "to": None}]


def test_a_link_lost_twice_in_a_row_is_lost_once() -> None:
    found = one_link([(0, True), (HOUR, False), (HOUR + 30 * SECOND, False), (3 * HOUR, True)])
    assert found.outages == (Outage(HOUR, 3 * HOUR),) and found.flaps == 0


def test_overs_count_by_their_start_and_airtime_within_the_window() -> None:
    rows = [
        (-2 * SECOND, 3 * SECOND, "dmr", "99920", None),
        (HOUR, HOUR + 5 * SECOND, "dmr", "99920", None),
        (HOUR + 2 * SECOND, HOUR + 6 * SECOND, "dmr", "99920", None),
    ]
    found = one_link([(-HOUR, True)], *rows)
    assert (found.overs, found.airtime_s) == (2, 9.0)
    assert (found.loss_pct, found.loss_high_share) == (None, None)


def test_loss_goes_by_seconds_and_only_by_overs_that_tell_it() -> None:
    rows = [
        (HOUR, HOUR + 30 * SECOND, "dmr", "99920", 1.0),
        (2 * HOUR, 2 * HOUR + 10 * SECOND, "dmr", "99920", 9.0),
        (3 * HOUR, 3 * HOUR + 60 * SECOND, "dmr", "99920", None),
        (4 * HOUR, 4 * HOUR + 10 * SECOND, "dmr", "99920", 5.0),  # not above 5 %
    ]
    found = one_link([(0, True)], *rows)
    assert found.loss_pct == pytest.approx((30 * 1 + 10 * 9 + 10 * 5) / 50) and found.loss_high_share == 0.2


def through(keys: dict[Key, list[Change]], over: Over) -> list[Key]:
    found = carried(list(keys), keys, overs(over))
    return [key for key, mine in zip(keys, found[:, 0], strict=True) if mine]


def test_an_over_comes_through_the_link_that_is_up_and_fits_it() -> None:
    up = {A: [(0, True)], B: [(0, True)]}
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]
    assert through(up, (HOUR, 2 * HOUR, "dmr", None, None)) == [A]  # nothing says otherwise
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99901", None)) == []
    assert through({A: [(0, True), (HOUR, False)]}, (HOUR, 2 * HOUR, "dmr", "99920", None)) == []
    assert through({A: [(HOUR, True)]}, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]


def test_an_over_that_fits_two_links_is_told_of_neither_and_so_counted() -> None:
    other: Key = ("ghyllnet", "dmr", "99920")
    up: dict[Key, list[Change]] = {A: [(0, True)], other: [(0, True)]}
    found = links(up, overs((HOUR, 2 * HOUR, "dmr", "99920", None)), Stretch(0, 9 * HOUR, UTC, 0.0), sp.NONE, 9 * HOUR)
    assert (found.overs, found.not_told_apart) == (1, 1) and [one.overs for one in found.links] == [0, 0]


def test_a_link_that_names_less_of_another_takes_nothing_from_it() -> None:
    less: Key = ("moorland", None, None)
    up: dict[Key, list[Change]] = {less: [(0, True)], A: [(0, True)]}
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]
    assert through(up, (HOUR, 2 * HOUR, "dstar", None, None)) == [less]


def test_of_a_link_that_nobody_saw_nothing_is_known() -> None:
    found = one_link([(0, True)], blind=sp.spans([0], [10 * HOUR]))
    assert found == LinkFigures(A, 0.0)
    assert {
        value for key, value in found.as_json(UTC).items() if key not in ("network", "mode", "target", "known_s")
    } == {None}


changed = st.lists(st.tuples(st.integers(-50, 600), st.booleans()), min_size=1, max_size=8)
modes, targets = st.sampled_from(["dmr", "dstar", None]), st.sampled_from(["1", "2", None])
rows = st.lists(st.tuples(st.integers(-20, 600), st.integers(1, 30), modes, targets), max_size=12)


@given(st.dictionaries(st.sampled_from([("n", "dmr", "1"), ("n", "dmr", "2"), ("m", "dstar", None)]), changed), rows)
def test_overs_of_links_agree_with_counting_one_by_one(
    told: dict[Key, list[Change]], heard: list[tuple[int, int, str | None, str | None]]
) -> None:
    changes = {key: sorted(mine, key=lambda change: change[0]) for key, mine in told.items()}
    heard = sorted(heard, key=lambda over: over[0])
    counts, alone = dict.fromkeys(changes, 0), 0
    for start, _, mode, target in heard:
        fitting = [
            key
            for key, mine in changes.items()
            if ([up for at, up in mine if at <= start] or [False])[-1]
            and all(said is None or of is None or said == of for said, of in zip((mode, target), key[1:], strict=True))
        ]
        if 0 <= start < 500:
            alone += len(fitting) != 1
            for key in fitting if len(fitting) == 1 else []:
                counts[key] += 1
    found = links(
        changes,
        overs(*((start, start + long, mode, target, None) for start, long, mode, target in heard)),
        Stretch(0, 500, UTC, 0.0),
        sp.NONE,
        500,
    )
    assert found.not_told_apart == alone
    assert {one.key: one.overs or 0 for one in found.links} == counts
