"""What a link is called: one name for it in the report, on pages and in alerts."""

from server.analytics.links import LinkFigures, Links
from server.telling.numbers import GAP, UNKNOWN, count, duration, verb, whole_number
from server.telling.parts import Label
from server.telling.targets import TargetNames
from server.telling.words import NONE, fine_percent, percent
from shared.events import MODE_LABELS

NAMELESS = "link"


def the_link(name: str) -> str:
    """`The link to moorland, DMR 99920`; `The link` where the log gives no name."""
    return "The link" if name == NAMELESS else f"The link to {name}"


def link_name(network: str | None, mode: str | None, target: str | None) -> str:
    """`moorland, DMR 99920`: network, mode and target, as far as the log gives them."""
    to = " ".join(part for part in (MODE_LABELS.get(mode or "", mode), target) if part)
    return ", ".join(part for part in (network, to) if part) or NAMELESS


#: Heads of what is told of a link's being up, in order of `availability_cells`.
AVAILABILITY = (
    Label("Available", "link availability"), Label("Down", "link outage"), Label("Outages", "link outage"),
    Label("Flaps", "flap"), Label("Longest outage", "link outage"),
)  # fmt: skip
#: Heads of what a link brought, in order of `traffic_cells`.
TRAFFIC = (
    Label("Overs", "link traffic"), Label("Airtime", "link traffic"), Label("Loss", "link loss"),
    Label("In overs above 5\u00a0%", "link loss"),
)  # fmt: skip
NO_LINKS = "No line of the log tells of a link up to then."
NO_LINKS_LOOK = (
    "A link is what `link-up` and `link-down` lines name: where the host logs when it gains and loses its networks, "
    "give those lines to its dialect (`airtally dialect try` shows what it yields)."
)
FLAP_NOTE = "A flap is an outage shorter than 60\u00a0s; flaps are counted apart and are time down too."
LOSS_NOTE = "Loss is the mean over seconds; the last column is the share of these seconds in overs above 5\u00a0%."


def shown_name(its: LinkFigures, names: TargetNames) -> str:
    """The one name of a link, its target by its label."""
    return names.of_link(link_name(*its.key))


def never_up(found: Links, names: TargetNames) -> list[str]:
    """A sentence for each link of which the log tells that it was lost, and never that it came up."""
    return [
        f"{the_link(shown_name(one, names))} was never seen up: the log tells only that it was lost, so its "
        "availability and what it brings are not known."
        for one in found.links
        if one.known_s and one.availability is None
    ]


def availability_cells(its: LinkFigures) -> tuple[str, ...]:
    """Available, time down, outages, flaps, the longest outage."""
    longest = max((one.length_s for one in its.outages or ()), default=None)
    return (
        fine_percent(its.availability), duration(its.down_s),
        whole_number(None if its.outages is None else len(its.outages)), whole_number(its.flaps),
        UNKNOWN if its.outages is None else NONE if longest is None else duration(longest),
    )  # fmt: skip


def traffic_cells(its: LinkFigures) -> tuple[str, ...]:
    """Overs, airtime, mean loss, and the share of seconds above 5 %."""
    loss = UNKNOWN if its.loss_pct is None else f"{its.loss_pct:.1f}{GAP}%"
    return whole_number(its.overs), duration(its.airtime_s), loss, percent(its.loss_high_share)


def not_told_apart(found: Links) -> str:
    """How many overs are of no link in particular, and why; empty where there are none."""
    many, several = found.not_told_apart, sum(row.overs for row in found.apart if row.several)
    if not many:
        return ""
    are = verb(many, "is", "are")
    said = f"Of {count(found.overs, 'over')} that came over a link {whole_number(many)} {are} not told apart"
    if not found.links:
        return f"{said}: the log tells of no link by name."
    if not several:
        return f"{said}: {verb(many, 'it fits', 'they fit')} no link that was up."
    if several == many:
        return f"{said}: {verb(many, 'it fits', 'they fit')} more than one link that was up."
    return f"{said}: {whole_number(many - several)} fit no link that was up, and {whole_number(several)} more than one."
