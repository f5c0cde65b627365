"""What a link is called: one name for it in the report, on pages and in alerts."""

from shared.events import MODE_LABELS

NAMELESS = "link"


def the_link(name: str) -> str:
    """`The link to moorland, DMR 99920`; `The link` where the log gives no name."""
    return "The link" if name == NAMELESS else f"The link to {name}"


def link_name(network: str | None, mode: str | None, target: str | None) -> str:
    """`moorland, DMR 99920`: network, mode and target, as far as the log gives them."""
    to = " ".join(part for part in (MODE_LABELS.get(mode or "", mode), target) if part)
    return ", ".join(part for part in (network, to) if part) or NAMELESS
