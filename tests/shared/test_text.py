"""Text from outside, made fit to be shown."""

import json
import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from shared.text import escaped


def test_what_acts_on_a_terminal_is_spelt_and_what_is_only_read_stays() -> None:
    assert escaped("caf\u00e9 \U0001f4fb 10\u202f%") == "caf\u00e9 \U0001f4fb 10\u202f%"
    assert escaped("\x1b]0;x\x07\r\n\t\x9b31m\x7f") == r"\x1b]0;x\x07\r\n\t\u009b31m\u007f"
    assert escaped("\u202egnp.exe\u2028\u200b\ufeff\U000e0041") == r"\u202egnp.exe\u2028\u200b\ufeff\udb40\udc41"
    assert escaped("a\nb\tc", keep="\n") == "a\nb\\tc"


def test_a_byte_of_a_file_name_that_is_no_utf8_is_spelt_as_a_byte() -> None:
    name = b"h\xffst.log".decode("utf-8", "surrogateescape")
    assert escaped(name) == r"h\xffst.log"


@given(st.text(max_size=40))
def test_json_keeps_its_values(text: str) -> None:
    assert json.loads(escaped(json.dumps({text: text}, ensure_ascii=False, indent=2), keep="\n")) == {text: text}


@given(st.text(st.characters(), max_size=40))  # surrogates too
def test_whatever_comes_nothing_of_it_acts_and_it_can_be_written(text: str) -> None:
    shown = escaped(text)
    assert not any(unicodedata.category(letter)[0] == "C" or letter in "\u2028\u2029" for letter in shown)
    shown.encode()
    assert escaped(shown) == shown
