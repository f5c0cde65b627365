"""What of a raw line is shown: no call sign (Radio Regulations 19.68, 19.68A: quoted) and no radio's id."""

import pytest

from server.report.privacy import masked


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("from QA1XYZ to all", "from <call sign> to all"),
        ("from qa1xyz-7/P,999123456;", "from <call sign>-7/P,<id>;"),
        ("cs=QB0BFR id=9990001", "cs=<call sign> id=<id>"),
        ("Q1AB_C Q9A1B", "<call sign>_C <call sign>"),
        ("radio9990001 QAZ1AB", "radio<id> QAZ1AB"),  # three letters before the digit: no prefix
    ],
)
def test_call_signs_and_ids_are_masked_whatever_stands_around_them(line: str, shown: str) -> None:
    assert masked(line) == shown


@pytest.mark.parametrize(
    "line",
    [
        "2026-11-16T01:00:00.123456Z fan 2 at 61 % of <b>",
        "DMR slot 2, talkgroup 99950, port 40123",
        "M17 P25 C4FM 12.5 kHz",
    ],
)
def test_stamps_modes_and_short_numbers_stay(line: str) -> None:
    assert masked(line) == line


def test_a_sentence_of_a_host_keeps_its_words() -> None:
    assert (
        masked("2026-11-16 01:00:00 kerchunk on the input, 3 dB over QZ9ZZZ")
        == "2026-11-16 01:00:00 kerchunk on the input, 3 dB over <call sign>"
    )
