"""Call signs by Radio Regulations 19.68, 19.68A and 19.50 (quoted), built here from the words of the rule and not from
its pattern; radio ids by their 24 bits (ETSI TS 102 361-1, quoted). Nobody's call sign stands here: prefixes are joined
at random, or begin with Q.
"""

import re
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parsers.adopt import trade
from server.report.privacy import masked
from shared.callsigns import ANY_CALL_SIGN, CALL_SIGN, MOST_RADIO_ID, is_radio_id

LETTERS, DIGITS = string.ascii_uppercase, string.digits
ANYTHING = LETTERS + DIGITS
LETTER, DIGIT = st.sampled_from(LETTERS), st.sampled_from(DIGITS)


def up_to(most: int) -> st.SearchStrategy[str]:
    """Up to so many characters, the last a letter."""
    return st.builds(str.__add__, st.text(ANYTHING, max_size=most - 1), LETTER)


ONE = st.sampled_from("BFGIKMNRW")
TWO = st.one_of(
    st.builds(str.__add__, LETTER, st.sampled_from(ANYTHING)),
    st.builds(str.__add__, st.sampled_from("23456789"), LETTER),
)
INVENTED = st.sampled_from(["Q", "1Q", "QA", "Q7"])
HALF = st.builds(str.__add__, st.just("SS"), LETTER) | st.builds(
    "".join, st.tuples(st.sampled_from("23456789"), LETTER, LETTER)
)


@given(st.one_of(st.tuples(ONE | TWO | INVENTED, DIGIT, up_to(4)), st.tuples(HALF, DIGIT, up_to(3))).map("".join))
def test_every_call_sign_of_the_rule_is_found_in_either_case(call_sign: str) -> None:
    for text in (call_sign, call_sign.lower()):
        assert CALL_SIGN.fullmatch(text) and ANY_CALL_SIGN.fullmatch(text) and trade.is_callsign(text)


@given(
    st.tuples(ONE | TWO | INVENTED, DIGIT, up_to(7)).map("".join).filter(lambda text: not re.search("[0-9]{6}", text))
)  # those are ids
def test_the_longer_ones_of_special_occasions_are_masked_too(call_sign: str) -> None:
    assert ANY_CALL_SIGN.fullmatch(call_sign)
    assert masked(f"from {call_sign}, to all") == "from <call sign>, to all" or call_sign == "C4FM"


@given(st.text(ANYTHING, min_size=1, max_size=7))
def test_what_the_pattern_takes_can_be_taken_apart_by_the_rule(text: str) -> None:
    """A slow twin: some way to cut the text gives a series, a digit and a group that ends with a letter."""

    def is_series(head: str) -> bool:
        one = head in "BFGIKMNRWQ"
        two = len(head) == 2 and any(c in LETTERS for c in head) and (head[0] not in "01" or head == "1Q")
        half = len(head) == 3 and (
            (head[0] in "23456789" and head[1:].isalpha()) or (head[:2] == "SS" and head[2].isalpha())
        )
        return one or two or half

    cut = [text[n:] for n in (1, 2, 3) if len(text) > n and is_series(text[:n])]
    slow = any(rest[0] in DIGITS and 1 <= len(rest) - 1 <= 4 and rest[-1] in LETTERS for rest in cut)
    assert (CALL_SIGN.fullmatch(text) is not None) == slow


@pytest.mark.parametrize(
    "text",
    ["", "Q", "QA1", "QAXYZ", "1M02S", "0Q1AB", "QAZ1AB", "DMR", "99950", "QB0ABCDE9", "Q\u0131 1A", "\u212a1AB"],
)
def test_what_has_no_such_form_is_no_call_sign(text: str) -> None:
    assert not ANY_CALL_SIGN.fullmatch(text)


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("1", True),
        ("9990123", True),
        ("16776415", True),
        ("16777215", True),
        ("16777216", False),
        ("0", False),
        ("", False),
        ("-1", False),
        ("٣", False),
        ("9" * 30, False),
    ],
)
def test_a_radio_id_has_24_bits(text: str, is_one: bool) -> None:
    # DMR: radios 1 to 16,776,415, talkgroups 1 to 16,777,215 (quoted); 0 is nobody.
    assert is_radio_id(text) is is_one and MOST_RADIO_ID.bit_length() == 24


def test_every_id_of_a_radio_in_use_is_masked() -> None:
    assert masked("from 9990123 and 16776415") == "from <id> and <id>"


def test_there_is_one_pattern() -> None:
    assert trade._SUFFIXED.flags & re.ASCII and CALL_SIGN.pattern in trade._SUFFIXED.pattern
