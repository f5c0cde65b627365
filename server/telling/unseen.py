"""What is said of a stretch of time of which nothing was seen."""

DAYS = "Nothing is known of these days: no log tells of them."
NOTHING_SEEN = "Nothing of this window was seen, so no figure is known."
OTHERS = "Choose other days, or look at Intake."
#: Of days without a line that count as seen, since no longest silence is set (docs/definitions.md, Seen time).
NO_LINE = "No line was logged in these days; as `quiet_log_s` is not set they count as a quiet repeater."
NO_LINE_LOOK = (
    "Set `quiet_log_s` under `[timers]`: longer silences are blind time then. `airtally check` proposes a value."
)
