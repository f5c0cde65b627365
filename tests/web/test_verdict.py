"""What the keeper reads first. No standard has these sentences; the rules they follow are those of
docs/definitions.md.
"""

from dataclasses import replace
from typing import Any

from server.analytics.airtime import Fullest
from server.analytics.figure_types import Figures, ShutOutPair
from server.analytics.overruns import Overrun
from server.telling.caution import CAUTION
from server.telling.sentences import Verdict, text_of
from server.telling.verdict import WeekFacts, verdict
from server.web.definitions import ANCHORS, definitions_file, render
from server.web.source import WeekBefore
from server.web.week.view import WeekView, week_view
from server.web.weeks import week_of
from shared.zones import DAY, HOUR, SECOND
from tests.figures_like import changed
from tests.web.web_fakes import (
    END,
    LAST,
    START,
    USUAL,
    ZONE,
    FakeSource,
    at,
    figures_of_a_week,
    nothing,
    silent,
    weeks_like,
)


def said(source: FakeSource, now: int | None = None) -> WeekView:
    return week_view(source, week_of(START, ZONE), now or source.now(), source.frame())


def sentences(it: Verdict) -> list[str]:
    return [text_of(it.headline), *(text_of(finding.parts) for finding in it.findings)]


def plain(source: FakeSource) -> str:
    return " ".join(sentences(said(source).verdict)).replace("\xa0", " ")


def week_with(**changes: Any) -> Figures:
    return changed(figures_of_a_week(), **changes)


AS_EVER = {"dstar": 38_420.0, "dmr": 52_150.0, "c4fm": 18_600.0, "m17": 2_140.0, "fm": 260.0}


def test_a_week_like_the_others_is_called_normal() -> None:
    text = plain(FakeSource(before=weeks_like(AS_EVER)))
    assert text.startswith("A normal week: 31 h on the air, 18 % of the time.")
    assert "No mode was far from its usual airtime." in text


def test_a_mode_that_grew_is_named_with_its_usual() -> None:
    text = plain(FakeSource(before=weeks_like(USUAL)))
    assert text.startswith("Normal on the whole: 31 h on the air, 18 % of the time.")
    assert "C4FM was up by half: 5 h 10 min against a usual 3 h 23 min." in text


def test_a_mode_that_fell_silent_is_named_though_the_week_has_no_figure_of_it() -> None:
    assert "NXDN was silent, against a usual 21 min." in plain(FakeSource())


def test_a_mode_that_is_new_is_named() -> None:
    usual = {mode: value for mode, value in AS_EVER.items() if mode != "m17"}
    assert "M17 was on the air for 36 min, against usually none." in plain(FakeSource(before=weeks_like(usual)))


def test_five_weeks_are_too_few_to_call_anything_unusual() -> None:
    text = plain(FakeSource(before=weeks_like(USUAL, n=5)))
    assert text.startswith("31 h on the air, 18 % of the time.")
    assert "Too few weeks were seen before this one to call anything far from the usual." in text
    assert "up by" not in text


def test_weeks_hardly_seen_are_not_compared_with() -> None:
    before = [replace(week, seen=0.4) for week in weeks_like(USUAL)]
    assert "Too few weeks were seen" in plain(FakeSource(before=before))


def test_a_busier_week_on_the_whole_says_so_first() -> None:
    third = {mode: value / 3 for mode, value in AS_EVER.items()}
    assert plain(FakeSource(before=weeks_like(third))).startswith("A busier week than usual: 31 h on the air")


def test_shut_outs_tell_who_stood_behind_whom() -> None:
    text = plain(FakeSource())
    assert (
        "14 calls were refused because another mode held the repeater; most often DMR callers while D-STAR held it (9)."
        in text
    )


def test_far_more_shut_outs_than_usual_are_to_be_looked_at() -> None:
    pairs = (ShutOutPair("dstar", "dmr", 90, 31.4),)
    view = said(FakeSource(week=week_with(shut_outs=pairs)))
    finding = next(finding for finding in view.verdict.findings if finding.section == "shut-outs")
    assert finding.level == "look"
    assert text_of(finding.parts).endswith(": DMR callers while D-STAR held it. A usual week has 12.")


def test_a_week_without_a_shut_out_or_time_out_says_that_these_are_fine() -> None:
    figures = week_with(shut_outs=(), **{mode: {"near_timeouts": 0} for mode in figures_of_a_week().modes})
    text = plain(FakeSource(week=figures))
    assert "Nobody was shut out by another mode." in text
    assert "No over ran into the time-out of 3 min, and none came near." in text


def test_counted_and_estimated_time_outs_are_never_added_up() -> None:
    figures = week_with(dmr={"timeouts": 2, "timeouts_estimated": 3})
    text = plain(FakeSource(week=figures))
    assert (
        "2 overs ran into the time-out of 3 min; 3 more (estimated) ran into it by their length; 5 came near it."
        in text
    )
    assert "5 overs" not in text


def test_an_over_far_beyond_the_time_out_comes_first_with_the_caution() -> None:
    source = FakeSource(longest=Overrun("dstar", START + 94_000 * SECOND, 2_460.0))
    first = said(source).verdict.findings[0]
    assert (
        text_of(first.parts)
        .replace("\xa0", " ")
        .startswith("One D-STAR over ran for 41 min, from Tue 17 Nov, 02:06, far beyond")
    )
    assert first.level == "look" and said(source).verdict.caution == CAUTION
    assert plain(source).startswith("Something to look at: 31 h on the air")


def test_an_over_just_beyond_the_time_out_is_no_stuck_transmitter() -> None:
    assert "far beyond" not in plain(FakeSource(longest=Overrun("dstar", START, 183.0)))


def test_a_transmitter_keyed_almost_all_of_an_hour_is_to_be_looked_at_with_the_caution() -> None:
    hour = Fullest(0.996, at("2026-11-17 02:10 03:10"))
    view = said(FakeSource(week=week_with(duty={"sixty": hour})))
    finding = next(finding for finding in view.verdict.findings if finding.section == "duty")
    assert "keyed for over 99 % of 60 min (Tue 17 Nov, 02:10 to 03:10)" in text_of(finding.parts).replace("\xa0", " ")
    assert finding.level == "look"
    assert "no safety device" in view.verdict.caution and "licence" in view.verdict.caution


def test_a_busy_net_is_no_stuck_transmitter() -> None:
    hour = Fullest(0.975, at("2026-11-17 20:05 21:05"))
    verdict_of_net = said(FakeSource(week=week_with(duty={"sixty": hour}))).verdict
    assert not [finding for finding in verdict_of_net.findings if finding.about_duty] and not verdict_of_net.caution


def test_an_over_that_explains_the_duty_is_told_once() -> None:
    hour = Fullest(1.0, at("2026-11-17 02:10 03:10"))
    stuck = FakeSource(week=week_with(duty={"sixty": hour}), longest=Overrun("dstar", START, 13_000.0))
    assert len([finding for finding in said(stuck).verdict.findings if finding.about_duty]) == 1


def test_a_mode_that_moved_by_minutes_only_does_not_make_the_week_unusual() -> None:
    text = plain(FakeSource(before=weeks_like({**AS_EVER, "fm": 30.0})))
    assert text.startswith("A normal week: ") and "Unusual, but only by minutes: FM." in text


def test_unread_lines_above_one_in_a_hundred_are_to_be_looked_at() -> None:
    assert "could not be read" not in plain(FakeSource())
    text = plain(FakeSource(week=week_with(intake={"unread": 1_204})))
    assert "2.5 % of the log lines (1,204) could not be read" in text


def test_a_week_partly_blind_says_how_much_was_not_seen() -> None:
    text = plain(FakeSource(week=week_with(window={"blind_s": 31 * 3600.0})))
    assert "For 31 h (18 %) there was no log: whatever happened then is not in these figures." in text


def test_a_week_that_the_log_covers_in_part_says_from_when_to_when() -> None:
    source = FakeSource()
    source.span = (START + 2 * DAY + 14 * HOUR, END + 2 * DAY)
    assert "14:00: the rest counts as blind time and is left out of the percentages." in plain(source)
    source.span = (START - 90 * DAY, END - 30 * HOUR)
    assert "The log stops on Sat 21 Nov, 18:00:" in plain(source)
    source.span = (START + 2 * HOUR, END - 2 * HOUR)
    assert "The log" not in plain(source)


def test_a_week_more_than_half_blind_is_compared_with_nothing() -> None:
    view = said(FakeSource(week=week_with(window={"blind_s": 100 * 3600.0})))
    assert all(line.change == "nothing yet to compare with" and not line.notable for line in view.modes)


def test_a_week_without_a_line_is_not_known_rather_than_silent() -> None:
    text = plain(FakeSource(week=nothing(START, END)))
    assert text.startswith("Nothing is known about this week: no log has a line from it.")
    assert "normal" not in text


def test_a_week_with_lines_and_nobody_on_the_air_is_silent() -> None:
    figures = changed(silent(START, END), intake={"lines": 2_000, "understood": 2_000})
    assert plain(FakeSource(week=figures)).startswith("Nobody was on the air this week")


def test_a_week_wholly_blind_is_not_called_silent() -> None:
    figures = changed(nothing(START, END), intake={"lines": 2, "understood": 2})
    text = plain(FakeSource(week=figures))
    assert text.startswith("Hardly anything is known about this week: there was no log.") and "Nobody" not in text


def test_an_empty_store_says_what_to_do_next() -> None:
    text = plain(FakeSource(span=None, week=nothing(START, END), before=()))
    assert text.startswith("Nothing has been read yet") and "`airtally ingest`" in text


def test_a_week_that_is_not_over_is_compared_with_nothing_yet() -> None:
    view = week_view(FakeSource(), week_of(LAST, ZONE), LAST, FakeSource().frame())
    assert text_of(view.verdict.headline).startswith("So far this week: ")
    assert {line.change for line in view.modes} == {"compared when the week is over"}
    assert view.later is None


def test_overs_without_an_end_are_told_when_they_are_many() -> None:
    assert "no end in the log" not in plain(FakeSource())
    assert "400 overs have no end in the log" in plain(FakeSource(week=week_with(channel={"unfinished": 400})))


def test_every_figure_in_a_sentence_links_to_a_definition_that_exists() -> None:
    anchors = render(definitions_file().read_text(encoding="utf-8")).anchors
    figures = week_with(
        window={"blind_s": 40 * 3600.0},
        intake={"unread": 2_000},
        channel={"unfinished": 900},
        dmr={"timeouts": 2, "timeouts_estimated": 3},
        duty={"sixty": Fullest(0.996, at("2026-11-17 02:10 03:10"))},
    )
    both = (WeekFacts(figures, ZONE, 180.0), WeekFacts(figures, ZONE, 180.0, longest=Overrun(None, START, 9_000)))
    findings = [finding for facts in both for finding in verdict(facts).findings]
    linked = {ANCHORS[part.figure] for finding in findings for part in finding.parts if part.figure}
    assert len(linked) >= 9 and linked <= anchors


def test_overs_without_a_mode_are_told_before_any_share_of_a_mode() -> None:
    assert "no mode that was read" not in plain(FakeSource())
    text = plain(FakeSource(week=week_with(channel={"overs": 2 * 6_971})))
    assert "50 % of the overs (6,971) have no mode that was read" in text


def test_weeks_before_are_asked_for_as_many_as_the_definition_needs() -> None:
    asked = []

    class Asking(FakeSource):
        def weeks_before(self, start_us: int, n: int) -> list[WeekBefore]:
            asked.append((start_us, n))
            return []

    said(Asking())
    assert asked == [(START, 13), (END, 13)]  # docs/definitions.md, Comparison; and the trends


def test_overs_without_an_end_are_not_nobody_on_the_air() -> None:
    figures = changed(
        silent(START, END), intake={"lines": 240, "understood": 240}, channel={"unfinished": 240, "pages": 3}
    )
    text = plain(FakeSource(week=figures))
    assert text.startswith(
        "How long the repeater was on the air this week is not known: the log tells of 240 overs without an end in the "
        "log and 3 pages without a length."
    )
    assert "240 overs have no end in the log" in text and "Nobody" not in text


def test_two_weeks_before_are_too_few_and_that_is_not_fine() -> None:
    view = said(FakeSource(before=weeks_like(USUAL, 2)))
    (few,) = [one for one in view.verdict.findings if "Too few weeks" in text_of(one.parts)]
    assert few.level == "note"


def test_none_is_no_good_news_where_much_was_not_seen_or_not_read() -> None:
    for part in ({"window": {"blind_s": 300_000.0}}, {"intake": {"lines": 100, "unread": 90}}):
        figures = changed(week_with(shut_outs=()), **part)
        view = said(FakeSource(week=figures))
        (none,) = [one for one in view.verdict.findings if one.section == "shut-outs"]
        assert none.level == "note" and "as far as the log was" in text_of(none.parts)


def test_nothing_is_most_often_where_two_did_alike_or_the_log_does_not_tell() -> None:
    tie = (ShutOutPair("dstar", "fm", 1, 3.0), ShutOutPair("fm", "dmr", 1, 3.0), ShutOutPair("dmr", "dstar", 1, 3.0))
    assert "3 calls were refused because another mode held the repeater." in plain(
        FakeSource(week=week_with(shut_outs=tie))
    )
    unknown = (ShutOutPair(None, "dmr", 9, None), ShutOutPair("dstar", "fm", 2, 3.0))
    text = plain(FakeSource(week=week_with(shut_outs=unknown)))
    assert (
        "of those whose holder the log tells, most often FM callers while D-STAR held it (2)" in text
        and "unknown mode" not in text
    )


def test_the_number_of_pages_stands_among_the_figures() -> None:
    view = said(FakeSource(week=week_with(channel={"pages": 17})))
    assert ("Pages", "17") in [(fact.label.text, fact.value) for fact in view.channel]
