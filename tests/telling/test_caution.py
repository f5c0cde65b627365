"""Wherever duty, a stuck transmitter or exposure is shown, the caution stands there, in the same words. What it defers
to is the licence.
"""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from docs.__main__ import PAGES
from server.cli import cli
from server.config import station_text
from server.demo.station_file import station_file
from server.telling import caution

ROOT = Path(__file__).parents[2]
SENTENCES = (caution.SAFETY, caution.DECIDE, caution.WORK)


def sections(page: str) -> dict[str, str]:
    """The parts of a document by their heading."""
    parts = re.split(r"^##+ (.*)$", (ROOT / page).read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


@pytest.mark.parametrize(
    ("page", "section", "says"),
    [
        ("docs/definitions.md", "Time on the air", caution.CAUTION),
        ("docs/definitions.md", "Time-outs", caution.TIMERS),
        ("docs/definitions.md", "Replay", caution.TIMERS),
        ("docs/definitions.md", "Alerts", caution.CAUTION),
        ("docs/definitions.md", "Alerts", caution.EXPOSURE),
        ("docs/definitions.md", "Exposure", caution.SCREENING),
        ("docs/contract.md", "`alerts --json`", caution.CAUTION),
        ("README.md", "A caution", f"{caution.CAUTION} {caution.TIMERS}"),
    ],
)
def test_the_documents_carry_the_caution_at_duty_at_the_rules_and_at_timers(page: str, section: str, says: str) -> None:
    assert says in sections(page)[section]


def test_the_page_of_settings_carries_it() -> None:
    assert f"{caution.CAUTION} {caution.TIMERS}" in PAGES["settings.md"]()


def test_the_caution_names_the_hardware_the_licence_and_who_makes_it_safe() -> None:
    for word in (
        "hardware time-out",
        "remote close-down",
        "licence",
        "regulator",
        "competent persons",
        "switched off and made safe",
    ):
        assert word in caution.CAUTION and word in caution.NOTICE


def text_of_init() -> str:
    return station_text(
        callsign="QB0BFR", name="", zone="UTC", log_path="x", dialect="activity", timeout_s=180.0, hold_s=20.0
    )


@pytest.mark.parametrize("made", [text_of_init, lambda: station_file([])], ids=["init", "demo"])
def test_the_station_file_has_it_just_above_the_transmitter(made: Callable[[], str]) -> None:
    above = re.split(r"^#? ?\[transmitter\]$", made(), flags=re.MULTILINE)[0].rstrip().splitlines()
    assert above[-3:] == [f"# {sentence}" for sentence in SENTENCES]


@pytest.mark.parametrize(
    ("command", "line"),
    [
        ("figures", caution.LINE),
        ("exposure", caution.LINE),
        ("alerts", caution.LINE),
        ("replay", caution.TIMERS_LINE),
        ("timers", caution.TIMERS_LINE),
    ],
)
def test_the_help_of_what_speaks_of_the_transmitter_or_its_timers_has_a_line_of_it(command: str, line: str) -> None:
    said = CliRunner().invoke(cli, [command, "--help"], terminal_width=120)
    assert line in said.output and len(line) <= 100


def test_no_caution_is_worded_anywhere_else() -> None:
    """Whoever shows one takes it from server.telling.caution; documents are held to it above."""
    worded = re.compile(r"no safety device|close-down that|competent persons|made safe by those")
    ours = [
        path
        for room in ("server", "templates")
        for path in (ROOT / room).rglob("*")
        if path.suffix in (".py", ".html", ".typ")
    ]
    assert [str(path.relative_to(ROOT)) for path in ours if worded.search(path.read_text(encoding="utf-8"))] == [
        "server/telling/caution.py"
    ]
