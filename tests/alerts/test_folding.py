"""One cause, one incident in the list; like ones in a row, one row (definitions.md, Now: with it, times; no source
outside of it).
"""

from dataclasses import replace
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from server.alerts.folding import folded, in_rows
from server.alerts.incident import Incident
from server.telling.incidents import dates_words, followed_words, lasted_words, subject_words, title_words
from shared.zones import HOUR, SECOND, instant

ZONE = ZoneInfo("Europe/London")
MINUTE = 60 * SECOND
T0 = instant("2026-11-18T03:13", ZONE)
BEFORE = 190 * SECOND
OVER = Incident("over-runs-on", "dstar", T0, T0 + 3 * HOUR, True, "")
DUTY = Incident("duty", "transmitter", T0 + 3 * MINUTE, T0 + 3 * HOUR, True, "")
UNLIKE = Incident("unlike-itself", "transmitter", T0 + 20 * MINUTE, T0 + 4 * HOUR, True, "")


def test_duty_and_unlike_itself_go_into_the_over_that_runs_on() -> None:
    (one,) = folded([UNLIKE, OVER, DUTY], BEFORE)
    assert one.lead == OVER and one.followed == (DUTY, UNLIKE)
    assert (
        followed_words(one.followed, ZONE)
        == "With it: the transmitter is keyed too much, from Wed 18 Nov, 03:16; keyed far more than usual, from Wed 18"
        " Nov, 03:33."
    )


def test_duty_that_a_long_time_out_lets_come_first_goes_into_it_all_the_same() -> None:
    (one,) = folded([replace(DUTY, raised=T0 - MINUTE), OVER], BEFORE)
    assert one.lead == OVER


def silent(subject: str, began: int, after: int, cleared: int | None = None) -> Incident:
    return Incident("gone-silent", subject, began + after, cleared, False, "", began)


def test_the_silences_of_one_dead_host_are_one_incident() -> None:
    """Three logs and the air side that went silent within 20 minutes stood as four alerts."""
    logs = [silent(f"log {name}.log", T0 + n * 10 * MINUTE, HOUR) for n, name in enumerate("abc")]
    air, stop = silent("air", T0 + MINUTE, 7 * HOUR), silent("host a.log", T0 + 2 * MINUTE, 10 * MINUTE)
    (one,) = folded([*logs, air], BEFORE)
    assert one.lead == logs[0] and one.followed == (logs[1], logs[2], air)
    (one,) = folded([*logs, air, stop], BEFORE)
    assert one.lead == stop and len(one.followed) == 4


def test_what_is_silent_still_leads_and_another_hour_is_another_incident() -> None:
    back, still = silent("log a.log", T0, HOUR, T0 + 2 * HOUR), silent("air", T0, 7 * HOUR)
    (one,) = folded([back, still], BEFORE)
    assert one.lead == still and one.followed == (back,)
    assert len(folded([back, silent("log b.log", T0 + 61 * MINUTE, HOUR)], BEFORE)) == 2


def test_what_came_by_itself_stands_by_itself() -> None:
    earlier, later = replace(DUTY, raised=T0 - HOUR), replace(UNLIKE, raised=T0 + 5 * HOUR)
    chatter = Incident("chatter", "air", T0 + MINUTE, None, False, "")
    assert [one.lead for one in folded([earlier, OVER, later, chatter], BEFORE)] == [earlier, OVER, chatter, later]


def test_eight_in_a_row_are_one_row_with_eight_dates() -> None:
    eight = [
        Incident("link-down", "moorland", T0 + n * 5 * HOUR, T0 + n * 5 * HOUR + (n + 1) * MINUTE, False, "")
        for n in range(8)
    ]
    (row,) = in_rows(folded(eight, BEFORE))
    said = dates_words([one.lead for one in row], ZONE)
    assert said.startswith("8 times: Wed 18 Nov, 03:13; Wed 18 Nov, 08:13;") and said.count(";") == 7
    assert lasted_words([one.lead for one in row]).replace("\xa0", " ") == "for 1 min to 8 min"


def test_a_row_ends_where_another_kind_stands_between_or_one_goes_on() -> None:
    down = [
        Incident("link-down", "moorland", T0 + n * 5 * HOUR, T0 + n * 5 * HOUR + MINUTE, False, "") for n in range(3)
    ]
    other = Incident("chatter", "air", T0 + 7 * HOUR, T0 + 8 * HOUR, False, "")
    assert [len(row) for row in in_rows(folded([*down, other], BEFORE))] == [2, 1, 1]
    assert [len(row) for row in in_rows(folded([*down[:2], replace(down[2], cleared=None)], BEFORE))] == [2, 1]


def test_the_rating_has_a_title_of_its_own() -> None:
    assert title_words("duty", "transmitter/rating") == "The transmitter is keyed beyond its rating"
    assert (
        subject_words("transmitter/rating") == ""
        and subject_words("dmr/2") == "DMR, slot 2"
        and subject_words("moorland") == "moorland"
    )


one = st.builds(
    lambda rule, at, long: Incident(
        rule, "x", T0 + at * MINUTE, None if long is None else T0 + (at + long) * MINUTE, True, ""
    ),
    st.sampled_from(["over-runs-on", "duty", "unlike-itself", "link-down"]),
    st.integers(0, 600),
    st.none() | st.integers(0, 300),
)


@given(st.lists(one, max_size=12))
def test_every_incident_is_told_once(found: list[Incident]) -> None:
    rows = in_rows(folded(found, BEFORE))
    told = [it for row in rows for one in row for it in (one.lead, *one.followed)]
    assert sorted(told, key=repr) == sorted(found, key=repr)
