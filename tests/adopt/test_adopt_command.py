"""`airtally adopt` as a keeper types it."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from parsers.adopt.answers import answers_text, known_from, with_answer
from server.cli import cli
from shared.errors import UnusableError
from tests.adopt.book import book
from tests.adopt.hands_held import numbered
from tests.adopt.hands_seen import storyteller


@pytest.fixture
def logs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, write in (("told", storyteller), ("codes", numbered)):
        lines = list(write(book(days=2), np.random.default_rng(1)))
        (tmp_path / f"{name}.log").write_text("".join(line + "\n" for line in lines))
    return tmp_path


def test_a_log_that_fits_gives_a_dialect_a_reading_and_exit_0(logs: Path) -> None:
    done = CliRunner().invoke(cli, ["adopt", "told.log", "--yes"])
    assert done.exit_code == 0, done.output
    assert "The fit is good" in done.output
    assert tomllib.loads((logs / "told.toml").read_text())["dialect"]["name"] == "told"
    assert "# How well `told.toml` fits" in (logs / "told.reading.md").read_text()
    # call signs stand in them
    assert {(logs / name).stat().st_mode & 0o777 for name in ("told.toml", "told.reading.md")} == {0o600}


def test_a_dialect_that_is_there_is_not_written_over_unless_it_is_named(logs: Path) -> None:
    (logs / "told.toml").write_text("mine")
    done = CliRunner().invoke(cli, ["adopt", "told.log", "--yes"])
    assert isinstance(done.exception, UnusableError) and "is there already" in str(done.exception)
    assert (logs / "told.toml").read_text() == "mine"
    assert CliRunner().invoke(cli, ["adopt", "told.log", "--yes", "--out", "told.toml"]).exit_code == 0


def test_codes_that_nobody_can_know_are_asked_for_and_called_poor_until_they_are_answered(logs: Path) -> None:
    poor = CliRunner().invoke(cli, ["adopt", "codes.log", "--yes", "--out", "a.toml"])
    assert poor.exit_code == 1
    assert "mode.7" in poor.output and "The fit is poor" in poor.output
    (logs / "answers.toml").write_text(
        '[mode]\n"3" = "dstar"\n"7" = "dmr"\n"2" = "c4fm"\n"9" = "p25"\n"4" = "m17"\n"5" = "fm"\n'
    )
    good = CliRunner().invoke(cli, ["adopt", "codes.log", "--yes", "--answers", "answers.toml", "--out", "b.toml"])
    assert good.exit_code == 0, good.output
    assert tomllib.loads((logs / "b.toml").read_text())["words"]["mode"]["7"] == "dmr"


def test_a_terminal_is_asked_at_most_five_questions_and_its_answers_are_kept(
    logs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from server.cli import adopting

    said = iter(["womble", "dmr", "c4fm", "fm", "dstar", "m17", "p25"])
    asked: list[str] = []

    def prompt(text: str, **_: object) -> str:
        asked.append(text)
        return next(said)

    monkeypatch.setattr(adopting, "ask", prompt)
    monkeypatch.setattr(adopting, "_asks", lambda yes: not yes)
    CliRunner().invoke(cli, ["adopt", "codes.log", "--answers", "kept.toml", "--out", "c.toml"])
    assert len(asked) == 6, "five questions, one of them twice because it was not answered with a mode"
    assert tomllib.loads((logs / "kept.toml").read_text())["mode"]["7"] == "dmr"


def test_answers_survive_being_written_and_read() -> None:
    values = with_answer(with_answer({"hole": {"a {1}": {"1": "station"}}}, "mode.7", "dmr"), "zone", "Europe/London")
    assert tomllib.loads(answers_text(values)) == values
    known = known_from(values, "here")
    assert (
        known.words["mode"]["7"] == "dmr" and known.zone == "Europe/London" and known.holes["a {1}"] == {"1": "station"}
    )


@pytest.mark.parametrize(
    "values",
    [
        {"zone": "Nowhere/Land"},
        {"mode": {"7": "womble"}},
        {"seconds": "weeks"},
        {"colour": "red"},
        {"event": {"x": "dance"}},
        {"mode": 3},
    ],
)
def test_answers_that_can_not_be_are_refused_with_where_they_stand(values: dict) -> None:
    with pytest.raises(UnusableError, match=r"^answers\.toml: "):
        known_from(values, "answers.toml")


@pytest.mark.parametrize(("content", "says"), [("", "nothing to learn"), ("no stamp here\n" * 50, "stamp")])
def test_a_log_that_teaches_nothing_is_told_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str, says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "x.log").write_text(content)
    done = CliRunner().invoke(cli, ["adopt", "x.log", "--yes"])
    assert done.exception is not None and says in str(done.exception)
    assert not (tmp_path / "x.toml").exists()
