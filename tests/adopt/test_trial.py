"""One trial weighs readings and tells the verdict; what is left unexplained is told; what can't be used is refused."""

import numpy as np
import polars as pl
import pytest

from parsers.adopt.answers import known_from
from parsers.adopt.model import Column, Shape
from parsers.adopt.naming import mode_behind_prefix
from parsers.adopt.places import joined, talk_of
from parsers.adopt.trial import Overs, alone, tried
from server.intake.learning import Adopted, adopt_lines
from shared.errors import AirtallyError

NOW = 1_772_500_000_000_000  # 3 March 2026
SIGNS = ("QA1XYZ", "QB2DEF", "QA7BFR", "QB5ABC", "QA3XYZ", "QB8BFR")


def overs(*times: tuple[float, float, int]) -> Overs:
    start, end, stream = (np.array(column) for column in zip(*times, strict=True))
    return Overs(start, end, stream, np.ones(len(start), dtype=np.bool_), left=0)


def adopted(lines: list[str], **answers: object) -> Adopted:
    known = known_from(answers, "answers")
    return adopt_lines(lines, lambda: iter([pl.Series(lines, dtype=pl.String)]), NOW, zone="UTC", known=known)


def clock(second: int) -> str:
    return f"{second // 3600 % 24:02}:{second // 60 % 60:02}:{second % 60:02}"


def told(form: str, stamp: str = "2026-03-{day} {clock}", count: int = 400, gap_s: int = 150) -> list[str]:
    """A log of whole overs, stamped at their end; `form` has who, mode, target and length. Worked by hand."""
    rng = np.random.default_rng(5)
    out, second = [], 8 * 3600
    for number in range(count):
        length = int(rng.integers(3, 50))
        second += length + int(rng.integers(4, gap_s))
        mode = ("DMR", "C4FM", "NXDN")[number // 12 % 3]
        target = {"DMR": ("9991", "9995"), "C4FM": ("OAK", "ELM"), "NXDN": ("ROWAN", "HAZEL")}[mode][number // 36 % 2]
        who = SIGNS[int(rng.integers(len(SIGNS)))]
        when = stamp.format(day=f"{1 + second // 86400:02}", clock=clock(second))
        out.append(f"{when} " + form.format(who=who, mode=mode, target=target, length=length))
    return out


def test_an_over_is_alone_where_it_begins_after_all_before_it_on_its_stream_ended() -> None:
    found = overs((0.0, 30.0, 1), (5.0, 9.0, 2), (10.0, 12.0, 1), (20.0, 25.0, 1), (29.0, 33.0, 1), (31.0, 35.0, 2))
    assert alone(found).tolist() == [True, True, False, False, True, True]  # 29 s: within whole seconds of 30 s


def test_the_verdict_names_the_floor_that_the_traffic_falls_below() -> None:
    sound = overs(*((at * 20.0, at * 20.0 + 12.0, 1) for at in range(40)))
    assert tried(sound, {"mode": 1.0}).below() == []
    assert tried(sound, {"mode": 0.9}).below() == ["10.0% of the overs have no mode"]
    assert "only 6 overs" in tried(overs((0.0, 9.0, 1), *((at * 9.0, at * 9.0, 2) for at in range(5))), {}).below()[-1]


def test_targets_that_are_words_in_one_mode_and_numbers_in_another_are_targets_in_both() -> None:
    slots = ("first", "second")
    lines = told("done [{who}] [m-{mode}] [{target}] [{length}] [let go] [0.0040]")
    for at, line in enumerate(lines):
        if "DMR" in line:
            who = line.split("[")[1]
            line = line.replace("[m-DMR]", f"[m-DMR] [{slots[at // 5 % 2]}]")
            lines[at] = line.replace(who, f"99900{who[2]}1] ").replace("[9991]", "[99911]").replace("[9995]", "[99915]")
    made = adopted(lines)
    wholes = [shape for shape in made.learnt.shapes if shape.event == "over"]
    assert wholes and all(shape.column("target") for shape in wholes)


def test_places_are_joined_only_where_no_line_has_both() -> None:
    one, other = (Column(values) for values in (["OAK", "ELM"], ["9991", "9995"]))
    beside, us = Column(["QA1XYZ", "QB2DEF"]), np.arange(4, dtype=np.int64)
    talk = talk_of([Shape([0, 1], [one, beside], words=["a"]), Shape([2, 3], [other], words=["b"])], us)
    place = {id(column): place for place in talk.places for _, column in place.members}
    both = joined(place[id(one)], place[id(other)], talk)
    assert both is not None and [both.said[code] for code in both.codes] == ["OAK", "ELM", "9991", "9995"]
    assert joined(place[id(one)], place[id(beside)], talk) is None


def test_a_mode_that_stands_as_fixed_text_is_named_behind_what_all_modes_begin_with() -> None:
    spellings = ("m-c4fm", "m-p25", "m-nxdn")
    assert mode_behind_prefix(["opened", "m-dmr"], spellings) == {"mode": "dmr"}
    assert mode_behind_prefix(["opened", "mode"], spellings) == {}
    assert mode_behind_prefix(["dmr"], ("c4fm", "p25")) == {}  # they begin with nothing in common


def test_an_over_of_nobody_is_an_over_though_the_word_for_nobody_is_fixed_text_there() -> None:
    lines = told("talk done: by {who} {mode} to {target} after {length}s")
    lines = [line.replace("QA1XYZ", "(none)") for line in lines]
    made = adopted(lines)
    assert made.fit.overs == len(lines)


def test_stamps_without_a_date_are_learnt() -> None:
    made = adopted(told("talk done: by {who} {mode} to {target} after {length}s", stamp="{clock}"))
    assert made.learnt.dialect.file.dialect.time == "%H:%M:%S"
    assert made.fit.overs == 400
    assert any("no date" in sentence for sentence in made.account.sentences)


def test_lengths_of_time_at_the_head_of_lines_are_no_stamps() -> None:
    lines = [line.split(" ", 2)[2] for line in told("{length}")]
    with pytest.raises(AirtallyError, match="No line has a stamp"):
        adopted([f"00:00:{int(line):02} talk of QA1XYZ on DMR" for line in lines])


def test_a_log_whose_events_go_over_several_lines_is_refused_with_the_reason() -> None:
    lines = [
        part
        for line in told("over|  station {who}|  mode {mode}|  target {target}|  for {length} s")
        for part in line.split("|")
    ]
    with pytest.raises(AirtallyError, match="one event over several lines"):
        adopted(lines)


def test_the_zone_is_asked_first_where_stamps_have_no_offset_until_it_is_said() -> None:
    lines = told("talk done: by {who} {mode} to {target} after {length}s")
    asked = adopted(lines).learnt.questions
    assert asked[0].key == "zone" and len(asked) <= 5
    assert "zone" not in [one.key for one in adopted(lines, zone="Europe/London").learnt.questions]
