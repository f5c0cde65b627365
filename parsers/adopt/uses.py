"""What each event can use of what a line tells."""

from collections.abc import Sequence

from parsers.adopt.model import Sample, Shape

#: which of our keys an event can use; others in its shape are not asked for
USES = {
    "over-start": ("mode", "slot", "side", "station", "target", "ber_pct", "loss_pct", "rssi_dbm", "session"),
    "over-end": (
        "mode",
        "slot",
        "side",
        "station",
        "target",
        "duration",
        "cause",
        "ber_pct",
        "loss_pct",
        "rssi_dbm",
        "session",
    ),
    "over": ("mode", "slot", "side", "station", "target", "duration", "cause", "ber_pct", "loss_pct", "rssi_dbm"),
    "refused": ("mode", "slot", "side", "station", "target", "reason"),
    "page": ("mode", "target", "duration"),
    "link-up": ("mode", "network", "target"),
    "link-down": ("mode", "network", "target"),
    "carrier-up": ("rssi_dbm",),
    "carrier-down": ("rssi_dbm",),
}


def drop_unfit(shapes: Sequence[Shape], sample: Sample) -> None:
    """Takes away keys that the shape's event has no use for, and events that lack what they need."""
    for shape in shapes:
        if shape.event == "over" and shape.column("duration") is None:
            shape.event = "ignore"
        if sample.envelope == "none" and -1 not in shape.parts:
            shape.event = "ignore"  # without a stamp of its own its instant can't be known
        uses = USES.get(shape.event, ())
        for column in shape.columns:
            if column.key not in uses:
                column.key = "_"
        shape.set = {key: value for key, value in shape.set.items() if key in uses}
