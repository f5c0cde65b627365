"""Every caution that is shown, on pages, on paper, in notices, on terminals, in the station file and in the documents.

The licence, the regulator and competent persons decide what a transmitter may do; these sentences claim nothing of
their own. Imports nothing of ours, so that whoever shows a caution can take it from here."""

SAFETY = (
    "airtally is no safety device. The hardware time-out and the remote close-down that the licence asks for stay "
    "in charge."
)
DECIDE = "On duty, stuck transmitters and exposure the licence, the regulator and competent persons decide."
WORK = "Before anyone works on transmitter, feeder or mast, it is switched off and made safe by those who may."

#: Wherever duty, a stuck transmitter or exposure is shown, or a check of antenna, feeder or receiver is advised.
CAUTION = f"{SAFETY} {DECIDE} {WORK}"
#: In a notice, whose reader may have to act at once.
NOTICE = f"{SAFETY} Use the close-down if in doubt. {DECIDE} {WORK}"
#: Wherever a change of timers is spoken of.
TIMERS = "The time-out that the licence or the regulator asks for comes first."
#: Rules about the transmitter, and those whose first checks lead to receiver, feeder or antenna.
OF_THE_TRANSMITTER = frozenset({"over-runs-on", "duty", "unlike-itself", "chatter"})
CAREFUL = OF_THE_TRANSMITTER | {"gone-silent", "reception"}
#: Rules and subjects whose first checks lead to feeder or antenna.
TO_THE_ANTENNA = frozenset({("gone-silent", "air"), ("reception", "weaker")})
#: Beside an EIRP.
EXPOSURE = "Whether and how exposure is to be assessed is for the licence, the regulator and competent persons to say."

#: At the top of a sheet of distances.
SCREENING = (
    "This is a screening figure, not an assessment of exposure. Transmitters that share a site count together. "
    "The regulator's own method and a competent person decide."
)

#: One line for a terminal, which has few.
LINE = "airtally is no safety device: the hardware time-out and the remote close-down stay in charge."
TIMERS_LINE = f"airtally is no safety device. {TIMERS}"
