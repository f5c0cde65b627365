"""An over that lasts for days: found as an alert of nine days that vanished when its end came."""

from pathlib import Path

from shared.zones import DAY, SECOND
from tests.alerts.hill import NIGHT, Clock, Hill, append, line, station_in


def test_an_alert_over_an_over_of_nine_days_stays_and_is_cleared_at_the_end_line(tmp_path: Path) -> None:
    clock = Clock(NIGHT)
    hill = Hill(tmp_path, station_in(tmp_path, []), clock)
    append(tmp_path, line(NIGHT, "over-start", mode="fm", side="air"))
    hill.at(NIGHT + SECOND)
    raised = NIGHT + 190 * SECOND
    for later in (200 * SECOND, 3 * DAY, 8 * DAY):
        hill.at(NIGHT + later)
        assert ("over-runs-on", "fm", raised, None) in hill.incidents()
    end = NIGHT + 9 * DAY
    append(tmp_path, line(end, "over-end", mode="fm", side="air"), line(end + SECOND, "alive"))
    hill.at(end + 2 * SECOND)
    assert [one for one in hill.incidents() if one[0] == "over-runs-on"] == [("over-runs-on", "fm", raised, end)]
    hill.close()
