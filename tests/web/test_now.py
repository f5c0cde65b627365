"""The first page: how it stands. No standard has these sentences; the rules they follow are those of
docs/definitions.md, Now.
"""

from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from server.intake.outdated import ReadAgain
from server.intake.overview import FileRead, LogRead
from server.service import Fault, Health
from server.telling.caution import CAUTION
from server.telling.moments import edges_words
from server.web.now.state import Condition, headline, is_watching, itself_stands, log_stands
from shared.zones import DAY, HOUR, SECOND
from tests.figures_like import changed
from tests.web.conftest import Opened
from tests.web.desk_fakes import STANDING, STUCK, FakeDesk
from tests.web.test_pages import Page
from tests.web.web_fakes import FIRST, LOGS, NOW, WEEK, ZONE, FakeSource, empty_source, nothing

IN_ORDER = "No alert is open, the log comes in, and airtally is at work."
GOOD = replace(LOGS[1], files=(FileRead("/var/log/host/links.log", 9_120),))
QUIET_DESK = FakeDesk(kept=(), replayed=(), failed=())
MINUTE = 60 * SECOND


def plain(source: FakeSource, open_pages: Opened) -> str:
    return " ".join(Page(open_pages(source).get("/").text.replace("</p>", " </p>")).text.replace("\xa0", " ").split())


def healthy(**changes: Any) -> FakeSource:
    return FakeSource(**{"logs": (GOOD,), "desk": QUIET_DESK, **changes})


def test_only_where_all_is_known_to_work_does_the_first_page_say_so(open_pages: Opened) -> None:
    assert IN_ORDER in plain(healthy(), open_pages)


def test_what_stands_raised_comes_first_with_its_since_its_check_and_the_caution(open_pages: Opened) -> None:
    stuck = replace(STUCK, cleared=None, raised=NOW - HOUR)
    text = plain(healthy(desk=FakeDesk(kept=(STANDING, stuck), replayed=(), failed=())), open_pages)
    assert "Look now: an over runs on (D-STAR), since Tue 24 Nov, 20:41, and 1 more alert is open." in text
    assert "1 h so far." in text and "Check first: Listen on the output" in text and "no safety device" in text
    assert "Take note: no more reminders" in text and IN_ORDER not in text


def test_since_is_when_it_began_everywhere_and_when_it_was_raised_is_said_as_such(open_pages: Opened) -> None:
    stuck = replace(STUCK, cleared=None, raised=NOW - HOUR, began=NOW - HOUR - 30 * MINUTE)
    text = plain(healthy(desk=FakeDesk(kept=(stuck,), replayed=(), failed=())), open_pages)
    assert "Look now: an over runs on (D-STAR), since Tue 24 Nov, 20:11." in text
    assert "Since Tue 24 Nov, 20:11: 1 h 30 min so far. Raised at Tue 24 Nov, 20:41." in text


def test_an_alert_whose_check_leads_to_the_antenna_has_the_caution_and_one_about_a_link_has_none(
    open_pages: Opened,
) -> None:
    silent = replace(STUCK, rule="gone-silent", subject="air", urgent=False, cleared=None, raised=NOW - HOUR)
    assert CAUTION in plain(healthy(desk=FakeDesk(kept=(silent,), replayed=(), failed=())), open_pages)
    assert CAUTION not in plain(healthy(desk=FakeDesk(kept=(STANDING,), replayed=(), failed=())), open_pages)


def test_what_followed_from_an_over_that_runs_on_is_told_with_it_and_not_beside_it(open_pages: Opened) -> None:
    stuck = replace(STUCK, cleared=None, raised=NOW - HOUR)
    keyed = replace(STUCK, id=9, rule="duty", subject="transmitter", cleared=None, raised=NOW - HOUR + 3 * MINUTE)
    text = plain(healthy(desk=FakeDesk(kept=(stuck, keyed), replayed=(), failed=())), open_pages)
    assert "With it: the transmitter is keyed too much, from Tue 24 Nov, 20:44." in text
    assert text.count("Check first:") == 1


def test_a_log_that_is_late_by_the_settings_is_said_first(open_pages: Opened) -> None:
    text = plain(healthy(logs=(replace(GOOD, last_us=NOW - HOUR, late_after_s=900.0),)), open_pages)
    assert "1 log needs a look. Whether anything else is wrong is not known." in text
    assert "Last line: 1 h ago, Tue 24 Nov, 20:41." in text and "It is late: 15 min without a line" in text


def test_a_dead_host_is_no_quiet_evening(open_pages: Opened) -> None:
    text = plain(healthy(span=(FIRST, NOW - 3 * DAY), logs=(replace(GOOD, last_us=NOW - 3 * DAY),)), open_pages)
    assert "1 log needs a look." in text and "No line has come for more than a day." in text and IN_ORDER not in text


def test_a_worker_in_trouble_is_said_in_its_own_words(open_pages: Opened) -> None:
    faults = (Fault("watch", "Asking the alert rules fails, and is tried again.", "disk <full>"),)
    text = plain(healthy(faults=faults), open_pages)
    assert "airtally itself needs a look. Whether anything else is wrong is not known." in text
    assert "Asking the alert rules fails, and is tried again. disk <full>" in text


def test_what_kept_a_log_from_being_read_is_said_as_text(open_pages: Opened) -> None:
    text = plain(healthy(logs=(replace(GOOD, troubles=("/x/<b>.log: Permission denied.",)),)), open_pages)
    assert "It could not be read at the last pass. /x/<b>.log: Permission denied." in text and IN_ORDER not in text


def test_lines_read_with_a_dialect_that_has_changed_since_are_told(open_pages: Opened) -> None:
    again = ReadAgain(
        "links.log", 24_049, "dialect", "24,049 lines were read otherwise; `airtally ingest --again` reads them again."
    )
    text = plain(healthy(logs=(replace(GOOD, again=again),)), open_pages)
    assert "24,049 lines were read otherwise" in text and "1 log needs a look." in text and IN_ORDER not in text


def test_an_empty_store_says_what_to_do_next(open_pages: Opened) -> None:
    text = plain(empty_source(), open_pages)
    assert "Nothing has been read yet" in text and "airtally init" in text and "airtally demo" in text
    assert "No alert is open" not in text


def test_a_demo_says_that_its_clock_stands_still_and_that_nothing_is_watched(open_pages: Opened) -> None:
    desk = FakeDesk(kept=(), replayed=(replace(STUCK, id=0),), failed=(), watched=None)
    text = plain(healthy(still=True, desk=desk), open_pages)
    assert "This is a demo: its clock stands still, and nothing is watched." in text
    assert (
        "found in the log afterwards; no notices were sent" in text
        and "An over runs on (D-STAR) Wed 18 Nov, 03:13, for 2 h 57 min." in text
    )
    assert "set notify" not in text


def test_eight_like_incidents_in_a_row_are_one_row_with_eight_dates(open_pages: Opened) -> None:
    eight = [
        replace(STANDING, id=n, raised=NOW - n * 12 * HOUR, cleared=NOW - n * 12 * HOUR + n * MINUTE)
        for n in range(1, 9)
    ]
    text = plain(healthy(desk=FakeDesk(kept=eight, replayed=(), failed=())), open_pages)
    assert "8 times: Tue 24 Nov, 09:41; Mon 23 Nov, 21:41;" in text and "for 1 min to 8 min." in text
    assert text.count("A link is down (fellnet)") == 1


def test_the_last_whole_week_and_the_one_that_runs_are_told_with_a_link(open_pages: Opened) -> None:
    page = open_pages(healthy()).get("/").text
    assert (
        f'href="/week/{WEEK}"' in page
        and 'href="/week/2026-W48"' in page
        and "So far this week" in page.replace("\xa0", " ")
    )


def test_nobody_is_named_on_the_first_page(open_pages: Opened) -> None:
    page = open_pages(FakeSource()).get("/").text
    assert "QA1" not in page and "<script" not in page


logs = st.builds(
    lambda last, unread, late, trouble, lines: replace(
        GOOD,
        lines=lines,
        lately=(lines, round(unread * lines)),
        last_us=None if not lines else NOW - last,
        late_after_s=late,
        files=(FileRead("/var/log/x", lines, trouble),),
    ),
    st.integers(-2 * HOUR, 3 * DAY),
    st.sampled_from([0.0, 0.005, 0.2, 1.0]),
    st.sampled_from([None, 900.0]),
    st.sampled_from([None, "It ends early."]),
    st.sampled_from([0, 5_000]),
)


@given(
    st.lists(logs, max_size=3),
    st.lists(st.sampled_from([STUCK, STANDING]), max_size=2),
    st.lists(st.sampled_from(["intake", "watch", "outbox", "store", "report"]), max_size=2),
    st.sampled_from([None, 0, HOUR]),
    st.booleans(),
    st.booleans(),
)  # fmt: skip
def test_the_first_sentence_never_says_that_all_is_in_order_while_anything_is_not(
    found: list[LogRead], raised: list[Any], parts: list[str], watch_ago: int | None, notices: bool, nothing_read: bool
) -> None:
    health = Health(tuple(Fault(part, f"{part} fails.") for part in parts))
    desk = FakeDesk(kept=[replace(one, cleared=None) for one in raised], replayed=())
    lately = replace(desk.lately(NOW - DAY, NOW), watched=None if watch_ago is None else (FIRST, NOW - watch_ago))
    condition = Condition(
        nothing_read, False, lately.standing, [log_stands(log, NOW, ZONE) for log in found],
        itself_stands(health, lately, notices, 0, NOW), is_watching(health, lately, NOW),
    )  # fmt: skip
    good = all(
        log.lines
        and log.last_us is not None
        and -300 * SECOND <= NOW - log.last_us <= (log.late_after_s or 6 * 3600) * SECOND
        and log.lately[1] <= 0.01 * log.lately[0]
        and log.files[0].trouble is None
        for log in found
    )
    all_well = bool(good and found and not raised and not parts and watch_ago == 0 and notices and not nothing_read)
    assert (headline(condition, ZONE) == IN_ORDER) == all_well
    if "No alert is open" in headline(condition, ZONE):
        assert not raised and condition.watching and all(log.level != "look" for log in condition.logs)


def test_the_time_since_the_last_line_of_a_running_week_is_said_not_to_be_known() -> None:
    start, end, last = NOW - 2 * DAY, NOW, NOW - HOUR
    said = edges_words((FIRST, last), start, end, ZONE, over=False)
    assert said.replace("\xa0", " ") == "The last line is of Tue 24 Nov, 20:41: what happened since then is not known."
    assert edges_words((FIRST, NOW - 4 * MINUTE), start, end, ZONE, over=False) == ""
    assert (
        edges_words((FIRST, last), start, end, ZONE, over=True) == ""
    )  # six hours at a week's end may be a quiet night


def test_a_log_whose_latest_lines_are_unread_is_not_fine_however_long_it_was_read_well(open_pages: Opened) -> None:
    broken = replace(GOOD, unread=60, lately=(90_000, 60), latest=(65, 60))
    source = healthy(logs=(broken,))
    text = plain(source, open_pages)
    assert "60 of its latest 65 lines could not be read." in text and IN_ORDER not in text
    intake = open_pages(source).get("/intake").text.replace("\xa0", " ")
    assert "60 of the latest 65 lines could not be read" in intake and "Nearly all" not in intake


def test_lately_says_what_part_of_the_seven_days_had_a_log(open_pages: Opened) -> None:
    days = (NOW - 7 * DAY, NOW)
    unwatched = FakeDesk(kept=(), replayed=(), failed=(), watched=None)
    text = plain(healthy(desk=unwatched, week=nothing(*days)), open_pages)
    assert "No log tells of the last seven days, so nothing can be found in them." in text
    half = changed(nothing(*days), window={"blind_s": 3.5 * 86_400})
    text = plain(healthy(desk=unwatched, week=half), open_pages)
    assert "The rules find nothing in the log of the last seven days. Only 50 % of the seven days had a log." in text
