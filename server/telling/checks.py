"""What to look at first where an incident stands raised, and what a rule is called."""

#: A rule's name in a sentence.
TITLES = {
    "over-runs-on": "an over runs on",
    "duty": "the transmitter is keyed too much",
    "unlike-itself": "keyed far more than usual",
    "chatter": "short keyings that carry nothing",
    "gone-silent": "gone silent",
    "link-down": "a link is down",
    "intake": "the log is not read well",
    "reception": "reception has changed",
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
    "reception": (
        "Feeder and connectors, water in the cable, the preamplifier, then the antenna; the Reception page has more."
    ),
}
#: The same where the subject tells more than the rule does.
CHECKS_OF = {
    ("gone-silent", "air"): (
        "Is the receiver on, is its antenna in place? Lines of the log that come in show that the host runs."
    ),
    ("reception", "stronger"): "Was something mended or changed that day? The Reception page has more.",
    ("intake", "disk"): "Make room on the disk that the store lies on.",
    ("intake", "clock"): "Look at how this machine's clock is set, then run `airtally check`.",
}


def check(rule: str, subject: str) -> str:
    """What to look at first."""
    return CHECKS_OF.get((rule, subject), CHECKS[rule])
