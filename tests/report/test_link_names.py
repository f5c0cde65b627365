"""A link has one name: in the report's table, in an alert's subject and in its sentence (definitions.md, Links)."""

from pathlib import Path

from shared.zones import DAY, HOUR, iso
from tests.report.worlds import alive, london, world


def test_report_page_and_alert_name_a_link_alike(tmp_path: Path) -> None:
    start = london("2026-10-01")
    lines = alive(start, start + 3 * DAY)
    link = {"network": "moorland", "mode": "dmr", "target": "99920"}
    lines += [
        {"t": iso(start + HOUR), "event": "link-up", **link},
        {"t": iso(start + 20 * HOUR), "event": "link-down", "network": "moorland"},
    ]
    source = world(tmp_path / "hill", sorted(lines, key=lambda line: line["t"]))
    (told,) = source.month("2026-10").links
    (alert,) = [one for one in source.alerts().look_back(start, start + 3 * DAY).replayed if one.rule == "link-down"]
    assert told.name == alert.subject == "moorland, DMR 99920"
    assert alert.says.startswith("The link to moorland, DMR 99920 has been down since 20:00:00 on Thu 1 Oct 2026")
