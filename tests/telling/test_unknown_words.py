"""Words that must not tell nothing, or certainty, where something is not known. No source outside of this project:
docs/definitions.md.
"""

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import pytest

from server.analytics.channel_share import Chance
from server.analytics.figure_types import ShutOutPair
from server.analytics.intervals import wilson
from server.analytics.traffic import BusyHour
from server.report.every_figure import mode_figures
from server.store.engine import open_store, reading
from server.teaching.unread import share_rose
from server.telling import words
from server.telling.numbers import near_whole
from server.telling.sharing_tables import _chance_cells
from server.telling.talk import talk_facts
from server.telling.traffic import busy_facts
from server.web.sharing.view import _headline, _partly
from shared.spans import NONE, spans
from shared.zones import instant
from tests.figures_like import changed
from tests.report.still import still_figures, still_month

ZONE = ZoneInfo("Europe/London")


@dataclass(frozen=True)
class Log:
    """A source of which only its edges are asked."""

    edges: tuple[int, int]
    until: int
    zone: ZoneInfo = ZONE

    def first_and_last(self) -> tuple[int, int]:
        return self.edges

    def now(self) -> int:
        return self.until

    def station(self) -> "Log":
        return self


def test_traffic_that_is_there_does_not_read_as_nothing() -> None:
    assert words.erlang(0.0004) == "under 0.01\u00a0erlang" and words.erlang(0.0) == "0.00\u00a0erlang"
    assert words.fine_erlang(0.0004) == "under 0.001" and words.fine_erlang(0.0) == "0.000"


def test_eight_in_a_hundred_is_not_a_tenth() -> None:
    assert words.change(108.0, 100.0) == "up by a little" and words.change(110.0, 100.0) == "up by a tenth"


def test_limits_side_by_side_are_written_alike() -> None:
    assert [near_whole(share) for share in (0.98, 0.99, 0.995)] == ["98 %", "99 %", "99.5 %"]


def test_nothing_is_busiest_where_nothing_was_on_the_air() -> None:
    (fact,) = busy_facts(replace(still_figures(1.0), busy_hour=BusyHour("00:00", 0.0, 7)))
    assert fact.value == "none" and fact.note == "nothing was on the air on the 7\u00a0days that were seen"


def test_local_talk_on_wide_targets_is_not_known_where_none_is_named() -> None:
    fact = talk_facts(still_figures(1.0), 1.0, any_wide=False)[-1]
    assert fact.value == "not known" and "[[target]]" in fact.note


def test_the_chance_as_counted_is_not_known_where_no_over_has_a_side() -> None:
    chance = Chance(0.019, 37, 37, wilson(37, 37))
    assert _chance_cells(chance, known=False) == ("1.9\u00a0%", "not known", "not known", "not known")


def test_sharing_names_nobody_as_most_often_where_two_were_alike() -> None:
    tie = (ShutOutPair("dstar", "fm", 1, 3.0), ShutOutPair("fm", "dmr", 1, 3.0), ShutOutPair(None, "dmr", 1, None))
    said = "".join(part.text for part in _headline(replace(still_figures(1.0), shut_outs=tie)))
    assert said == "3\u00a0calls were refused because another mode held the repeater."
    first = (ShutOutPair(None, "dmr", 9, None), ShutOutPair("dstar", "fm", 2, 3.0))
    said = "".join(part.text for part in _headline(replace(still_figures(1.0), shut_outs=first)))
    assert "of those whose holder the log tells, most often FM callers while D-STAR held it (2)." in said


def test_a_mode_without_slots_has_none_rather_than_unknown_ones() -> None:
    table = mode_figures(still_month())
    modes = [label.text for label in table.head[1:]]
    (both,) = [row for row in table.rows if row.head.text == "both_slots_s"]
    cells = dict(zip(modes, both.cells, strict=True))
    assert cells["DMR"] == "4000" and cells["C4FM"] == "has no slots"
    assert changed(still_figures(1.0)).modes["c4fm"].slots is None


def test_the_rise_of_unread_lines_is_told_in_local_time(monkeypatch: pytest.MonkeyPatch) -> None:
    shares = iter((0.01, 0.9))
    monkeypatch.setattr("server.teaching.unread.unread_share", lambda *_, **__: next(shares))
    summer = instant("2026-07-01T20:12", ZoneInfo("Europe/London"))  # 19:12 UTC
    with reading(open_store("sqlite://")) as connection:
        said = share_rose(connection, 1, summer, ZoneInfo("Europe/London"))
    assert said.replace("\u00a0", " ") == (
        "Since Wed 1 Jul 2026, 20:12: 90.0 % of the lines are unread, before it was 1.0 %."
    )


def test_sharing_tells_of_a_gap_in_the_middle_of_its_days() -> None:
    day = 86_400_000_000
    start, end = instant("2026-10-26", ZONE), instant("2026-11-23", ZONE)
    source = Log((start, end), end)
    told = _partly(source, spans([start + 9 * day], [start + 20 * day]), start, end)  # type: ignore[arg-type]
    assert told.replace("\u00a0", " ") == ("Within these days, 264 h had no log, and are left out of the percentages.")
    assert _partly(source, NONE, start, end) == ""  # type: ignore[arg-type]
