"""The Links page: what it says first, and what it says where little is known."""

import re

from server.telling.sentences import text_of
from server.web.frame import Frame
from server.web.links.view import LinksView, links_view
from server.web.shell import Links
from shared.zones import DAY, HOUR
from tests.web.conftest import Opened
from tests.web.link_fakes import FELL, QUIET
from tests.web.web_fakes import FIRST, HOSTILE, LAST, NOW, FakeSource, empty_source, hostile_source

ADDRESSES = Links("", {"style.css": "/s", "icon.svg": "/i"})


def view_of(source: FakeSource) -> LinksView:
    return links_view(source, NOW, Frame(ADDRESSES, source.station(), signed_in=False))


def test_a_link_that_is_down_comes_first() -> None:
    down = {FELL: [(FIRST, True), (LAST - 2 * HOUR, False)], QUIET: [(FIRST, True)]}
    view = view_of(FakeSource(told_links=down))
    assert text_of(view.headline) == "The link to fellnet, DMR is down, since Tue 24 Nov, 19:40."
    both = {FELL: down[FELL], QUIET: [(FIRST, True), (LAST - DAY, False)]}
    assert text_of(view_of(FakeSource(told_links=both)).headline) == (
        "2 of 2\u00a0links are down: mootnet, C4FM GreatMoot since Mon 23 Nov, 21:40; fellnet, DMR since Tue 24 Nov, "
        "19:40."
    )


def test_a_link_that_is_up_and_silent_comes_next() -> None:
    silent = FakeSource(told_links={FELL: [(FIRST, True)]}, quiet_since=LAST - 4 * DAY)
    view = view_of(silent)
    assert text_of(view.headline).startswith("The link to fellnet, DMR is up but silent: no over has come through it")
    assert [finding.level for finding in view.findings if finding.section == "silences"] == ["look"]
    (said,) = view.silences
    assert "and still is, as far as the log tells" in said and "comes about once a week" in said


def test_outages_and_flaps_are_told_apart_in_tables_and_charts() -> None:
    view = view_of(FakeSource())
    rows = {row.head.text: row.cells for row in view.availability.rows}
    assert rows["fellnet, DMR"][2:] == ("7\u00a0h 4\u00a0min", "1", "8", "7\u00a0h")
    assert rows["mootnet, C4FM GreatMoot"][1:] == ("100\u00a0%", "0\u00a0s", "0", "0", "–")
    assert view.charts[0].title == "ghyllnet" and [mark.text for mark in view.charts[1].flaps] == ["8"]
    assert len(view.outages.rows) == 2 and view.outages.rows[0].cells[1] == "not back yet"
    weeks = [row.cells for row in view.losses_table.rows]
    assert len(weeks) == 13 and sum("8\u00a0flaps" in cell for row in weeks for cell in row) == 1


def test_a_link_that_was_never_seen_up_is_not_known_and_not_zero() -> None:
    view = view_of(FakeSource())
    rows = {row.head.text: row.cells for row in view.availability.rows}
    brought = {row.head.text: row.cells for row in view.traffic.rows}
    assert rows["ghyllnet"][1] == "not known"
    assert brought["ghyllnet"] == ("not known",) * 5
    assert view.notes == (
        "The link to ghyllnet was never seen up: the log tells only that it was lost, so its availability and what it "
        "brings are not known.",
    )


def test_overs_that_are_not_told_apart_are_counted_by_mode_and_no_unlabelled_target_is_named() -> None:
    view = view_of(FakeSource())
    assert re.match(r"Of [\d,]+\u00a0overs that came over a link [\d,]+ are not told apart: they fit no", view.apart)
    assert {row.head.text for row in view.apart_table.rows} == {"D-STAR", "DMR"}  # DMR: while it was down
    assert {row.cells[0] for row in view.apart_table.rows} == {"other targets"}


def test_links_that_never_went_down_are_all_up() -> None:
    up = FakeSource(told_links={FELL: [(FIRST, True)], QUIET: [(FIRST, True)]})
    assert text_of(view_of(up).headline) == ("All 2\u00a0links are up; none of them was seen down in these weeks.")
    one = FakeSource(told_links={FELL: [(FIRST, True)]})
    assert text_of(view_of(one).headline) == ("The link to fellnet, DMR is up; it was not seen down in these weeks.")
    assert not view_of(one).outages.rows


def test_what_stands_out_of_many_links_is_a_sentence_a_kind() -> None:
    many = {(f"net-{number}", "dmr", f"{number}"): [(FIRST, True)] for number in range(12)}
    source = FakeSource(told_links=many, quiet_since=LAST - 9 * DAY)
    view = view_of(source)
    assert len(view.findings) <= 5
    (apart,) = {row.cells[1] for row in view.apart_table.rows}
    assert apart == "no link that was up"  # their targets fit none
    down = {key: [(FIRST, True), (LAST - DAY, False)] for key in many}
    said = text_of(view_of(FakeSource(told_links=down)).headline)
    assert said.startswith("12 of 12\u00a0links are down: ") and said.endswith("; and 9 more.")


def test_links_without_time_down_are_not_drawn_and_counted() -> None:
    view = view_of(FakeSource(told_links={FELL: [(FIRST, True), (LAST - DAY, False)], QUIET: [(FIRST, True)]}))
    assert [chart.title for chart in view.charts] == ["fellnet, DMR"]
    assert view.not_drawn == "1\u00a0link without time down is not drawn."


def test_where_the_log_names_no_link_the_page_says_what_would_bring_it(open_pages: Opened) -> None:
    page = open_pages(FakeSource(told_links={})).get("/links").text
    assert "No line of the log tells of a link" in page and "<code>link-up</code>" in page and "<section" not in page
    empty = open_pages(empty_source()).get("/links").text
    assert '<p class="headline">Nothing has been read yet' in empty and "<code>airtally ingest</code>" in empty


def test_names_from_the_log_stay_text(open_pages: Opened) -> None:
    page = open_pages(hostile_source()).get("/links").text
    assert HOSTILE not in page and "&lt;script&gt;" in page
    assert "\u202e" not in page and "U+202E" in page and "\0" not in page
    assert "\u2068" in page  # a name that is read from right to left stands by itself


def test_a_log_that_has_ended_tells_how_the_links_were_then() -> None:
    up = FakeSource(told_links={FELL: [(FIRST, True)]})
    down = FakeSource(told_links={FELL: [(FIRST, True), (LAST - 2 * HOUR, False)]})
    frame = Frame(ADDRESSES, up.station(), signed_in=False)
    later = LAST + 30 * DAY
    assert text_of(links_view(up, later, frame).headline).startswith(
        "The link to fellnet, DMR was up when the log ended, Tue 24 Nov, 21:40; "
    )
    assert text_of(links_view(down, later, frame).headline).startswith(
        "The link to fellnet, DMR was down when the log ended, Tue 24 Nov, 21:40, since Tue 24 Nov, 19:40"
    )
