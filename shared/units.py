"""Units: durations as hosts write them, and airtime worked out from frames. Pure functions; seconds unless said
otherwise.

Sources of the frame times are given at each with their status: seen in a stored copy, quoted in a secondary page,
worked out here, or from memory of the document. They describe the air interface, not what any particular host counts.
"""

import re

DMR_SLOT_S = 0.030  #: 264 bits in 27.5 ms and a 2.5 ms gap; quoted, and ETSI TS 102 361-1 from memory
DMR_FRAME_S = 2 * DMR_SLOT_S  #: both slots
DMR_SUPERFRAME_S = 6 * DMR_FRAME_S
P25_HEADER_S = 0.0825  #: P25 phase 1; Codan, P25 Training Guide, chapter 4, seen
P25_UNIT_S = 0.180  #: one logical link data unit, 1,728 bits, nine voice frames; the same, seen
P25_TERMINATOR_S = 0.015  #: the simple one; the same, seen
M17_FRAME_S = 0.040  #: 384 bits at 9,600 bit/s; so last preamble, link set-up and end; M17 specification v2.0.4, seen
DSTAR_FRAME_S = 0.020  #: 96 bits at 4,800 bit/s; quoted
DSTAR_HEADER_S, DSTAR_END_S = 0.15396, 0.010  #: JARL's specification, from memory
NXDN_FRAME_S = {4800: 0.080, 9600: 0.040}  #: 384 bits; by bit rate; NXDN TS 1-A, from memory
C4FM_FRAME_S = 0.100  #: 960 bits; Amateur Radio Digital Standards v1.02, from memory
POCSAG_PREAMBLE_BITS, POCSAG_BATCH_BITS = 576, 544  #: ITU-R M.584-2 annex 1, 1.1 and 1.2, seen

_PART = r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)"


def duration_seconds(text: str) -> float | None:
    """Seconds of `12.4`, `12.4s`, `12.4 seconds`, `340ms`, `1m02s`, `1h02m03s`, `02:05` or `01:02:05`, a decimal comma
    allowed; None for anything else. Below the largest unit named, minutes and seconds are less than 60.
    """
    text = text.strip()
    if found := re.fullmatch(_PART + "( ?(?:ms|s|secs?|seconds?))?", text):
        return _number(found[1]) / (1000 if (found[2] or "").strip() == "ms" else 1)
    if (found := re.fullmatch(r"(?:([0-9]{1,6})h)? ?(?:([0-9]{1,6})m)? ?(?:" + _PART + "s)?", text)) or (
        found := re.fullmatch(r"(?:([0-9]{1,6}):)?([0-9]{1,6}):([0-9]{1,2}(?:[.,][0-9]{1,9})?)", text)
    ):
        units = [_number(part) if part else None for part in found.groups()]
    else:
        return None
    named = [i for i, unit in enumerate(units) if unit is not None]
    if not named or any((units[i] or 0) >= 60 for i in named[1:]):
        return None
    hours, minutes, seconds = (unit or 0.0 for unit in units)
    return hours * 3600 + minutes * 60 + seconds


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def frames_seconds(frames: float, frame_ms: float) -> float:
    """Airtime of a number of frames."""
    return frames * frame_ms / 1000


def p25_seconds(units: int) -> float:
    """A P25 phase 1 over of so many logical link data units, with header and simple terminator."""
    return P25_HEADER_S + units * P25_UNIT_S + P25_TERMINATOR_S


def m17_seconds(frames: int) -> float:
    """An M17 stream of so many frames, with preamble, link set-up and end of transmission."""
    return (frames + 3) * M17_FRAME_S


def dstar_seconds(frames: int) -> float:
    """A D-STAR over of so many voice frames, with header and end pattern, without the bit synchronisation before."""
    return DSTAR_HEADER_S + frames * DSTAR_FRAME_S + DSTAR_END_S


def pocsag_seconds(batches: int, bit_rate: int) -> float:
    """A POCSAG transmission of so many batches with the shortest preamble; bit rate 512, 1,200 or 2,400 bit/s (rates
    from memory).
    """
    return (POCSAG_PREAMBLE_BITS + batches * POCSAG_BATCH_BITS) / bit_rate
