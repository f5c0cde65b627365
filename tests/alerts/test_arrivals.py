"""Lines that have no stamp of their own count by when they came (docs/definitions.md, Alerts)."""

import os
from pathlib import Path

from server.alerts.limits import MINUTE
from server.alerts.repository import incidents
from server.config import load_station
from server.intake.again import read_again
from server.store import schema
from server.store.arrivals import NO_STAMP
from server.store.engine import reading
from shared.zones import DAY, HOUR
from tests.alerts.hill import NIGHT, Clock, Hill, Hook, append, line, station_in

WEEKS = 8  # of history: a log's habit is known from a week on


def came(hill: Hill, at: int, *lines: str) -> None:
    """Lines are appended at an instant, and read then."""
    append(hill.folder, *lines)
    log = hill.folder / "host.log"
    os.utime(log, ns=(at * 1000, at * 1000))
    hill.at(at)


def with_a_habit(hill: Hill, last: int) -> None:
    """A sign of life every 10 minutes for eight weeks, the last one at an instant."""
    stamps = range(last - WEEKS * 7 * DAY, last + 1, 10 * MINUTE)
    came(hill, last, *(line(at, "alive") for at in stamps))


def test_lines_without_a_stamp_that_come_are_an_intake_alert_and_no_silence(hill: Hill, hook: Hook) -> None:
    last = NIGHT + 12 * HOUR
    with_a_habit(hill, last)
    now = last + 20 * MINUTE
    came(hill, now, *(f"another form of line {n}\n" for n in range(100)))
    came(hill, last + 70 * MINUTE, *(f"another form of line {n}\n" for n in range(200)))
    open_now = [(rule, subject) for rule, subject, _, cleared in hill.incidents() if cleared is None]
    assert ("intake", "lines") in open_now and not [one for one in open_now if one[0] == "gone-silent"]
    assert [at for rule, _, at, _ in hill.incidents() if rule == "intake"] == [now]
    assert not any("power on site" in body["message"] for _, body in hook.posted)


def test_without_such_lines_the_log_has_gone_silent(hill: Hill, hook: Hook) -> None:
    last = NIGHT + 12 * HOUR
    with_a_habit(hill, last)
    hill.at(last + 70 * MINUTE)
    assert [(rule, subject) for rule, subject, *_ in hill.incidents()] == [("gone-silent", "log host.log")]
    assert "power on site" in hook.posted[0][1]["message"]


def test_lines_that_are_read_again_keep_when_they_came_and_are_unread_no_more(hill: Hill) -> None:
    last = NIGHT + 12 * HOUR
    came(hill, last, *(f"another form of line {n}\n" for n in range(60)))
    (hill.folder / "mine.toml").write_text(
        '[dialect]\nname = "mine"\ntime = "iso"\n[[line]]\nevent = "ignore"\ntext = "another form of line {_}"\n'
        '[[line.sample]]\ntext = "another form of line 1"\ngives = { event = "ignore" }\n'
    )
    settings = hill.folder / "station.toml"
    settings.write_text(settings.read_text().replace('path = "host.log"', 'path = "host.log"\ndialect = "mine"'))
    read_again(hill.engine, load_station(settings))
    with reading(hill.engine) as connection:
        (row,) = connection.execute(schema.arrival.select()).all()
    assert (row.at, row.stamp, row.lines, row.unread) == (last, NO_STAMP, 60, 0)


def test_a_log_of_which_no_line_is_understood_is_an_alert_from_the_first_look_on(tmp_path: Path, hook: Hook) -> None:
    (tmp_path / "host.log").write_text("".join(f"a line of another host {n}\n" for n in range(9225)))
    old = NIGHT - DAY
    os.utime(tmp_path / "host.log", ns=(old * 1000, old * 1000))
    hill = Hill(tmp_path, station_in(tmp_path, [hook.url]), Clock(NIGHT))
    (tmp_path / "host.log").write_text("".join(f"a line of another host {n}\n" for n in range(9225)))
    os.utime(tmp_path / "host.log", ns=(old * 1000, old * 1000))
    hill.at(NIGHT + 12 * HOUR)
    hill.at(NIGHT + 13 * HOUR)
    with reading(hill.engine) as connection:
        (one,) = incidents(connection)
    assert (one.rule, one.subject, one.cleared) == ("intake", "log host.log", None)
    assert "Not one of the 9,225 lines of host.log could be read" in one.says
    came(hill, NIGHT + 14 * HOUR, line(NIGHT + 14 * HOUR, "alive"))
    with reading(hill.engine) as connection:
        assert incidents(connection)[0].cleared == NIGHT + 14 * HOUR
    hill.close()
