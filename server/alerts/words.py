"""What incidents say: plain sentences, local times, and never who was on."""

from zoneinfo import ZoneInfo

from shared.events import MODE_LABELS, MODES
from shared.zones import SECOND, from_us

TITLES = {
    "over-runs-on": "an over runs on",
    "duty": "the transmitter is keyed too much",
    "unlike-itself": "keyed far more than usual",
    "chatter": "short keyings that carry nothing",
    "gone-silent": "gone silent",
    "link-down": "a link is down",
    "intake": "the log is not read well",
}
CHECKS = {
    "over-runs-on": (
        "Listen on the output: is there a carrier, is anybody talking? If there is a carrier and no talk, close the"
        " transmitter down by remote control. If there is none, the end of the over is missing in the log: look at the"
        " host."
    ),
    "duty": (
        "Listen on the output: are people talking? If not, close the transmitter down by remote control, then look at"
        " receiver, links and host."
    ),
    "unlike-itself": (
        "Listen on the output: is it a net or a contest? If nobody talks, close the transmitter down by remote control."
    ),
    "chatter": (
        "Listen on the input for interference; raise the squelch or have the tone checked; on the link side, look at"
        " the link's connection."
    ),
    "gone-silent": "Is the host running, is there power on site? Then `airtally check`.",
    "link-down": "Look at the site's connection to the internet, then at the far end of the link.",
    "intake": "Open the Intake page, and run `airtally check`.",
}


#: The same where the subject tells more than the rule does.
CHECKS_OF = {
    ("gone-silent", "air"): (
        "Is the receiver on, is its antenna in place? Lines of the log that come in show that the host runs."
    ),
    ("intake", "disk"): "Make room on the disk that the store lies on.",
    ("intake", "clock"): "Look at how this machine's clock is set, then run `airtally check`.",
}


def check(rule: str, subject: str) -> str:
    """What to look at first."""
    return CHECKS_OF.get((rule, subject), CHECKS[rule])


def length(us: float) -> str:
    """A stretch of time: `42 s`, `3 min 10 s`, `2 h 5 min`, `3 days 4 h`."""
    whole = round(us / SECOND)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    if whole < 48 * 3600:
        return f"{whole // 3600} h" + (f" {whole % 3600 // 60} min" if whole % 3600 // 60 else "")
    return f"{whole // 86400} days" + (f" {whole % 86400 // 3600} h" if whole % 86400 // 3600 else "")


def percent(share: float) -> str:
    """`98 %`, with a digit more near the whole."""
    return f"{100 * share:.1f}".removesuffix(".0") + " %" if 0.98 < share < 1 else f"{100 * share:.0f} %"


def moment(us: int, zone: ZoneInfo) -> str:
    """`03:13:10 on Wed 18 Nov 2026`, local."""
    local = from_us(us, zone)
    weekday = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[local.weekday()]
    month = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")[local.month - 1]
    return f"{local:%H:%M:%S} on {weekday} {local.day} {month} {local.year}"


def subject(mode: int, slot: int) -> str:
    """The subject of what happens in a mode: `dmr/1`, `dstar`; `channel` where the log names no mode."""
    return "channel" if mode < 0 else MODES[mode] + (f"/{slot}" if slot else "")


def stream(mode: int, slot: int) -> str:
    """The same for a sentence: `A DMR over in slot 1`, `A D-STAR over`, `An over`."""
    if mode < 0:
        return "An over"
    label = MODE_LABELS[MODES[mode]]
    return f"{'An' if label[0] in 'FNM' else 'A'} {label} over" + (f" in slot {slot}" if slot else "")
