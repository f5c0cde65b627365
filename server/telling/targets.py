"""What a target is called: by its label in the station file where it has one, else as the log has it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Protocol, TypeVar

from shared.events import MODE_LABELS

FLAPPING = " flapping"  #: after a link's name: the subject of its being lost again and again


class Labelled(Protocol):
    """A target of the station file."""

    @property
    def mode(self) -> str | None: ...  # None: of any mode
    @property
    def name(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def reach(self) -> str: ...


@dataclass(frozen=True)
class Reach:
    """How far a transmission to a target goes: `local`, `regional` or `wide`."""

    mode: str | None  #: None: of any mode
    called: str
    reach: str


class OfSubject(Protocol):
    """An incident, which is a dataclass."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def subject(self) -> str: ...
    @property
    def says(self) -> str: ...


Incident = TypeVar("Incident", bound=OfSubject)


class TargetNames:
    """The labels of a station's targets."""

    def __init__(self, targets: Iterable[Labelled] = ()) -> None:
        targets = tuple(targets)
        #: of the targets that the station file names, in its order
        self.reaches = tuple(Reach(target.mode, target.label or target.name, target.reach) for target in targets)
        self._reach = {(target.mode, target.name): target.reach for target in targets}
        self._labels = {(target.mode, target.name): target.label for target in targets if target.label}

    def reach_of(self, mode: str | None, target: str) -> str | None:
        """`local`, `regional` or `wide`; None where the station file does not name the target."""
        return self._reach.get((mode, target)) or self._reach.get((None, target))

    def labels(self) -> dict[tuple[str | None, str], str]:
        """By mode (None: any) and name."""
        return dict(self._labels)

    def label_of(self, mode: str | None, target: str) -> str | None:
        """Its label; None where the station file has none."""
        return self._labels.get((mode, target)) or self._labels.get((None, target))

    def of_target(self, mode: str | None, target: str) -> str:
        """`All fells` for 99950 in DMR."""
        return self.label_of(mode, target) or target

    def of_link(self, link: str) -> str:
        """`fellnet, DMR All fells` for `fellnet, DMR 99950`: a link is known by what the log says, and told by
        label."""
        for (mode, target), label in self._labels.items():
            for word in (mode,) if mode else MODE_LABELS:
                to = f"{MODE_LABELS.get(word, word)} {target}"
                if link == to or link.endswith(f", {to}"):
                    return f"{link[: -len(target)]}{label}"
        return link

    def of_incident(self, incident: Incident) -> Incident:
        """An incident told with labels; only what is shown may be changed so, as the subject is what it is known by."""
        link = incident.subject.removesuffix(FLAPPING)
        told = self.of_link(link)
        if told == link:
            return incident
        more = incident.subject.removeprefix(link)
        return replace(incident, subject=told + more, says=incident.says.replace(link, told))
