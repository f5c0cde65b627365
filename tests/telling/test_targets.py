"""What targets are called, wherever they are told of."""

from dataclasses import dataclass

import pytest

from server.telling.targets import TargetNames


@dataclass(frozen=True)
class Target:
    mode: str | None
    name: str
    label: str
    reach: str = "local"


@dataclass(frozen=True)
class Incident:
    subject: str
    says: str


NAMES = TargetNames(
    [Target("dmr", "99950", "All fells"), Target(None, "FELLS C", "Fells of the world"), Target("dmr", "99901", "")]
)


@pytest.mark.parametrize(
    ("mode", "target", "told"),
    [
        ("dmr", "99950", "All fells"),
        ("p25", "99950", "99950"),
        ("dstar", "FELLS C", "Fells of the world"),
        (None, "FELLS C", "Fells of the world"),
        ("dmr", "99901", "99901"),
    ],
)
def test_a_target_is_told_by_its_label_in_its_mode(mode: str | None, target: str, told: str) -> None:
    assert NAMES.of_target(mode, target) == told


@pytest.mark.parametrize(
    ("link", "told"),
    [
        ("fellnet, DMR 99950", "fellnet, DMR All fells"),
        ("DMR 99950", "DMR All fells"),
        ("ghyllnet, D-STAR FELLS C", "ghyllnet, D-STAR Fells of the world"),
        ("fellnet, P25 99950", "fellnet, P25 99950"),
        ("fellnet, DMR 199950", "fellnet, DMR 199950"),
        ("fellnet", "fellnet"),
        ("link", "link"),
    ],
)
def test_a_link_is_told_by_the_label_of_its_target(link: str, told: str) -> None:
    assert NAMES.of_link(link) == told


@pytest.mark.parametrize("more", ["", " flapping"])
def test_an_incident_of_a_link_is_told_with_the_label(more: str) -> None:
    incident = Incident("fellnet, DMR 99950" + more, "The link to fellnet, DMR 99950 has been down.")
    told = NAMES.of_incident(incident)
    assert told == Incident("fellnet, DMR All fells" + more, "The link to fellnet, DMR All fells has been down.")


def test_an_incident_of_anything_else_stays_as_it_is() -> None:
    incident = Incident("log host.log", "No line has been written to host.log.")
    assert NAMES.of_incident(incident) is incident
