"""`adopt` on invented hosts with known truth: what comes back as overs, and whether the reading says so where it does
not fit.
"""

from functools import lru_cache

import numpy as np
import polars as pl
import pytest

from parsers.adopt.account import account
from parsers.adopt.learn import NothingToLearn
from parsers.adopt.model import Known
from parsers.adopt.trade import mode_of
from parsers.dialect import reader
from parsers.reading import Carry
from parsers.samples import check_samples
from server.intake.learning import Adopted, adopt_lines
from tests.adopt.book import Hand, Score, book, read_back, score
from tests.adopt.hands_held import HELD, LOOKED_AT
from tests.adopt.hands_last import LAST
from tests.adopt.hands_seen import SEEN
from tests.adopt.hands_shown import SHOWN

UNSEEN = (*HELD, *LAST)
LOOKED_AT_LATER = (*SHOWN, *LOOKED_AT)
EVERY = (*SEEN, *LOOKED_AT_LATER, *UNSEEN)
DAYS = 1


@lru_cache
def adopted(hand: Hand, days: int = DAYS) -> tuple[Adopted, Score]:
    """What `adopt --yes` makes of a hand's log, and how that compares with the truth."""
    lines = list(hand.write(book(days=days), np.random.default_rng(1)))
    now = book(days=days).rows[-1]["t"] + 10**9
    made = adopt_lines(lines[:24_000], lambda: iter([pl.Series(lines, dtype=pl.String)]), now, zone=hand.zone)
    return made, score(hand, book(days=days).overs, read_back(reader(made.learnt.dialect), lines, now))


def by_name(hand: Hand) -> str:
    return hand.name


@pytest.mark.parametrize("hand", [hand for hand in EVERY if hand.knowable], ids=by_name)
def test_at_least_98_percent_of_the_overs_come_back_right_in_mode_and_duration(hand: Hand) -> None:
    made, found = adopted(hand)
    assert found.mode_and_duration >= 0.98, found.wrong[:3]
    assert found.extra <= 0.02
    assert made.fit.coverage >= 0.99


@pytest.mark.parametrize("hand", EVERY, ids=by_name)
def test_no_dialect_is_silently_wrong(hand: Hand) -> None:
    made, found = adopted(hand)
    told = account(made.learnt, made.fit)
    assert told.poor or found.mode_and_duration >= 0.95
    if not hand.knowable:
        assert told.poor and made.learnt.questions


@pytest.mark.parametrize("hand", EVERY, ids=by_name)
def test_what_was_learnt_passes_its_own_samples_and_every_line_has_one(hand: Hand) -> None:
    made, _ = adopted(hand)
    # A wider line further down may match too (docs/contract.md: the first one wins); nothing else may be said.
    assert [one.says for one in check_samples(made.learnt.dialect) if not one.warning] == []
    assert all(line.sample for line in made.learnt.dialect.file.line)


def test_there_are_at_least_twelve_hands_and_six_more_that_were_never_looked_at() -> None:
    assert len(EVERY) >= 24 and len([hand for hand in UNSEEN if hand.knowable]) >= 6
    assert len({hand.name for hand in EVERY}) == len(EVERY)


@pytest.mark.parametrize(
    ("spelling", "mode"),
    [
        ("C4FM", "c4fm"),
        ("NXDN 4800", "nxdn"),
        ("nxdn9600", "nxdn"),
        ("D-STAR", "dstar"),
        ("Q4", None),
        ("WIDE-DIGITAL", None),
    ],
)
def test_a_mode_is_known_by_its_own_name_alone(spelling: str, mode: str | None) -> None:
    """The rates of NXDN, 4,800 and 9,600 bit/s: shared/units.py has their source."""
    assert (mode_of(spelling) or {}).get("mode") == mode


def learnt_and_read(rows: list[str], known: Known | None = None) -> tuple[Adopted, pl.DataFrame]:
    """What was learnt of a log, and its events by that."""
    made = adopt_lines(rows, lambda: iter([pl.Series(rows)]), 0, zone="UTC", known=known)
    return made, reader(made.learnt.dialect).read(pl.Series(rows), Carry(), 0).events


def test_a_name_with_a_number_is_a_target_and_the_narrower_reason_wins() -> None:
    """Letters before a number are a label (`TS1`) or a name's own (`HILL1`): the word before tells. Rows are
    invented.
    """
    rows = []
    for n in range(300):
        at, mode = f"2026-11-{18 + n // 100:02} {n // 10 % 24:02}:{n % 10 * 6:02}:05", ("DMR", "M17", "FM")[n % 3]
        who = f"Q{'ABC'[n % 3]}{n % 9 + 1}XYZ"
        rows.append(f"{at} <{mode}> heard {who} calling HILL{n % 3 + 1} for {2 + n % 50}.5 s")
        if n % 10 == 0:
            rows.append(f"{at} <{mode}> sent away {who}: busy with other mode")
    _, events = learnt_and_read(rows)
    assert set(events.filter(pl.col("event") == "over")["target"].to_list()) == {"HILL1", "HILL2", "HILL3"}
    assert set(events.filter(pl.col("event") == "refused")["reason"].to_list()) == {"other-mode"}


def test_who_holds_and_how_an_over_ended_are_told_by_a_mode_and_by_the_event_itself() -> None:
    """A refusal that names another mode than the caller's is held by that one, whatever word stands before it; an end
    that is called a time-out is one. Rows are invented.
    """
    rows = []
    for n in range(400):
        at, mode = f"2026-11-{2 + n // 24:02} {n % 24:02}", ("DMR", "M17", "C4FM")[n % 3]
        who, lasted = f"Q{'ABC'[n % 3]}{n % 9 + 1}XYZ", 180 if n % 20 == 7 else 2 + n % 50
        rows.append(f"{at}:05:00.000 {mode} BEGIN from={who} to=grove-{n % 4}")
        how = "TIMEOUT" if lasted == 180 else "END"
        rows.append(
            f"{at}:{5 + lasted // 60:02}:{lasted % 60:02}.000 {mode} {how} from={who} after={lasted}.{n % 7}s"
            + (f" ber=0.{n % 9}%" if how == "END" else "")
        )
        if n % 8 == 0:
            rows.append(f"{at}:05:01.500 {('M17', 'C4FM', 'DMR')[n % 3]} DENY from=QD{n % 9 + 1}GHI busy={mode}")
    _, events = learnt_and_read(rows)
    ends = events.filter(pl.col("event") == "over-end")
    assert set(ends.filter(pl.col("seconds") >= 180)["cause"].to_list()) == {"timeout"}
    assert "timeout" not in ends.filter(pl.col("seconds") < 180)["cause"].to_list()
    assert events.filter(pl.col("event") == "refused")["reason"].to_list() == ["other-mode"] * 50


def test_words_of_modes_that_nobody_knows_are_asked_for_and_not_left_out() -> None:
    """Trees for modes, in every line of an over at the same place. Rows are invented."""
    rows = []
    for n in range(400):
        at, mode, who = (
            f"2026-11-{2 + n // 24:02} {n % 24:02}",
            ("LARCH", "ROWAN", "ALDER")[n % 3],
            f"Q{'ABC'[n % 3]}{n % 9 + 1}XYZ",
        )
        rows.append(f"{at}:05:00.000 {mode} BEGIN from={who} to=grove-{n % 4} via={('air', 'wire')[n % 2]}")
        if n % 8 == 0:
            wanted = [other for other in ("LARCH", "ROWAN", "ALDER") if other != mode][n // 8 % 2]
            rows.append(f"{at}:05:01.500 {wanted} DENY from=QD{n % 9 + 1}GHI busy={mode}")
        rows.append(
            f"{at}:05:{2 + n % 50:02}.{n % 7}00 {mode} END from={who} after={2 + n % 50}.{n % 7}s ber=0.{n % 9}%"
        )
    made, _ = learnt_and_read(rows)
    assert {"mode.LARCH", "mode.ROWAN", "mode.ALDER"} <= {question.key for question in made.learnt.questions}
    assert made.account.poor
    told = Known(words={"mode": {"LARCH": "dmr", "ROWAN": "m17", "ALDER": "c4fm"}})
    _, events = learnt_and_read(rows, told)
    assert events.filter(pl.col("event") == "over-start")["mode"].to_list() == [
        ("dmr", "m17", "c4fm")[n % 3] for n in range(400)
    ]
    assert events.filter(pl.col("event") == "refused")["reason"].to_list() == ["other-mode"] * 50


def test_the_time_out_that_every_end_names_is_none() -> None:
    """Each end says what the time-out is, but those whose signal was lost. Rows are invented."""
    rows = []
    for n in range(400):
        at, mode, who = (
            f"2026-11-{2 + n // 24:02} {n % 24:02}",
            ("DMR", "M17", "C4FM")[n % 3],
            f"Q{'ABC'[n % 3]}{n % 9 + 1}XYZ",
        )
        rows.append(f"{at}:05:00.000 {mode} BEGIN from={who} to=grove-{n % 4}")
        rest = "timeout set at 180" if n % 5 else "signal gone"
        rows.append(f"{at}:05:{2 + n % 50:02}.{n % 7}00 {mode} END from={who} after={2 + n % 50}.{n % 7}s {rest}")
    _, events = learnt_and_read(rows)
    assert "timeout" not in events.filter(pl.col("event") == "over-end")["cause"].to_list()


def test_a_process_id_that_the_sample_never_saw_change_is_no_fixed_text() -> None:
    """A restart of the host gives it another one, and its lines must be read all the same. Rows are invented."""
    rows = []
    for n in range(300):
        at, mode, who = f"2026-11-{2 + n // 24:02} {n % 24:02}", ("DMR", "M17", "C4FM")[n % 3], f"QA{n % 9 + 1}XYZ"
        rows.append(f"{at}:05:00.000 tower[4711]: {mode} begins from {who}")
        rows.append(f"{at}:05:{2 + n % 50:02}.000 tower[4711]: {mode} ends from {who} after {2 + n % 50}.0 s")
    made, _ = learnt_and_read(rows)
    again = pl.Series([row.replace("4711", "4802") for row in rows])
    events = reader(made.learnt.dialect).read(again, Carry(), 0).events
    assert events["event"].to_list() == ["over-start", "over-end"] * 300


def test_a_log_that_names_neither_modes_nor_stations_is_refused_with_the_reason() -> None:
    rows = [f"2026-11-02 {n // 60:02}:{n % 60:02}:00 kettle at {n % 90} degrees" for n in range(600)]
    with pytest.raises(NothingToLearn, match="names a mode, a call sign or a radio id"):
        learnt_and_read(rows)


def opens_and_shuts() -> list[str]:
    """Conversations of four overs, each in one mode, on one slot and with one target, which the openings alone tell."""
    rng, at, lines = np.random.default_rng(7), 1_792_000_000, []
    for talk in range(120):
        where = ("DMR TS1", "DMR TS2", "C4FM solo", "M17 solo")[int(rng.integers(4))]
        group = {"D": ("99901", "99950"), "C": ("GreatMoot", "Sheepfold"), "M": ("HALL", "YARD")}[where[0]][talk % 2]
        for turn in range(4):
            who, lasts = f"QA{turn % 2}{'XYZWV'[talk % 5]}AB", int(rng.integers(3, 25))
            opened, shut = (np.datetime64(second, "s") for second in (at, at + lasts))
            lines += [f"{opened}Z RX {where} open {who} > {group}", f"{shut}Z RX {where} shut {who} after {lasts}.0s"]
            at += lasts + 2
        at += 200
    return lines


def test_a_word_for_no_slot_and_a_target_that_openings_alone_tell_are_found() -> None:
    lines = opens_and_shuts()
    made = adopt_lines(lines, lambda: iter([pl.Series(lines, dtype=pl.String)]), 1_793_000_000 * 10**6, zone="UTC")
    words = made.learnt.dialect.file.words
    assert words["slot"] == {"TS1": 1, "TS2": 2, "solo": {}}
    assert made.fit.overs == 480 and made.fit.dmr_with_slot == made.fit.dmr > 100
    assert [one.about for one in made.learnt.questions if one.about in ("slot", "target")] == []
    assert any(
        "{target}" in (line.text or "") or "<target>" in (line.pattern or "") for line in made.learnt.dialect.file.line
    )
