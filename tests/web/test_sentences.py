"""Every sentence of 200 random weeks, read against the figures of its page. No source outside of this project:
docs/definitions.md.
"""

import re
from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Any

import pytest

from server.analytics.compare import CHANNEL
from server.report import choice as month_sentences
from server.report.sheet import sheet_of
from server.telling import words
from server.telling.changes import change_line
from server.telling.channel import channel_facts
from server.telling.mode_tables import mode_table
from server.telling.moments import instant_words, stretch_words
from server.telling.sentences import text_of
from server.telling.verdict import verdict
from shared.events import MODE_LABELS
from shared.timers import Timers
from tests.web.month_fakes import month_like
from tests.web.random_weeks import RandomWeek, week
from tests.web.web_fakes import ZONE, evenings

WEEKS = 200
NOUNS = "over|call|day|week|station|line|log|attempt|time-out|conversation|mode|incident|month"
JUDGED = (
    "ormal",
    "usual",
    "quieter",
    "busier",
    "Nobody",
    "No over",
    "none",
    "in order",
    "out of order",
)
QUANTITY = re.compile(r"(?:under |over )?\d[\d,.]*\d?(?: (?:(?:min|h|s|erlang)\b|%))?(?: \d+ (?:min|s)\b)?")


def sentences_of(one: RandomWeek) -> list[str]:
    told = verdict(one.facts)
    return [
        text.replace(words.GAP, " ")
        for text in (text_of(told.headline), *(text_of(finding.parts) for finding in told.findings))
    ]


def leaves(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        for part in value.values():
            yield from leaves(part)
    elif isinstance(value, list):
        for part in value:
            yield from leaves(part)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value)


def spelt(number: float) -> set[str]:
    """All the ways in which a page may write one figure."""
    said = {
        words.whole_number(number),
        words.duration(number),
        words.about(number),
        words.erlang(number),
        words.percent(number),
    }
    return {text.replace(words.GAP, " ") for text in said}


def known_numbers(one: RandomWeek) -> set[str]:
    """What the page's figures, sums of one figure over modes, and comparisons may be written as."""
    figures, facts = one.facts.figures, one.facts
    numbers = [*leaves(figures.as_json()), facts.timeout_s, 1 - one.seen]
    pairs, modes = figures.shut_outs or (), figures.modes.values()
    numbers.append(sum(pair.attempts for pair in pairs))
    counts = [{name: n for name, n in asdict(its).items() if isinstance(n, int)} for its in modes]
    numbers += [sum(its.get(name, 0) for its in counts) for name in {name for its in counts for name in its}]
    for it in (*facts.airtime.values(), facts.shut_outs):
        numbers += [it.now, *(value for value in (it.usual, it.last) if value is not None)]
    if figures.intake.lines:
        numbers.append(figures.intake.unread / figures.intake.lines)
    if facts.longest:
        numbers.append(facts.longest.seconds)
    return {text for number in numbers for text in spelt(number)} | {"6 min", "30 min", "60 min"}


def without_instants_and_names(text: str, one: RandomWeek) -> str:
    """The sentence without modes' names, without words for a change, and without the instants that the page knows."""
    known = []
    if one.facts.longest:
        known.append(instant_words(one.facts.longest.start_us, one.facts.zone))
    known += [stretch_words(*fullest.span, one.facts.zone) for _, fullest in one.facts.figures.duty if fullest.span]
    for instant in known:
        text = text.replace(instant.replace(words.GAP, " "), "")
    for label in MODE_LABELS.values():
        text = text.replace(label, "")
    return re.sub(r"\d+(\.\d)? times the usual", "", text)


@pytest.mark.parametrize("seed", range(WEEKS))
def test_every_number_in_a_sentence_is_a_figure_of_its_page(seed: int) -> None:
    one = week(seed)
    known = known_numbers(one)
    for text in sentences_of(one):
        for said in QUANTITY.findall(without_instants_and_names(text, one)):
            assert said.rstrip(".,") in known, (said, text)


def agrees(text: str) -> None:
    """Singular where one is counted, plural elsewhere, and the verb with it."""
    for number, _, plural in re.findall(rf"(?<![\d.,])(\d[\d,]*) (?:\w+ )?({NOUNS})(s?)\b", text):
        assert (int(number.replace(",", "")) == 1) == (plural == ""), text
    assert not re.search(rf"(?<![\d.,])1 (?:{NOUNS}) (?:were|have|are|need)\b", text), text
    assert not re.search(rf"\d (?:{NOUNS})s (?:was|has|is|needs)\b", text), text
    assert not re.search(r"s (?:were|have|are)\b.* and (?:adds|was|has)\b", text), text


@pytest.mark.parametrize("seed", range(WEEKS))
def test_sentences_agree_with_number(seed: int) -> None:
    one = week(seed)
    for text in sentences_of(one):
        agrees(without_instants_and_names(text, one))
        assert "None" not in text and "nan" not in text and text.endswith("."), text


@pytest.mark.parametrize("seed", range(WEEKS))
def test_nothing_is_judged_that_was_not_seen(seed: int) -> None:
    one = week(seed)
    if one.seen:
        return
    figures = one.facts.figures
    for text in sentences_of(one):
        counted = text.replace("none of them could be understood", "")  # of lines that were read, and so were seen
        assert not any(word in counted for word in JUDGED), text
    assert all(fact.value == words.UNKNOWN for fact in channel_facts(figures) if fact.label.text != "Blind time"), (
        channel_facts(figures)
    )
    assert mode_table(figures, one.facts.airtime).rows == () or not figures.modes


@pytest.mark.parametrize("seed", range(WEEKS))
def test_a_week_hardly_seen_is_compared_with_nothing(seed: int) -> None:
    one = week(seed)
    if one.seen >= 0.5:
        return
    for it in one.facts.airtime.values():
        assert "usual" not in change_line(it, over=not one.facts.so_far)
    text = " ".join(sentences_of(one))
    assert "A normal week" not in text and "No mode was far" not in text, text


@pytest.mark.parametrize("seed", range(WEEKS))
def test_a_months_sentences_agree_with_its_figures_and_with_number(seed: int) -> None:
    one = week(seed)
    month = month_like(
        "2026-11",
        one.facts.figures,
        evenings(7),
        ZONE,
        Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0),
        "QB0BFR",
        "",
        one.seen > 0,
    )
    told = [month_sentences.headline(month), *month_sentences.findings(month)]
    known = known_numbers(one) | {words.whole_number(180.0)} | spelt(180.0)
    for change in month.changes.values():
        known |= spelt(change.usual or 0.0)
    channel = one.facts.figures.channel.airtime_s
    known |= {
        text
        for its in one.facts.figures.modes.values()
        if channel and its.airtime_s is not None
        for text in spelt(its.airtime_s / channel)
    }
    known |= {f"{share:.1f} %" for share in (98.7, 98.8)} | {one.facts.figures.busy_hour.start or ""}
    for sentence in told:
        text = text_of(sentence).replace(words.GAP, " ")
        agrees(without_instants_and_names(text, one))
        assert "None" not in text and "nan" not in text, text
        bare = without_instants_and_names(text, one).replace("November 2026", "")
        for said in QUANTITY.findall(re.sub(r"[+−]?\d[\d,]* % on", "", re.sub(r"\d\d:\d\d", "", bare))):
            assert said.rstrip(".,") in known, (said, text)


@pytest.mark.parametrize("seed", range(WEEKS))
def test_a_month_of_which_nothing_was_seen_is_judged_by_no_sentence_though_it_has_lines(seed: int) -> None:
    one = week(seed)
    if one.seen:
        return
    month = month_like(
        "2026-11", one.facts.figures, evenings(7), ZONE, Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0), "QB0BFR", "", True
    )
    month = replace(
        month, completeness=replace(month.completeness, seen=0.0)
    )  # lines, but of a log that tells of no time
    said = [
        text_of(month_sentences.headline(month)),
        *map(text_of, month_sentences.findings(month)),
    ]
    assert said == ["Nothing is known of November 2026: no log tells of it."]
    sheet = sheet_of(month)
    assert sheet.waiters.value == sheet.idle_hold.value == "not known" and all(
        fact.value == "not known" for fact in (*sheet.key, *sheet.talk)
    )


def test_the_random_weeks_are_of_every_kind() -> None:
    weeks = [week(seed) for seed in range(WEEKS)]
    assert sum(one.seen == 0 for one in weeks) > 20 and sum(0 < one.seen < 0.5 for one in weeks) > 5
    assert sum(one.seen == 1 for one in weeks) > 20
    said = " ".join(text for one in weeks for text in sentences_of(one))
    for part in (
        "1 call ",
        "ran into the time-out",
        "estimated",
        "came near it",
        "no end in the log",
        "A normal week",
        "far beyond",
        CHANNEL,
    ):
        assert part in said, part
