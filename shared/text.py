"""Text from outside, made fit to be shown: nothing in it acts, all of it shows."""

import unicodedata


def escaped(text: str, keep: str = "") -> str:
    """The text with every control, format, private and unassigned character and every separator of lines spelt as an
    escape, but for those in `keep`; a byte of a file name that is no UTF-8 is spelt as `\\xff` is. In JSON whose own
    control characters are escaped the values stay the same.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(letter if letter in keep or not _acts(letter) else _spelt(letter) for letter in text)


def _acts(letter: str) -> bool:
    category = unicodedata.category(letter)
    return category[0] == "C" or category in ("Zl", "Zp")


def _spelt(letter: str) -> str:
    code = ord(letter)
    if 0xDC80 <= code <= 0xDCFF:  # how the system's file names carry a byte that is no UTF-8
        return f"\\x{code - 0xDC00:02x}"
    if code < 0x20:
        return {"\n": "\\n", "\r": "\\r", "\t": "\\t"}.get(letter) or f"\\x{code:02x}"
    if code < 0x10000:
        return f"\\u{code:04x}"
    # as JSON spells it, so that JSON stays what it was
    return f"\\u{0xD800 + (code - 0x10000 >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"
