"""The words of an activity line."""

MODES = (
    "c4fm",
    "dmr",
    "dstar",
    "fm",
    "m17",
    "nxdn",
    "p25",
    "pocsag",
)  # alphabetical: the order wherever an order is needed
MODE_LABELS = {
    "c4fm": "C4FM", "dmr": "DMR", "dstar": "D-STAR", "fm": "FM",
    "m17": "M17", "nxdn": "NXDN", "p25": "P25", "pocsag": "POCSAG",
}  # fmt: skip
EVENTS = (
    "over-start", "over-end", "over", "refused", "carrier-up", "carrier-down",
    "link-up", "link-down", "page", "host-start", "host-stop", "alive",
)  # fmt: skip
SIDES = ("air", "link")
CAUSES = ("released", "timeout", "lost")
REASONS = ("other-mode", "busy", "lockout")
TEXT_KEYS = ("station", "target", "network", "session")
TEXT_LIMIT = 64  # characters in each of them
COUNT_KEYS = ("bit_rate", "code_words", "characters")  # of a page: whole numbers

UNDERSTOOD, IGNORED, UNREAD = 0, 1, 2  # what became of a line
