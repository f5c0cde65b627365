"""One notice an incident, reminders at doubling intervals, one when it clears; the quiet hours and the morning."""

from dataclasses import replace

from server.alerts.limits import MINUTE
from server.alerts.notices import notices_of
from server.alerts.states import Spoken, State, speak
from server.telling.caution import NOTICE
from server.telling.checks import CHECKS, TITLES
from shared.zones import HOUR
from tests.alerts.worlds import DAY0, LIMITS, T0, ZONE

STUCK = State(1, "over-runs-on", "dstar", T0, None, True, "A D-STAR over has been open.")
LINK = State(2, "link-down", "fellnet", T0, None, False, "The link to fellnet has been down.")
MORNING = T0 + 3 * HOUR + 50 * MINUTE  # 07:00


class Keeper:
    """Asks each minute, keeps the states, notes what was said."""

    def __init__(self, *states: State) -> None:
        self.states = {state.id: state for state in states}
        self.said: list[tuple[int, int, str]] = []
        self.digests: list[tuple[int, list[int]]] = []

    def live(self, start: int, end: int) -> "Keeper":
        for now in range(start, end, MINUTE):
            spoken, changed = speak([one for one in self.states.values() if one.raised <= now], now, LIMITS)
            self.states |= {state.id: state for state in changed}
            self.said += [(now, one.state.id, one.kind) for one in spoken if not one.digest]
            waited = [one.state.id for one in spoken if one.digest]
            if waited:
                self.digests.append((now, waited))
        return self

    def change(self, number: int, **values: object) -> None:
        self.states[number] = replace(self.states[number], **values)  # type: ignore[arg-type]


def test_what_is_urgent_wakes_at_once_and_reminds_at_doubling_intervals() -> None:
    keeper = Keeper(STUCK).live(T0, T0 + 4 * HOUR)
    assert [((at - T0) // MINUTE, kind) for at, _, kind in keeper.said] == [
        (0, "raised"), (15, "reminder"), (45, "reminder"), (105, "reminder"), (225, "reminder"),
    ]  # fmt: skip


def test_one_notice_when_it_clears_and_then_silence() -> None:
    keeper = Keeper(STUCK).live(T0, T0 + 10 * MINUTE)
    keeper.change(1, cleared=T0 + 9 * MINUTE)
    keeper.live(T0 + 10 * MINUTE, T0 + 8 * HOUR)
    assert [((at - T0) // MINUTE, kind) for at, _, kind in keeper.said] == [(0, "raised"), (10, "cleared")]


def test_taken_note_of_it_reminds_no_more_and_still_says_when_it_is_over() -> None:
    keeper = Keeper(STUCK).live(T0, T0 + 10 * MINUTE)
    keeper.change(1, acknowledged_us=T0 + 9 * MINUTE)
    keeper.live(T0 + 10 * MINUTE, T0 + 6 * HOUR)
    keeper.change(1, cleared=T0 + 6 * HOUR)
    keeper.live(T0 + 6 * HOUR, T0 + 7 * HOUR)
    assert [kind for _, _, kind in keeper.said] == ["raised", "cleared"]


def test_what_is_not_urgent_waits_for_the_morning_and_comes_in_one_digest() -> None:
    other = replace(LINK, id=3, subject="mootnet", raised=T0 + HOUR)
    keeper = Keeper(LINK, other).live(T0, T0 + 90 * MINUTE)
    keeper.change(3, cleared=T0 + 80 * MINUTE)
    keeper.live(T0 + 90 * MINUTE, MORNING + HOUR)
    assert keeper.said == [] and keeper.digests == [(MORNING, [2, 3])]


def test_by_day_what_is_not_urgent_is_said_at_once() -> None:
    keeper = Keeper(replace(LINK, raised=DAY0)).live(DAY0, DAY0 + 5 * HOUR)
    assert [((at - DAY0) // MINUTE, kind) for at, _, kind in keeper.said] == [(0, "raised"), (240, "reminder")]


def test_a_link_that_comes_back_at_night_is_said_in_the_morning() -> None:
    evening = T0 - 5 * HOUR  # 22:10
    keeper = Keeper(replace(LINK, raised=evening)).live(evening, T0)
    keeper.change(2, cleared=T0)
    keeper.live(T0, MORNING + HOUR)
    assert [(at, kind) for at, _, kind in keeper.said] == [(evening, "raised")] and keeper.digests == [(MORNING, [2])]


def test_a_stuck_transmitter_wakes_once_and_not_once_for_each_rule_that_sees_it() -> None:
    duty = State(5, "duty", "transmitter", T0 + 3 * MINUTE, None, True, "Keyed.")
    unlike = State(6, "unlike-itself", "transmitter", T0 + 20 * MINUTE, None, True, "Unlike.")
    keeper = Keeper(STUCK, duty, unlike).live(T0, T0 + 40 * MINUTE)
    assert {number for _, number, _ in keeper.said} == {1}
    for number in (1, 5, 6):
        keeper.change(number, cleared=T0 + 40 * MINUTE)
    keeper.live(T0 + 40 * MINUTE, MORNING + HOUR)
    assert [(number, kind) for _, number, kind in keeper.said] == [(1, "raised"), (1, "reminder"), (1, "cleared")]


def test_what_was_covered_speaks_for_itself_when_it_outlasts_what_covered_it() -> None:
    duty = State(5, "duty", "transmitter", T0 + 3 * MINUTE, None, True, "Keyed.")
    keeper = Keeper(STUCK, duty).live(T0, T0 + 10 * MINUTE)
    keeper.change(1, cleared=T0 + 10 * MINUTE)
    keeper.live(T0 + 10 * MINUTE, T0 + 2 * HOUR)
    assert (
        T0 + 63 * MINUTE,
        5,
        "raised",
    ) in keeper.said  # asked again each half hour; the first one's afterglow ends at 40 min


def test_an_over_that_runs_on_is_never_covered() -> None:
    duty = State(5, "duty", "transmitter", T0, None, True, "Keyed.")
    keeper = Keeper(replace(STUCK, raised=T0 + 10 * MINUTE), duty).live(T0, T0 + 12 * MINUTE)
    assert [(number, kind) for _, number, kind in keeper.said] == [(5, "raised"), (1, "raised")]


def test_a_rating_that_nets_pass_is_a_line_in_the_morning_and_nothing_more() -> None:
    rating = State(7, "duty", "transmitter/rating", DAY0, DAY0 + HOUR, False, "Rated.")
    keeper = Keeper(rating).live(DAY0, MORNING + 30 * HOUR)
    assert keeper.said == [] and keeper.digests == [(MORNING + 24 * HOUR, [7])]


def test_what_was_over_long_before_it_was_seen_waits_for_the_morning() -> None:
    keeper = Keeper(replace(STUCK, raised=T0 - 3 * HOUR, cleared=T0 - 2 * HOUR)).live(T0, MORNING + HOUR)
    assert keeper.said == [] and keeper.digests == [(MORNING, [1])]


def test_one_that_was_over_as_it_was_raised_is_one_notice() -> None:
    keeper = Keeper(replace(STUCK, cleared=T0)).live(T0, MORNING)
    assert keeper.said == [(T0, 1, "raised")]


def test_a_notice_says_what_since_when_evidence_what_to_check_and_what_makes_it_safe() -> None:
    spoken, _ = speak([STUCK], T0 + MINUTE, LIMITS)
    (notice,) = notices_of(spoken, T0 + MINUTE, "QB0BFR", ZONE)
    assert notice.title == "QB0BFR: urgent: an over runs on (D-STAR)"
    for part in (
        "Seen: An over runs on",
        "Since: 03:10:00 on Wed 18 Nov 2026",
        "Evidence: A D-STAR over",
        "Check first:",
        "alerts ack 1",
    ):
        assert part in notice.body, part
    assert (
        "hardware time-out" in notice.body and "remote close-down" in notice.body and "competent persons" in notice.body
    )


def test_a_digest_names_each_thing_and_has_the_caution_where_one_is_about_the_transmitter() -> None:
    keeper = Keeper(LINK, replace(LINK, id=3, subject="mootnet", cleared=T0 + HOUR)).live(T0, MORNING)
    spoken, _ = speak(list(keeper.states.values()), MORNING, LIMITS)
    (notice,) = notices_of(spoken, MORNING, "QB0BFR", ZONE)
    assert notice.kind == "digest" and "fellnet" in notice.body and "mootnet" in notice.body
    assert NOTICE not in notice.body
    spoken = [Spoken("raised", one, True) for one in (LINK, STUCK)]
    (notice,) = notices_of(spoken, MORNING, "QB0BFR", ZONE)
    assert NOTICE in notice.body


def test_every_rule_has_its_words() -> None:
    from server.alerts.engine import RULES

    assert set(TITLES) == set(CHECKS) == set(RULES)
