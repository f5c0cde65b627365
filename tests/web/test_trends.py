"""Thirteen weeks as small lines: what is drawn, what is a gap, what is marked, and how much a page may weigh."""

import gzip
import re
from zoneinfo import ZoneInfo

from server.store.notes import Note
from server.web.definitions import ANCHORS
from server.web.source import Sums, WeekBefore
from server.web.week.trends import DRAWN, ESTIMATED, HEIGHT, PAD, WIDTH, trends
from shared.zones import SECOND
from tests.web.conftest import Opened
from tests.web.web_fakes import END, START, WEEK, FakeSource, empty_source, hostile_source

ZONE = ZoneInfo("Europe/London")
SEVEN = 604_800 * SECOND


def weeks(airtimes: list[float | None], **other: float) -> list[WeekBefore]:
    """Whole weeks up to the fakes' one, oldest first; None is a week that was not seen."""
    n = len(airtimes)
    return [
        WeekBefore(
            END - (n - at) * SEVEN,
            END - (n - at - 1) * SEVEN,
            0.0 if value is None else 1.0,
            {} if value is None else {"dmr": Sums(value, **other)},
        )
        for at, value in enumerate(airtimes)
    ]


def test_a_line_goes_from_nothing_at_the_bottom_to_the_highest_week_at_the_top() -> None:
    found = trends(weeks([0.0, 3_600.0, 1_800.0]), [], ZONE)
    assert found is not None
    (mode,) = found.modes
    airtime = mode.lines[0]
    heights = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", airtime.path)]
    assert heights == [HEIGHT - PAD, PAD, HEIGHT / 2]
    assert (airtime.last_y, airtime.last) == (HEIGHT / 2, "30\u00a0min")
    assert airtime.alt == "DMR, on the air, week by week: 0\u00a0s; 1\u00a0h; 30\u00a0min"


def test_a_week_that_was_not_seen_breaks_the_line_and_is_not_nothing() -> None:
    found = trends(weeks([60.0, 60.0, None, 60.0, None]), [], ZONE)
    assert found is not None
    airtime = found.modes[0].lines[0]
    assert airtime.path.count("M") == 2 and airtime.path.count("L") == 1
    assert (airtime.last_x, airtime.last) == (None, "not known")
    assert found.table.rows[2].cells == ("not known",)


def test_fewer_than_three_weeks_make_no_trend() -> None:
    assert trends(weeks([None, 60.0, 60.0, None]), [], ZONE) is None
    assert trends(weeks([60.0, 60.0, 60.0]), [], ZONE) is not None


def test_estimated_time_outs_are_drawn_as_such_and_only_where_none_are_counted() -> None:
    both = trends(weeks([60.0] * 3, timeouts=2.0, timeouts_estimated=5.0), [], ZONE)
    inferred = trends(weeks([60.0] * 3, timeouts_estimated=5.0), [], ZONE)
    assert both is not None and inferred is not None
    assert [line.last for line in both.modes[0].lines][2] == "2" and "estimated" not in both.table.rows[0].cells[0]
    assert (inferred.modes[0].lines[2].label.text, inferred.modes[0].lines[2].last) == ("Time-outs, estimated", "5")
    assert inferred.table.rows[0].cells[0].endswith("5 estimated")


def test_what_was_done_at_the_station_is_marked_where_it_was() -> None:
    notes = [
        Note(1, START - 40 * SEVEN, "site", "long ago"),
        Note(2, END - 3 * SEVEN, "feeder", "new feeder"),
        Note(3, END - SEVEN - SEVEN // 2, "timers", "hold of DMR 5 s"),
    ]
    found = trends(weeks([60.0, 60.0, 60.0]), notes, ZONE)
    assert found is not None
    assert found.marks == (PAD, WIDTH / 2)
    assert [note.partition(", ")[2] for note in found.notes] == ["feeder: new feeder", "timers: hold of DMR 5 s"]


def test_every_line_leads_to_the_definition_of_its_figure(open_pages: Opened) -> None:
    section = open_pages().get(f"/week/{WEEK}").text.partition('id="trends"')[2].partition("</section>")[0]
    assert section.count('class="trend"') == 3 * 6
    for figure, title, _, _ in DRAWN:
        assert section.count(f'/definitions#{ANCHORS[figure]}">{title}</a>') == 6, title
    assert ESTIMATED[0] in ANCHORS


def test_notes_come_as_text(open_pages: Opened) -> None:
    source = FakeSource(noted=[Note(1, START - SEVEN, "other", "<script>alert(1)</script>")])
    page = open_pages(source).get(f"/week/{WEEK}").text
    assert "&lt;script&gt;alert(1)" in page and "<script" not in page


def test_the_week_with_its_trends_is_within_20_kilobytes_on_the_wire(open_pages: Opened) -> None:
    for source in (FakeSource(), hostile_source()):
        assert len(gzip.compress(open_pages(source).get(f"/week/{WEEK}").content, 6)) < 20_000
    assert 'id="trends"' not in open_pages(empty_source()).get(f"/week/{WEEK}").text
