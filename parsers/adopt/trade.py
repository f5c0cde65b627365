"""Knowledge of the trade: how modes, sides, causes and stations are spelt, and which words go with which event.

The words are terms of the trade, of open standards and of plain English; none is taken from a host. The form of
call signs is in shared.callsigns.
"""

import re
from functools import lru_cache
from typing import Any

from parsers.adopt.tokens import sameness
from parsers.adopt.vocabulary import AIR, LINK, SIDE_LEADS
from shared import callsigns
from shared.callsigns import CALL_SIGN

MODES = {
    "dstar": "dstar dv star dstardv dst dstr dsr ds digitalvoicedstar",
    "dmr": "dmr dmrtier2 tier2 dmrii digitalmobileradio",
    "c4fm": "c4fm",
    "p25": "p25 apco apco25 project25 p25phase1 apcop25 apc p25p1",
    "nxdn": "nxdn nxdn4800 nxdn9600",
    "m17": "m17 mseventeen m17voice",
    "fm": "fm nfm analog analogue ana fmanalog fmanalogue analogfm analoguefm nbfm anlg anfm fmvoice fmv voicefm alg",
    "pocsag": "pocsag pager paging page pag poc pocsagpaging",
}
MODE_WORDS = {word: mode for mode, words in MODES.items() for word in words.split()}
#: words that only hint at a mode; what they give is a guess
MODE_HINTS = (
    (r"star", "dstar"), (r"four.?level", "c4fm"), (r"slot|tier|time.?div", "dmr"), (r"project|apco|25", "p25"),
    (
        r"narrow", "nxdn"), (r"17|seventeen", "m17"), (r"plain|analog|clear|\bfm\b", "fm"), (r"beep|pag|bleep|"
        r"poc",
        "pocsag",
    ),
)  # fmt: skip
SIDE_WORDS = {sameness(word): "air" for word in AIR.split()} | {sameness(word): "link" for word in LINK.split()}
#: spellings too short to be taken where nothing says that a side stands there
SHORT_SIDES = {"r": "air", "a": "air", "n": "link", "l": "", "g": "link", "w": "link", "in": "", "out": "", "i": "link"}
NOBODY = {
    "",
    "-",
    "--",
    "---",
    "?",
    "??",
    "n/a",
    "na",
    "none",
    "unknown",
    "nobody",
    "null",
    "nil",
    "anon",
    "anonymous",
    "noid",
    "*",
    "_",
    "unk",
    "n.n.",
    "nn",
    "(none)",
    "no-id",
    "noname",
    "somebody",
    "someone",
    "unidentified",
    "unnamed",
    "no call",
}

_NOBODY = re.compile(
    r"(?:an? )?(?:unknown|unnamed|unidentified|nobody|no[- ]?one|somebody|someone|anonymous|"
    r"no[ -](?:call|callsign|name|id|station))\b"
)

CAUSES = (
    (
        r"time[ -]?d?[ -]?out|timeout|time limit|\btot\b|too long|ran out|cut off|timer|limit|overrun|expired|"
        r"max(?:imum)?\b|\bto\b$",
        "timeout",
    ),
    (
        r"lost|fad(?:e|ed|ing)|gone|no signal|vanish|dropp?ed|weak|broke|dead|missing|loss|disappear|failed|"
        r"sync loss|nosync|out of sync",
        "lost",
    ),
    (
        r"releas|unkey|normal|let go|\bok\b|clean|complete|finish|eot|end of|terminator|\bend\b|ended|stopp|"
        r"done|good|fine|proper|regular|ptt|orderly|\brel\b|natural",
        "released",
    ),
)  # fmt: skip
REASONS = (
    (r"(?:other|another|different|foreign) mode", "other-mode"),  # whatever else is said
    (
        r"lock|penalty|barred|cool|punish|bann|suspend|after time|naughty|timed out|timeout|sin bin|sit out|"
        r"quarantine|\btot\b",
        "lockout",
    ),
    (
        r"slot|doubl|already (?:talk|in use|busy|active|keyed)|collision|same mode|talk(?:ing)? already|"
        r"occupied by (?:station|user)|\bbusy\b|contention",
        "busy",
    ),
    (r"other.?mode|another mode|held by|holds", "other-mode"),
)  # fmt: skip
#: words that only hint at a reason: whether it is another mode that holds, or somebody of the same, has to be asked
REASON_HINTS = (
    (r"in progress|other station|somebody talking|(?:channel|frequency) (?:in use|occupied|engaged)", "busy"),
    (
        r"mode|held|hold|belongs|someone|somebody|else|turn|foreign|different|occupied|engaged|in use|reserved|"
        r"hang|taken",
        "other-mode",
    ),
)  # fmt: skip

_SUFFIXED = re.compile(
    rf"(?:[A-Z0-9]{{1,4}}/)?{CALL_SIGN.pattern}(?:[ /_-]{{1,3}}[0-9A-Z]{{0,8}}|\s*\([^)]*\))?", CALL_SIGN.flags
)
SLOT_WORDS = {
    "first": 1,
    "one": 1,
    "i": 1,
    "1st": 1,
    "first slot": 1,
    "slot one": 1,
    "second": 2,
    "two": 2,
    "ii": 2,
    "2nd": 2,
    "second slot": 2,
    "slot two": 2,
}
_SLOT = re.compile(r"^(?:time[ _-]?slot|tslot|slot|ts|sl|s|t)?[ _#:=-]?([12])$", re.IGNORECASE)
_MERGED = re.compile(
    r"^(.*?[^0-9].*?|p25|m17|c4fm)?[ _/:.#@-]*(?:(?:time)?slot|ts|sl|s|t)?[ _/:.#-]*([12])$", re.IGNORECASE
)


@lru_cache(maxsize=100_000)
def mode_of(text: str) -> dict[str, Any] | None:
    """What a spelling says of the mode, and of the slot where it says that too; None where it is no spelling that is
    known.
    """
    same = sameness(text)
    if text.strip().lower() in ("d*", "d-*"):
        return {"mode": "dstar"}
    if same in MODE_WORDS:
        return {"mode": MODE_WORDS[same]}
    found = _MERGED.match(text.strip())
    if found and found[1] and MODE_WORDS.get(sameness(found[1])) == "dmr":
        return {"mode": "dmr", "slot": int(found[2])}
    front = re.match(r"^(?:ts|slot|s|t)?([12])[ _/:.#-]+(.+)$", text.strip(), re.IGNORECASE)
    if front and MODE_WORDS.get(sameness(front[2])) == "dmr":
        return {"mode": "dmr", "slot": int(front[1])}
    for ending in ("mode", "voice", "digital", "phase1", "p1", "rx", "net"):
        if same.endswith(ending) and same[: -len(ending)] in MODE_WORDS:
            return {"mode": MODE_WORDS[same[: -len(ending)]]}
    return None


def mode_hint(text: str) -> dict[str, Any] | None:
    """A guess at what an unknown spelling of a mode means."""
    for expression, mode in MODE_HINTS:
        if re.search(expression, text.lower()):
            found = _MERGED.match(text.strip())
            return {"mode": mode, "slot": int(found[2])} if mode == "dmr" and found else {"mode": mode}
    return None


@lru_cache(maxsize=50_000)
def slot_of(text: str) -> int | None:
    """1 or 2, where that is what the text says."""
    found = _SLOT.match(text.strip())
    return int(found[1]) if found else SLOT_WORDS.get(text.strip().lower())


@lru_cache(maxsize=50_000)
def side_of(text: str) -> str | None:
    """air or link; None where the spelling is not known."""
    same = sameness(text)
    for word in (
        same,
        same.removeprefix("from"),
        same.removeprefix("the"),
        same.removesuffix("in"),
        same.removesuffix("side"),
        same.removeprefix("via"),
    ):
        if word in SIDE_WORDS:
            return SIDE_WORDS[word]
    words = spaced(text).split()
    said = {SIDE_WORDS[word] for word in words if word in SIDE_WORDS}
    return said.pop() if 2 <= len(words) <= 3 and words[0] in SIDE_LEADS and len(said) == 1 else None


@lru_cache(maxsize=100_000)
def is_callsign(text: str) -> bool:
    """Whether this has a call sign's form, with or without a suffix."""
    return bool(_SUFFIXED.fullmatch(text.strip()))


def is_radio_id(text: str) -> bool:
    """Whether this can be a numeric radio id: within its bits, and as many digits as ids in use have (common practice,
    no source).
    """
    return 5 <= len(text) <= 8 and callsigns.is_radio_id(text)


@lru_cache(maxsize=50_000)
def nobody(text: str) -> bool:
    """Whether a text says that the station is not known."""
    said = text.strip().lower()
    return (
        said in NOBODY or said.strip("()[]<>{}") in NOBODY or (said.count(" ") < 4 and _NOBODY.match(said) is not None)
    )


@lru_cache(maxsize=50_000)
def cause_of(text: str) -> str | None:
    """The cause of an end that a phrase names."""
    return next((cause for expression, cause in CAUSES if re.search(expression, spaced(text))), None)


@lru_cache(maxsize=50_000)
def reason_of(text: str) -> str | None:
    """The reason of a refusal that a phrase names."""
    return next((reason for expression, reason in REASONS if re.search(expression, spaced(text))), None)


def reason_hint(text: str) -> str | None:
    """A guess at the reason of a refusal that a phrase names."""
    return next((reason for expression, reason in REASON_HINTS if re.search(expression, spaced(text))), None)


@lru_cache(maxsize=20_000)
def spaced(text: str) -> str:
    """Words apart and in lower case: `rxBegin`, `RX_BEGIN` and `rx-begin` are `rx begin`."""
    text = re.sub(r"(?i)\b(link|net|peer)(up|down)\b", r"\1 \2", text)
    return re.sub(r"[^a-z0-9]+", " ", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).lower()).strip()


def says(expression: str, text: str) -> int:
    """How many words or phrases of an expression stand in a spaced text."""
    return len(re.findall(rf"\b(?:{expression})\b", text))
