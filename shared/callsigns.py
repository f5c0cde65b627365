"""Call signs and radio ids by their form: one pattern for whoever looks for them.

Radio Regulations 19.68 (quoted): a call sign of an amateur station is one of the letters B F G I K M N R W, or two
characters of which one at least is a letter, then a digit, then up to four characters of which the last is a letter.
19.68A (quoted): on special occasions it may be longer. Half a series is told by three characters (19.50, quoted). The
letter Q begins no series (Appendix 42, quoted), so that invented stations have it: it is taken wherever a letter is.
"""

import re

#: What a call sign begins with; no series begins with 0 or 1 (from memory); 1Q is invented.
SERIES = "[BFGIKMNRWQ]|[A-Z][A-Z0-9]|[2-9][A-Z]{1,2}|SS[A-Z]|1Q"
_FLAGS = re.IGNORECASE | re.ASCII
#: As 19.68 has it.
CALL_SIGN = re.compile(rf"(?:{SERIES})[0-9][A-Z0-9]{{0,3}}[A-Z]", _FLAGS)
#: The same with the longer ones of 19.68A.
ANY_CALL_SIGN = re.compile(rf"(?:{SERIES})[0-9][A-Z0-9]{{0,6}}[A-Z]", _FLAGS)

RADIO_ID_BITS = 24  #: of a DMR id: ETSI TS 102 361-1 (quoted)
MOST_RADIO_ID = 2**RADIO_ID_BITS - 1


def is_radio_id(text: str) -> bool:
    """Whether a text is a number that the bits of a radio's id can carry; 0 is nobody."""
    return text.isascii() and text.isdigit() and 0 < int(text[:12]) <= MOST_RADIO_ID
