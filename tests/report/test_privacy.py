"""Nothing in the report tells of a person."""

import json
import re
from dataclasses import asdict
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.figure_types import Figures, Withheld
from server.report.month import Month
from server.report.pdf import pdf_of
from server.report.privacy import may_be_somebody, without_small_groups
from server.report.sheet import sheet_of
from server.source import StoreSource
from server.store import schema
from server.store.engine import writing
from shared.zones import HOUR, SECOND
from tests.figures_like import changed, mode
from tests.report.still import still_figures
from tests.report.worlds import alive, london, over, sorted_by_time, world


def everything(month: Month) -> str:
    """All that the object, the sheet and the PDF hold, as text."""
    pdf = pypdf.PdfReader(BytesIO(pdf_of(month)))
    return " ".join(
        [
            repr(month),
            json.dumps(asdict(sheet_of(month)), default=sorted, ensure_ascii=False),
            *(page.extract_text() for page in pdf.pages),
        ]
    )


def test_no_station_of_the_store_is_named_anywhere(october: Month, october_source: StoreSource) -> None:
    with october_source._engine.connect() as connection:
        names = set(connection.execute(sa.select(schema.over.c.station).distinct()).scalars()) - {None}
    assert len(names) > 100
    told = set(re.findall(r"[A-Z0-9]+", everything(october).upper()))
    assert not names & told
    assert told >= {"QB0BFR"}  # the repeater's own may stand; the search does find call signs


def test_links_targets_and_incidents_that_may_be_somebody_are_not_named(tmp_path: Path) -> None:
    start = london("2026-10-01")
    talk = [over(start + n * 25 * SECOND, 20.0, "dmr", f"QA{1 + n % 2}XYZ", target="QZ9QQQ-7") for n in range(20)]
    links = [
        {"t": talk[0]["t"], "event": "link-up", "network": name}
        for name in ("QZ9QQQ", "hotspot of qa1xyz/m", "9990123", "9991234567", "fellnet")
    ]
    source = world(tmp_path, sorted_by_time(links, talk, alive(start, start + HOUR)))
    with writing(source._engine) as connection:
        for number, subject in enumerate(("QA1XYZ", "/home/qa1xyz/host.log", "dmr/1", "fellnet", "channel")):
            connection.execute(
                sa.insert(schema.incident).values(
                    rule="duty",
                    subject=subject,
                    raised=start + number * SECOND,
                    cleared=start + HOUR,
                    urgent=False,
                    says="QA1XYZ was on.",
                )
            )
    month = source.month("2026-10")
    told = everything(month).upper()
    for name in ("QZ9QQQ", "QA1XYZ", "9990123", "9991234567"):
        assert name not in told
    assert [link.name for link in month.links if not link.name.startswith("Link ")] == ["fellnet"] and len(
        month.links
    ) == 5
    assert [one.subject for one in month.incidents if one.rule == "duty"][-5:] == [
        "",
        "",
        "dmr/1",
        "fellnet",
        "channel",
    ]


@pytest.mark.parametrize(
    ("name", "somebody"),
    [
        ("QA1XYZ", True),
        ("qz9q", True),
        ("1Q0QQQ", True),
        ("Q1Q", True),
        ("link to QA1XYZ", True),
        ("QA1XYZ-9", True),
        ("9990123", True),
        ("fellnet", False),
        ("99950", False),
        ("FELLS C", False),
        ("M17", False),
        ("North 2", False),
        ("QB0BFR", False),
        ("QB0BFR A", False),
    ],
)
def test_what_has_the_shape_of_a_call_sign_or_an_id_may_be_somebody(name: str, somebody: bool) -> None:
    # Shapes: Radio Regulations 19.68 and 19.68A, quoted; a DMR radio's id has 24 bits, so seven digits in use: quoted.
    assert may_be_somebody(name, set(), "QB0BFR") is somebody


def test_a_name_that_is_a_station_of_the_month_is_somebody_whatever_its_shape() -> None:
    assert may_be_somebody("Oldfield", {"OLDFIELD"}, "QB0BFR") and not may_be_somebody(
        "Oldfield", {"NEWFIELD"}, "QB0BFR"
    )


def figures_with(total: int, counts: dict[str, int]) -> Figures:
    modes = {word: mode(60.0, 9, stations=count) for word, count in counts.items()}
    return changed(still_figures(1.0), channel={"stations": total}, modes=modes)


@pytest.mark.parametrize(
    ("total", "counts", "channel", "modes"),
    [
        (60, {"dmr": 40, "fm": 30}, 60, [40, 30]),
        # the four are among the sixty: the total tells nothing of them
        (60, {"dmr": 60, "fm": 4}, 60, [60, Withheld.FEWER]),
        (49, {"dmr": 47, "fm": 9}, Withheld.KEPT_BACK, [47, 9]),  # two who never used DMR
        # 50 - 30 - 17 would be the three of P25
        (50, {"dmr": 30, "fm": 17, "p25": 3}, Withheld.KEPT_BACK, [30, 17, Withheld.FEWER]),
        (3, {"dmr": 3}, Withheld.FEWER, [Withheld.FEWER]),
        (5, {"dmr": 5}, 5, [5]),
        (0, {"fm": 0}, 0, [0]),
    ],
)  # fmt: skip
def test_small_groups_are_told_in_words_and_their_differences_are_kept_back(
    total: int, counts: dict[str, int], channel: int | str, modes: list[int | str]
) -> None:
    told = without_small_groups(figures_with(total, counts))
    assert told.channel.stations == channel and [its.stations for its in told.modes.values()] == modes


@given(st.lists(st.sets(st.integers(0, 30), max_size=25), min_size=1, max_size=4))
def test_no_difference_of_what_is_told_is_a_small_group(groups: list[set[int]]) -> None:
    words = ("dmr", "dstar", "c4fm", "fm")
    everybody = set().union(*groups)
    told = without_small_groups(
        figures_with(len(everybody), {mode: len(group) for mode, group in zip(words, groups, strict=False)})
    )
    shown = [its.stations for its in told.modes.values() if isinstance(its.stations, int)]
    total = told.channel.stations
    assert not any(0 < count < 5 for count in shown)
    if isinstance(total, int):
        assert not 0 < total < 5
        assert not any(0 < total - count < 5 for count in shown)  # how many never used that mode
        if len(shown) < len(groups):
            assert total - sum(shown) <= 1  # a hidden mode has at least one: nothing more is told of it
