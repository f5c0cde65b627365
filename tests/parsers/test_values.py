"""Words, units and numbers of a host."""

import re
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.dialect import reader
from parsers.values import _seconds
from shared.units import duration_seconds
from tests.parsers.helpers import as_dicts, dialect, read

T = "2026-03-01T18:22:05Z"


def event(
    folder: Path, text: str, line: str, rest: str = "", name: str = "over-end", more: str = ""
) -> dict[str, Any] | None:
    reading = read(
        reader(dialect(folder, f"[[line]]\nevent = '{name}'\ntext = '{{t}} {text}'\n{more}", rest=rest)), f"{T} {line}"
    )
    events = as_dicts(reading.events)
    assert reading.verdicts[0] == (0 if events else 2)
    return {k: v for k, v in events[0].items() if k not in ("line", "t", "event")} if events else None


DURATIONS = {
    "12.4": 12.4,
    "12,4": 12.4,
    "12.4s": 12.4,
    "12 s": 12.0,
    "340ms": 0.34,
    "340 ms": 0.34,
    "1m02s": 62.0,
    "02:05": 125.0,
    "1h02m03s": 3723.0,
    "01:02:05": 3725.0,
    "90m": 5400.0,
    "1m02,5s": 62.5,
    "75s": 75.0,
    "90:00": 5400.0,
}
NO_DURATIONS = [
    "1m75s",
    "02:75",
    "1:75:00",
    "1h75m",
    "-1",
    "nan",
    "inf",
    "1e99",
    "12 x",
    ":",
    "h",
    "1s2m",
    "1 2",
    "699999s",
    "9999:00:00",
]


@pytest.mark.parametrize(("text", "seconds"), DURATIONS.items())
def test_a_duration_is_read_as_it_is_written(tmp_path: Path, text: str, seconds: float) -> None:
    assert event(tmp_path, "for {duration}", f"for {text}") == {"seconds": pytest.approx(seconds)}
    assert duration_seconds(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", NO_DURATIONS)
def test_what_is_no_duration_leaves_the_line_unread(tmp_path: Path, text: str) -> None:
    assert event(tmp_path, "for {duration}", f"for {text}") is None


def not_cut(text: str) -> bool:
    """`5.` is a number to one and none to the other."""
    return not re.search(r"\.($|[^0-9])", text.strip())


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.from_regex(r"[0-9]{1,3}[hms:., ]{0,2}[0-9]{0,2}[ms:.]{0,2}[0-9]{0,2}s?", fullmatch=True).filter(not_cut),
        min_size=1,
    )
)
def test_a_column_of_durations_agrees_with_one_by_one(texts: list[str]) -> None:
    texts = [text.strip() for text in texts]
    for text, value in zip(texts, _seconds(pl.Series(texts), 1.0), strict=True):
        wanted = duration_seconds(text)
        assert value == (pytest.approx(wanted) if wanted is not None else None), text


@pytest.mark.parametrize(
    ("unit", "text", "seconds"),
    [
        ("ms", "12400", 12.4),
        ("s", "12.4", 12.4),
        ("frames:20ms", "620", 12.4),
        ("frames:82.5ms", "10", 0.825),
        ("ms", "12.4s", 12.4),
        ("ms", "02:05", 125.0),
    ],
)
def test_a_bare_number_of_seconds_has_the_hosts_unit(tmp_path: Path, unit: str, text: str, seconds: float) -> None:
    assert event(tmp_path, "for {seconds}", f"for {text}", f'[unit]\nseconds = "{unit}"') == {
        "seconds": pytest.approx(seconds)
    }


@pytest.mark.parametrize(
    ("unit", "text", "value"),
    [("percent", "0.4", 0.4), ("percent", "0,4 %", 0.4), ("fraction", "0.004", 0.4), ("fraction", "0.4%", 0.4)],
)
def test_ber_and_loss_come_as_percent_or_fraction(tmp_path: Path, unit: str, text: str, value: float) -> None:
    rest = f'[unit]\nber_pct = "{unit}"\nloss_pct = "{unit}"'
    assert event(tmp_path, "ber {ber_pct}, loss {loss_pct}", f"ber {text}, loss {text}", rest) == {
        "ber_pct": pytest.approx(value), "loss_pct": pytest.approx(value)}  # fmt: skip


@pytest.mark.parametrize("line", ["ber 101", "ber -1", "ber x", "ber nan", "ber 0,4,4", "ber %"])
def test_a_wrong_level_leaves_the_line_unread(tmp_path: Path, line: str) -> None:
    assert event(tmp_path, "ber {ber_pct}", line) is None


@pytest.mark.parametrize("text", ["-97", "-97dBm", "-97 dBm", "-97,0 DBM"])
def test_a_level_may_carry_its_unit(tmp_path: Path, text: str) -> None:
    assert event(tmp_path, "at {rssi_dbm}", f"at {text}") == {"rssi_dbm": -97.0}


def test_a_word_may_give_several_keys_and_a_hole_of_its_own_comes_first(tmp_path: Path) -> None:
    words = '[words.mode]\n"DMR-2" = { mode = "dmr", slot = 2, side = "link" }\n[words.slot]\n"B" = 1'
    assert event(tmp_path, "{mode} on", "DMR-2 on", words, more="set = { side = 'air' }") == {
        "mode": "dmr",
        "slot": 2,
        "side": "link",
    }
    assert event(tmp_path, "{mode} {slot} on", "DMR-2 B on", words) == {"mode": "dmr", "slot": 1, "side": "link"}


@pytest.mark.parametrize("word", ["dmr", "DMR", "Dmr"])
def test_our_own_words_pass_in_any_case(tmp_path: Path, word: str) -> None:
    assert event(tmp_path, "{mode} on", f"{word} on") == {"mode": "dmr"}


def test_a_hosts_spelling_comes_before_ours_and_keeps_its_case(tmp_path: Path) -> None:
    words = '[words.mode]\n"FM" = "c4fm"\n"x" = "p25"'
    assert event(tmp_path, "{mode} on", "FM on", words) == {"mode": "c4fm"}
    assert event(tmp_path, "{mode} on", "fm on", words) == {"mode": "fm"}
    assert event(tmp_path, "{mode} on", "X on", words) is None


def test_an_empty_hole_is_not_given(tmp_path: Path) -> None:
    assert event(tmp_path, "{mode} from {station} to {target}", "dmr from  to ") == {"mode": "dmr"}


def test_texts_are_at_most_64_characters_without_nul(tmp_path: Path) -> None:
    assert event(tmp_path, "from {station} on", f"from {'é' * 64} on") == {"station": "é" * 64}
    assert event(tmp_path, "from {station} on", f"from {'é' * 65} on") is None
    assert event(tmp_path, "from {station} on", "from a\0b on") is None


def test_a_whole_over_without_its_duration_is_unread(tmp_path: Path) -> None:
    assert event(tmp_path, "for {duration} on", "for  on", name="over") is None


def test_a_slot_may_be_written_with_a_decimal_point_in_the_dialect(tmp_path: Path) -> None:
    assert event(tmp_path, "up", "up", name="carrier-up", more="set = { slot = 1.0, rssi_dbm = -97 }") == {
        "slot": 1,
        "rssi_dbm": -97.0,
    }
    words = '[words.mode]\n"D2" = { mode = "dmr", slot = 2.0 }\n'
    assert event(tmp_path, "{mode} up", "D2 up", rest=words, name="carrier-up") == {"mode": "dmr", "slot": 2}
