"""The words of an activity line."""

MODES = ("dstar", "dmr", "c4fm", "p25", "nxdn", "m17", "fm", "pocsag")
MODE_LABELS = {
    "dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25",
    "nxdn": "NXDN", "m17": "M17", "fm": "FM", "pocsag": "POCSAG",
}  # fmt: skip
EVENTS = (
    "over-start", "over-end", "over", "refused", "carrier-up", "carrier-down",
    "link-up", "link-down", "page", "host-start", "host-stop", "alive",
)  # fmt: skip
SIDES = ("air", "link")
CAUSES = ("released", "timeout", "lost")
REASONS = ("other-mode", "busy", "lockout")
TEXT_KEYS = ("station", "target", "network")
TEXT_LIMIT = 64  # characters in station, target and network

UNDERSTOOD, IGNORED, UNREAD = 0, 1, 2  # what became of a line
