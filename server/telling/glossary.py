"""What each figure of the report means, in a line, with the standard that it follows: docs/definitions.md in short."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Term:
    """A figure's name, what it means, and its name among the definitions (server.web.definitions.ANCHORS)."""

    name: str
    meaning: str
    figure: str


GLOSSARY = (
    Term("Over", "One continuous transmission in one mode, received by radio or over a link.", "over"),
    Term("Airtime", "Time that overs cover; where overs overlap it counts once. So the modes can add up to more than "
        "the channel.", "airtime"),
    Term("Occupancy", "Airtime of the channel over the time that was seen; as Recommendation ITU-R SM.1880, measured "
        "continuously.", "occupancy"),
    Term("Keyed time", "Airtime with the transmitter’s tail after each over.", "keyed time"),
    Term("Erlang", "Traffic: time occupied over time seen; a mode’s time slots are added (ITU-T E.600, from "
        "memory).", "erlang"),
    Term("Busy hour", "The 60 minutes of the day with most traffic on average over the month’s whole days: "
        "time-consistent (ITU-T E.600, from memory).", "busy hour"),
    Term("Hold", "After an over the repeater stays with its mode for some seconds; idle hold is the part of it with "
        "nothing on the air.", "idle hold"),
    Term("Shut-out", "A call refused because another mode held the repeater. The wait is to the end of that "
        "hold.", "shut-out"),
    Term("Shut-out risk", "Share of the seen time in which other modes hold: the chance that a caller at a random "
        "moment finds the repeater held "
         "(Poisson arrivals see time averages).", "shut-out risk"),
    Term("Likely waiter", "Estimated: an over received by radio that began less than 3 s after another mode let "
        "go.", "likely waiter"),
    Term("Doubling", "Two stations at once on one mode and slot for 0.5 s or more, or a call refused as "
        "busy.", "doubling"),
    Term("Time-out", "An over that the repeater cut for its length. Near: nine tenths of the time-out or more. By "
        "length, where the log doesn’t say: "
         "estimated, and never added to those logged.", "timeout"),
    Term("Conversation", "At least two overs of two stations on one target, with pauses of 30 s at most. A turnaround "
        "gap is the pause between two "
         "speakers; a short one leaves no room to break in.", "conversation"),
    Term("Local talk on a wide target", "A conversation on a target that reaches wide, with every over received by "
        "radio here.", "local on wide"),
    Term("Kerchunk", "An over received by radio, shorter than 1.5 s, in no conversation.", "kerchunk"),
    Term("Duty", "The greatest keyed share of any 6, 30 or 60 minutes that end in the month: exact, not "
        "sampled.", "duty"),
    Term("Link availability", "Time up over the time in which the log tells whether a link was up or "
        "down.", "link availability"),
    Term("Blind time", "Nothing is known of it: before the first line of a log and after its last, while the host was "
        "stopped, or while no log wrote a line for longer than quiet_log_s, where that is set.", "blind time"),
    Term("Usual", "The median of the four months before; a month of which less than half was seen is left out. "
        "Notable: more than 2.5 scaled median "
         "absolute deviations from the median of the last 13 months, 6 of them seen.", "change"),
)  # fmt: skip
