"""Modes stand by airtime wherever people read them, whatever the order of their codes."""

from server.analytics.figure_types import ShutOutPair
from server.telling.modes import by_airtime, placed
from server.telling.shut_outs import blocked_matrix, risk_table
from server.telling.timeouts import timeout_table
from server.telling.traffic import carried_table
from tests.figures_like import changed, mode
from tests.web.web_fakes import figures_of_a_week

FIGURES = changed(
    figures_of_a_week(),
    modes={
        word: mode(airtime_s, 9, timeouts=1, shut_outs_suffered=1)
        for word, airtime_s in (("c4fm", 20.0), ("dmr", 10.0), ("p25", 90.0))
    },
    shut_outs=tuple(
        ShutOutPair(held, wanted, 1, 2.0)
        for held, wanted in ((None, "dmr"), ("dmr", "p25"), ("p25", "c4fm"), ("c4fm", "dmr"))
    ),
)


def test_modes_stand_by_airtime_and_what_is_no_mode_last() -> None:
    assert [mode for mode, _ in by_airtime(FIGURES)] == ["p25", "c4fm", "dmr"]
    assert placed([None, "nxdn", "dmr", "m17", "p25", "dmr"], FIGURES) == ["p25", "dmr", "m17", "nxdn", None]


def test_every_table_of_modes_begins_with_the_one_that_was_heard_most() -> None:
    for table in (risk_table(FIGURES), timeout_table(FIGURES), carried_table(FIGURES)):
        assert [row.head.text for row in table.rows] == ["P25", "C4FM", "DMR"]
    matrix = blocked_matrix(FIGURES)
    assert [label.text for label in matrix.head] == ["Held by", "P25", "C4FM", "DMR"]
    assert [row.head.text for row in matrix.rows] == ["P25", "C4FM", "DMR", "Unknown"]
