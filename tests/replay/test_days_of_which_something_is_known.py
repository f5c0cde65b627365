"""Days outside all logs are not quiet days: they are not drawn, and no suggestion rests on them."""

from pathlib import Path

from server.analytics.load import load_activity
from server.analytics.replay_days import day_edges, days_seen
from server.store.engine import reading
from shared.zones import DAY, HOUR
from tests.intake.conftest import T0, Folder, over_line


def test_a_log_of_five_days_gives_five_days_of_any_window(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    folder.write("host.log", b"".join(over_line(day * 86400 + hour * 3600) for day in range(5) for hour in range(20)))
    folder.catch_up()
    first = T0 * 1_000_000
    window = (first - 20 * DAY, first + 20 * DAY)
    with reading(folder.engine) as connection:
        activity = load_activity(connection, *window)
    edges = day_edges(window, folder.station.zone)
    assert len(edges) > 40
    assert (
        5 <= days_seen(edges, activity.blind).sum() <= 6
    )  # five times 24 hours touch six dates where they begin after midnight
    assert (edges[-1] - edges[0]) // HOUR == 40 * 24
    folder.close()
