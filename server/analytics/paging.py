"""The length of a page that nobody measured, from its bit rate and its length in code words or characters
(docs/definitions.md, Airtime of pages): estimated, and never added to what was counted. Pure.

Recommendation ITU-R M.584-2, annex 1: a preamble of 576 bits at least, then whole batches of 17 code words of 32 bits,
the first of which is for synchronisation; 20 bits of a code word carry a message (from memory), 7 of them a character.
"""

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from shared.zones import SECOND

PREAMBLE_BITS = 576
BATCH_BITS = 544
CODE_WORDS = 16  #: of a batch, beside the one for synchronisation
MESSAGE_BITS = 20  #: of a code word
CHARACTER_BITS = 7

Floats = npt.NDArray[np.float64]


def seconds_of_batches(batches: Floats, bit_rate: Floats) -> Floats:
    """How long a transmission of so many batches takes at so many bits a second, with the shortest preamble."""
    return np.asarray((PREAMBLE_BITS + batches * BATCH_BITS) / bit_rate, dtype=np.float64)


def batches_of(code_words: Floats, characters: Floats) -> Floats:
    """Whole batches of so many code words, or of an address and so many characters where code words are not told
    (nan); nan where neither is. There is one batch at the least.
    """
    of_characters = 1 + np.ceil(characters * CHARACTER_BITS / MESSAGE_BITS)
    words = np.where(np.isnan(code_words), of_characters, code_words)
    return np.asarray(np.maximum(1.0, np.ceil(words / CODE_WORDS)), dtype=np.float64)


def estimated_us(bit_rate: Floats, code_words: Floats, characters: Floats) -> Ints:
    """Microseconds of each page (n,), nan for what is not told of one; -1 where that is too little."""
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = seconds_of_batches(batches_of(code_words, characters), bit_rate)
    known = np.isfinite(seconds)
    return np.where(known, np.round(np.nan_to_num(seconds, posinf=0.0) * SECOND), -1).astype(np.int64)
