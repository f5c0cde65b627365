"""What to do next where nothing is there yet."""

NAME_A_LOG = (
    "Add a `[[log]]` with the path of the host’s log to station.toml; `airtally init` writes one by asking.",
    "Is the host’s log of a kind not known yet? `airtally adopt LOG` learns it.",
    "To see what the pages look like first, run `airtally demo`.",
)
READ_A_LOG = (
    "`airtally serve` reads each line as it is written to the log; `airtally ingest` reads what is there and stops.",
    "Is nothing coming? `airtally check` says whether the log is there, empty or closed to airtally.",
)
