"""The links of a month, by names that are nobody's: the figures of the Links page (docs/definitions.md, Links)."""

from collections.abc import Collection, Sequence
from dataclasses import replace

from server.analytics.links import LinkFigures
from server.report.privacy import may_be_somebody, settable
from server.telling.links import link_name
from server.telling.period import NamedLink
from server.telling.targets import TargetNames

NOBODY = (None, None, None)


def named_links(
    found: Sequence[LinkFigures], people: Collection[str], own: str, names: TargetNames
) -> tuple[NamedLink, ...]:
    """Links by name; one that may be somebody's hotspot is only numbered; one that nothing is known of is left out."""
    known = sorted(((link_name(*its.key), its) for its in found if its.known_s), key=lambda link: link[0])

    def shown(number: int, name: str) -> str:
        told = names.of_link(name)
        hidden = may_be_somebody(name, people, own) or may_be_somebody(told, people, own)
        return f"Link {number}" if hidden else settable(told)

    return tuple(
        NamedLink(shown(number, name), replace(its, key=NOBODY)) for number, (name, its) in enumerate(known, start=1)
    )
