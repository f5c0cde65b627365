"""Readings that look right and are not: a loss rate is no length, rubbish is no habit, and what can't be known is said
to be a guess.
"""

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner

from parsers.adopt.account import account
from parsers.adopt.answers import known_from, with_answer
from parsers.dialect import reader
from server.cli import cli
from server.intake.learning import Adopted, adopt_lines
from shared.zones import SECOND
from tests.adopt.book import read_back

BEGIN = dt.datetime(2026, 6, 1, 8, 0, 0, tzinfo=dt.UTC)
NOW = int(BEGIN.timestamp() + 864_000) * SECOND
CREW = ("QA1FEN", "QA2GIL", "QA3HOB", "QA4IVY", "QA5JAY")
CAUSES = {"let go": "released", "faded out": "lost", "timed out": "timeout"}


@dataclass
class Written:
    """A log and the overs it tells of: start and end in microseconds, mode, slot, side, station, target, cause."""

    lines: list[str]
    overs: list[tuple[object, ...]] = field(default_factory=list)


def stamp(us: int) -> str:
    at = dt.datetime.fromtimestamp(us / SECOND, dt.UTC)
    return f"{at:%Y/%m/%d %H:%M:%S}.{at.microsecond // 100_000}"


def bench_log(overs: int = 160, analogue: tuple[str, str] = ("input wakes", "input rests")) -> Written:
    """Lengths are followed by a unit of time and then by a rate of loss; sides and groups stand in the opening lines
    alone.
    """
    chance = np.random.default_rng(4)
    log = Written([])
    now = int(BEGIN.timestamp()) * SECOND
    for number in range(overs):
        mode, slot = [("DMR", 1), ("DMR", 2), ("NXDN", None), ("FM", None)][number % 4]
        who, far = CREW[int(chance.integers(5))], bool(chance.integers(2))
        cause = "timed out" if number % 40 == 7 else "faded out" if number % 9 == 3 else "let go"
        tenths = 1800 if cause == "timed out" else int(chance.integers(20, 600))
        end = now + tenths * SECOND // 10
        group = int(chance.integers(99_910, 99_914))
        bench = f"bench {mode}{slot or ''}"
        lost = f"{chance.integers(0, 40) / 10:.1f}"
        if mode == "FM":
            log.lines.append(f"{stamp(now)} | {bench}: {analogue[0]}")
            log.lines.append(f"{stamp(end)} | {bench}: {analogue[1]}, {tenths / 10} seconds, {cause}")
            log.overs.append((now, end, "fm", None, "air", None, None, CAUSES[cause]))
        else:
            side = "the wire" if far else "the aerial"
            log.lines.append(f"{stamp(now)} | {bench}: {who} opens the mouth from {side} to group {group}")
            log.lines.append(
                f"{stamp(end)} | {bench}: {who} shuts the mouth, {tenths / 10} seconds, {lost} per cent lost, {cause}"
            )
            log.overs.append((now, end, mode.lower(), slot, "link" if far else "air", who, str(group), CAUSES[cause]))
        now = end + int(chance.integers(20, 900)) * SECOND // 10
        if number % 40 == 11:
            log.lines.append(f"{stamp(now)} | bench DMR: ??? 0x8f 0x2")
            log.lines.append(f"{stamp(now)} | owl on the mast")
            log.lines.append(f"{stamp(now)} | \ufffd\ufffdgarbled")
            now += SECOND
    return log


def adopted(lines: list[str], answers: dict[str, object] | None = None) -> Adopted:
    known = known_from(answers or {}, "answers")
    return adopt_lines(lines, lambda: iter([pl.Series(lines, dtype=pl.String)]), NOW, known=known, zone="UTC")


@pytest.mark.parametrize("analogue", [("input wakes", "input rests"), ("carrier comes", "carrier goes")])
def test_a_length_with_its_unit_is_told_from_a_rate_of_loss_and_openings_give_side_and_group(
    analogue: tuple[str, str],
) -> None:
    log = bench_log(analogue=analogue)
    made = adopted(log.lines)
    found = read_back(reader(made.learnt.dialect), log.lines, NOW)
    names = ("start", "end", "mode", "slot", "side", "station", "target", "cause")
    assert found.select(names).rows() == log.overs
    assert found["loss_pct"].count() == sum(over[2] != "fm" for over in log.overs)


def test_rubbish_stays_unread_and_is_no_refusal() -> None:
    made = adopted(bench_log().lines)
    events = {line.event for line in made.learnt.dialect.file.line}
    assert events == {"over-start", "over-end"}
    assert made.fit.unread == 12 and made.fit.ignored == 0


def test_the_reading_tells_sides_of_opening_lines_every_mode_and_no_whole_overs_where_there_are_none() -> None:
    made = adopted(bench_log().lines)
    told = " ".join(account(made.learnt, made.fit).sentences)
    assert "100.0% a side" in told
    assert "Modes told by their names: DMR, FM, NXDN." in told
    assert "hole over" not in told


def whole_overs(numbers: str, seconds: tuple[float, float] = (2.0, 60.0), cause: str = "") -> list[str]:
    chance = np.random.default_rng(9)
    now = int(BEGIN.timestamp()) * SECOND
    lines = []
    for number in range(120):
        first, second = chance.uniform(*seconds), chance.uniform(2, 60)
        said = numbers.format(a=f"{first:.1f}", b=f"{second:.1f}")
        lines.append(f"{stamp(now)} | bench DMR{number % 2 + 1}: {CREW[number % 5]} heard, {said}{cause}")
        now += int(chance.integers(70, 900)) * SECOND
    return lines


def test_where_two_numbers_could_be_the_length_the_keeper_is_asked_and_the_answer_counts() -> None:
    lines = whole_overs("{a}, {b}")
    made = adopted(lines)
    question = next(one for one in made.learnt.questions if one.key.startswith("hole."))
    assert account(made.learnt, made.fit).poor and "Which number is the length" in question.asks
    other = next(choice for choice in question.choices if choice != question.guess)
    again = adopted(lines, with_answer({}, question.key, other))
    assert not [one for one in again.learnt.questions if one.key.startswith("hole.")]
    read = read_back(reader(again.learnt.dialect), lines, NOW)
    place = {question.guess: -2, other: -1} if int(question.guess) < int(other) else {question.guess: -1, other: -2}
    wanted = [float(line.replace(",", " ").split()[place[other]]) for line in lines]
    assert np.allclose(sorted((read["end"] - read["start"]).to_numpy() / SECOND), sorted(wanted))


def test_timeouts_of_a_second_or_so_are_disbelieved() -> None:
    hasty = adopted(whole_overs("{a} seconds", (0.5, 3.0), ", timed out"))
    assert account(hasty.learnt, hasty.fit).poor
    assert "time-out timers run for minutes" in " ".join(account(hasty.learnt, hasty.fit).sentences)
    patient = adopted(whole_overs("{a} seconds", (120.0, 180.0), ", timed out"))
    assert not account(patient.learnt, patient.fit).poor


def test_three_lines_without_an_over_teach_nothing_yet(tmp_path: Path) -> None:
    log = tmp_path / "bench.log"
    log.write_text("".join(f"2026/06/01 08:00:0{second}.0 | box starting, part {second}\n" for second in range(3)))
    done = CliRunner().invoke(cli, ["adopt", str(log), "--yes", "--out", str(tmp_path / "bench.toml")])
    said = done.output + str(done.exception)
    assert done.exit_code == 1
    assert "Use it with" not in said
    assert "can be learnt yet" in said or "could be understood" in said


def test_whole_overs_that_follow_an_ignored_line_by_another_of_their_numbers_are_disbelieved() -> None:
    chance = np.random.default_rng(2)
    now = int(BEGIN.timestamp()) * SECOND
    lines = []
    for number in range(150):
        who, tenths = CREW[number % 5], int(chance.integers(30, 600))
        end = now + tenths * SECOND // 10
        lines.append(f"{stamp(now)} | lamp amber for {who}")
        lines.append(
            f"{stamp(end)} | bench DMR{number % 2 + 1}: {who} heard, duration {chance.uniform(2, 60):.1f}, "
            f"weight {tenths / 10}"
        )
        now = end + int(chance.integers(20, 900)) * SECOND // 10
    made = adopted(lines)
    assert account(made.learnt, made.fit).poor
    assert "the time since an ignored line of the same station" in " ".join(account(made.learnt, made.fit).sentences)
    question = next(one for one in made.learnt.questions if one.key.startswith("hole."))
    right = next(choice for choice in question.choices if choice != question.guess)
    again = adopted(lines, with_answer({}, question.key, right))
    assert not account(again.learnt, again.fit).poor
    found = read_back(reader(again.learnt.dialect), lines, NOW)
    truth = [float(line.rsplit(" ", 1)[1]) for line in lines if "weight" in line]
    assert np.allclose(((found["end"] - found["start"]) / SECOND).to_numpy(), truth)
