"""Modes stand by airtime wherever people read them, whatever the order of their codes."""

from server.web.mode_cells import by_airtime, placed
from server.web.sharing.tables import blocked_matrix, carried_table
from server.web.week.tables import shut_out_modes, timeout_table

COUNTS = (
    "timeouts",
    "timeouts_estimated",
    "near_timeouts",
    "timeout_lockouts",
    "shut_outs_suffered",
    "shut_outs_caused",
)
MODE = dict.fromkeys(COUNTS, 1) | {"shut_out_risk": 0.1, "erlang": 0.1}
FIGURES = {
    "modes": {"c4fm": MODE | {"airtime_s": 20.0}, "dmr": MODE | {"airtime_s": 10.0}, "p25": MODE | {"airtime_s": 90.0}},
    "shut_outs": [
        {"held_by": held, "wanted": wanted, "attempts": 1, "mean_wait_s": 2.0}
        for held, wanted in (("unknown", "dmr"), ("dmr", "p25"), ("p25", "c4fm"), ("c4fm", "dmr"))
    ],
}


def test_modes_stand_by_airtime_and_what_is_no_mode_last() -> None:
    assert [mode for mode, _ in by_airtime(FIGURES)] == ["p25", "c4fm", "dmr"]
    assert placed(["unknown", "nxdn", "dmr", "m17", "p25", "dmr"], FIGURES) == ["p25", "dmr", "m17", "nxdn", "unknown"]


def test_every_table_of_modes_begins_with_the_one_that_was_heard_most() -> None:
    for table in (shut_out_modes(FIGURES), timeout_table(FIGURES), carried_table(FIGURES)):
        assert [row.head.text for row in table.rows] == ["P25", "C4FM", "DMR"]
    matrix = blocked_matrix(FIGURES)
    assert [label.text for label in matrix.head] == ["Held by", "P25", "C4FM", "DMR"]
    assert [row.head.text for row in matrix.rows] == ["P25", "C4FM", "DMR", "Unknown"]
