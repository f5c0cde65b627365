"""A link has one name: in the report's table, in an alert's subject and in its sentence (definitions.md, Links)."""

from pathlib import Path

from server.report.sheet import sheet_of
from shared.zones import DAY, HOUR, iso, month_window
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


def test_report_and_command_tell_the_same_of_a_link(tmp_path: Path) -> None:
    start = london("2026-10-01")
    link = {"network": "moorland", "mode": "dmr", "target": "99920"}
    lost = ((20, 0.5), (30, 7), (60, 0.01), (61, 0.004))  # hours from the start, hours down; the last two are flaps
    lines = [*alive(start, start + 3 * DAY), {"t": iso(start + HOUR), "event": "link-up", **link}]
    for at, long in lost:
        lines.append({"t": iso(start + at * HOUR), "event": "link-down", "network": "moorland"})
        lines.append({"t": iso(start + round((at + long) * HOUR)), "event": "link-up", **link})
    source = world(tmp_path / "hill", sorted(lines, key=lambda line: line["t"]))
    (told,), window = source.month("2026-10").links, month_window("2026-10", source.station().zone)
    (found,) = source.links(*window).links
    assert (told.its.availability, told.its.down_s, told.its.outages, told.its.flaps) == (
        found.availability, found.down_s, found.outages, found.flaps
    )  # fmt: skip
    assert found.known_s == 70 * 3600 + 3000  # from the first line of it to the last line of all
    assert found.down_s == 7.5 * 3600 + 36 + 14.4 and len(found.outages or ()) == 2 and found.flaps == 2
    (row,) = sheet_of(source.month("2026-10")).links.rows
    assert row.cells == ("89.4\u00a0%", "7\u00a0h 31\u00a0min", "2", "2", "7\u00a0h")
