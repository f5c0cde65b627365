"""Knowledge of the trade: how modes, sides, causes and stations are spelt, and which words go with which event.

The words are terms of the trade, of open standards and of plain English; none is taken from a host. The form of
call signs is in shared.callsigns.
"""

import re
from functools import lru_cache
from typing import Any

from parsers.adopt.tokens import sameness
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
AIR = (
    "air rf radio rx local ota offair onair overair overtheair fromair antenna aerial receiver uhf vhf ether input ant "
    "onairrx airside rxair "
    "radioside rfside off-air locally rfin airborne hf direct handheld mobile"
)
LINK = (
    "net network link gateway gw remote internet inet ip lan wan wire web server peer linked line lnk nw trunk "
    "uplink online wired "
    "netside networkside linkside fromnet fromnetwork fromlink iplink upstream backhaul cloud stream bridge distant far"
)
SIDE_WORDS = {sameness(word): "air" for word in AIR.split()} | {sameness(word): "link" for word in LINK.split()}
#: spellings too short to be taken where nothing says that a side stands there
SHORT_SIDES = {"r": "air", "a": "air", "n": "link", "l": "", "g": "link", "w": "link", "in": "", "out": "", "i": "link"}
SIDE_LEADS = {"from", "via", "on", "by", "off", "over", "the", "through"}
SIDE_NAMES = [
    "side",
    "from",
    "via",
    "source",
    "src",
    "origin",
    "path",
    "port",
    "dir",
    "direction",
    "where",
    "leg",
    "feed",
    "way",
    "interface",
    "iface",
    "medium",
    "route",
]
MODE_NAMES = [
    "mode",
    "sys",
    "system",
    "proto",
    "protocol",
    "modulation",
    "modem",
    "kind",
    "type",
    "service",
    "codec",
    "vocoder",
    "m",
    "md",
    "standard",
    "format",
]
SLOT_NAMES = ["slot", "ts", "timeslot", "tslot", "sl", "time_slot", "tdma"]
STATION_NAMES = [
    "station",
    "from",
    "by",
    "call",
    "callsign",
    "sign",
    "who",
    "src",
    "source",
    "caller",
    "user",
    "id",
    "operator",
    "sender",
    "origin",
    "heard",
    "unit",
    "radio",
    "subscriber",
    "talker",
    "name",
    "op",
    "speaker",
    "person",
    "de",
    "sid",
    "uid",
    "rid",
    "party",
    "originator",
    "transmitter",
]
TARGET_NAMES = [
    "to",
    "target",
    "tg",
    "talkgroup",
    "dest",
    "destination",
    "dst",
    "group",
    "reflector",
    "calling",
    "towards",
    "toward",
    "for",
    "into",
    "ref",
    "module",
    "tgt",
    "goal",
    "called",
    "callee",
    "at",
    "on",
    "talk",
    "gid",
    "grp",
    "channel",
]
TARGETLY = {
    "to",
    "target",
    "tg",
    "talkgroup",
    "dest",
    "destination",
    "dst",
    "group",
    "reflector",
    "calling",
    "towards",
    "tgt",
    "called",
    "callee",
    "gid",
    "grp",
    "goal",
}
ARROWS = {">", "->", "=>", ">>", "→"}
DURATION_NAMES = [
    "after",
    "for",
    "dur",
    "duration",
    "len",
    "length",
    "lasted",
    "secs",
    "seconds",
    "sec",
    "airtime",
    "took",
    "time",
    "elapsed",
    "t",
    "ms",
    "frames",
    "talked",
    "spoke",
    "held",
    "total",
    "runtime",
    "spent",
    "keyed",
    "millis",
    "ran",
    "span",
    "talktime",
    "f",
    "frame",
    "duree",
    "msec",
    "air",
    "lasting",
    "d",
]
BER_NAMES = [
    "ber",
    "err",
    "error",
    "errors",
    "biterrors",
    "bit",
    "bits",
    "fec",
    "errs",
    "errate",
    "quality",
    "q",
    "biterr",
    "error_rate",
    "rate",
    "e",
]
LOSS_NAMES = [
    "loss",
    "lost",
    "lossy",
    "missing",
    "missed",
    "miss",
    "drop",
    "drops",
    "dropped",
    "packets",
    "pkt",
    "plr",
    "pl",
    "gaps",
    "lossrate",
    "missingframes",
    "l",
]
RSSI_NAMES = [
    "rssi",
    "level",
    "signal",
    "strength",
    "lvl",
    "sig",
    "dbm",
    "power",
    "s",
    "rx_level",
    "field",
    "rxlevel",
    "rssidbm",
]
NETWORK_NAMES = [
    "network",
    "peer",
    "net",
    "server",
    "master",
    "host",
    "link",
    "gateway",
    "hub",
    "node",
    "to",
    "with",
    "from",
    "remote",
]
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

START = (
    r"start(?:s|ed|ing)?|begin(?:s|ning)?|began|begun|open(?:s|ed|ing)?|keyed|keys?|keydown|pressed|press|ptt|"
    r"header|incoming|rise[sn]?|rising|onset|takes?|took|speak(?:s|ing)?|talk(?:s|ing)|up|on|new|enter(?:s|ed)?|"
    r"acquired?|lift(?:s|ed)?|seize[sd]?|grabs?|live|bot|sot|stx|active|go|heard|hears|hearing|detected|"
    r"arriv(?:es|ed|al)|comes?|came|head|hello|raised|activity|sync|latched|receiving|busy|transmitting|first|"
    r"calls|began|launch(?:ed)?|attack|beginning|tx|in|hi|rxon|head"
)
END = (
    r"end(?:s|ed|ing)?|clos(?:e|es|ed|ing)|shuts?|stop(?:s|ped)?|finish(?:es|ed)?|done|over|eot|unkey(?:ed|s)?|"
    r"releas(?:e|es|ed)|off|down|lasted|gone|drop(?:s|ped)?|clear(?:s|ed)?|trailer|tail|terminat(?:or|ed|es)|"
    r"last|leaves?|left|complete[ds]?|idle|bye|etx|fell|fall(?:s|en)?|silent|quiet|after|freed?|unlatched|let|"
    r"vacat(?:es|ed)|ceas(?:es|ed)|goodbye|fini|conclud(?:es|ed)|summary|stats|spoke|talked|out|total|ran|eox|"
    r"expired|closing|exit|rxoff|lost|timeout"
)
REFUSED = (
    r"refus(?:es|ed|al|ing)?|den(?:y|ied|ies)|reject(?:s|ed|ion)?|turned away|not let|would not|blocked|block|"
    r"barred|locked|lockout|declin(?:es|ed)|shut out|shutout|no entry|nak|inhibit(?:ed)?|preempted|bounced?|"
    r"sent away|kept out|can ?not|may not|forbidden|not allowed|ignored call|unable|wait(?:s|ing)? outside|"
    r"no admittance|busy for|dismissed|held off|won t|wont|not admitted|no room|no access"
)
LINK_WORDS = (
    r"link(?:s|ed|ing)?|unlink(?:ed)?|connect(?:s|ed|ion|ing)?|disconnect(?:s|ed|ion)?|log(?:ged)? ?(?:in|on|"
    r"out|off)|login|logout|logon|logoff|peer|registered|deregistered|shook hands|handshake|gateway|network|"
    r"uplink|trunk|tunnel|joined|parted|reconnect(?:ed)?|session|answers|line|bridge|attach(?:ed)?|"
    r"detach(?:ed)?|net|server|reachable|unreachable|socket|wire|far end|reflector"
)
UP_WORDS = (
    r"up|made|established|connected|connects|linked|joined|in|on|logged in|login|logon|open(?:ed)?|ready|online|"
    r"restored|back|ok|registered|shook|attach(?:ed)?|reconnected|alive|accepted|begun|started|active|again|"
    r"caught|gained|reachable|hello|healthy|live|join"
)
DOWN_WORDS = (
    r"down|dropp?e?d?|lost|disconnected|disconnects?|unlinked|parted|off|out|closed?|gone|no longer|offline|"
    r"failed|timed out|timeout|broke|broken|away|deregistered|detach(?:ed)?|unreachable|dead|ended|severed|"
    r"hung up|silent|stopped|loses|lose|fell|fallen|died|cut|drop|leave|part|let go"
)
CARRIER = (
    r"carrier|noise|noisy|squelch|interference|undecoded|hum(?:ming)?|hiss|unknown signal|signal|mush|rfi|qrm|"
    r"splat|undecodable|buzz|sql|cos|cor|unmodulated|unidentified|junk|crackle|gibberish"
)
PAGE = r"pag(?:e|es|ed|er|ing)|pocsag|ric|beep(?:ed)?|bleep(?:ed)?|message sent|alert tone|pgr|poc"
HOST = (
    r"host|system|daemon|service|program|process|engine|controller|controller|repeater|station|box|node|"
    r"software|version|build|boot(?:ed|ing)?|reboot(?:ed)?|power(?:ed)?|firmware|good (?:morning|night)|"
    r"initiali[sz]ed|init|daemon|main|core|logger|logging|unit|machine|self|hello|goodbye|awake|shutdown|"
    r"restart(?:ed|ing)?|startup|sys|log|app|kernel|supervisor|wakes?|sleep(?:s|ing)?"
)
HOST_UP = (
    r"up|start(?:s|ed|ing|up)?|boot(?:ed|ing|s)?|reboot(?:ed)?|ready|morning|initiali[sz]ed|init|powered|began|"
    r"begin|begins|running|launch(?:ed)?|hello|awake|wakes?|woke|open(?:ed)?|online|restart(?:ed|ing)?|version|"
    r"build|cold|warm|alive"
)
HOST_DOWN = (
    r"down|stop(?:s|ped|ping)?|shut(?:ting)?(?: down)?|shutdown|exit(?:s|ed|ing)?|night|terminat(?:ed|ing|es)|"
    r"quit(?:s|ting)?|goodbye|bye|halt(?:ed|ing)?|kill(?:ed)?|asleep|sleep(?:s|ing)?|clos(?:ed|ing)|end(?:s|"
    r"ed)?|off|leaving|stood"
)
ALIVE = (
    r"alive|heart ?beat|beat|tick(?:s)?|keep ?alive|ping|still (?:here|alive|up|running)|well|health(?:y)?|"
    r"pulse|watching|all quiet|idle|status|uptime|hb|life|breathing|ok"
)
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
