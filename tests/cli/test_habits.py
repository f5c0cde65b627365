"""What a keeper expects of any command line: it can be left, asks before it overwrites, offers what is there, and helps
with a slip.
"""

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from server.cli import COMMANDS, cli
from server.cli.adopted_file import is_as_written, learnt_from, signed
from shared.errors import UnusableError
from tests.cli.test_commands import LINES, airtally, hill, read, refused

__all__ = ["hill", "read"]

INIT = ("--callsign", "QB0BFR", "--name", "", "--zone", "UTC", "--log", "host.log", "--timeout", "180", "--hold", "20")
SHAPE = '[dialect]\nname = "{name}"\ntime = "iso"\n[[line]]\nevent = "ignore"\ntext = "{{t}} rest {{_}}"\n'


class Terminal:
    """A command of its own, at a terminal."""

    def __init__(self, *arguments: str, cwd: Path) -> None:
        self.child, self._end = pty.fork()
        if not self.child:
            os.chdir(cwd)
            os.execve(sys.executable, [sys.executable, "-m", "server.cli", *arguments], {**os.environ, "COLUMNS": "80"})

    def until(self, awaited: str, within_s: float = 30) -> str:
        """What it printed until some text stood there, or until it ended."""
        shown, end = "", time.monotonic() + within_s
        while (
            awaited not in shown
            and time.monotonic() < end
            and select.select([self._end], [], [], end - time.monotonic())[0]
        ):
            try:
                shown += os.read(self._end, 4096).decode()
            except OSError:
                return shown
        return shown

    def types(self, text: str) -> None:
        os.write(self._end, text.encode())

    def code(self, within_s: float) -> int | None:
        """Its exit code; None where it still runs then, and it is ended."""
        end = time.monotonic() + within_s
        while time.monotonic() < end:
            ended, status = os.waitpid(self.child, os.WNOHANG)
            if ended:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.02)
        os.kill(self.child, 9)
        os.waitpid(self.child, 0)
        return None


def test_ctrl_c_at_a_question_ends_at_once(tmp_path: Path) -> None:
    terminal = Terminal("init", cwd=tmp_path)
    assert "Call sign of the repeater" in terminal.until("repeater: ")
    time.sleep(
        0.5
    )  # a person takes longer; before that the interpreter is on its way into the read, where it hears nothing
    terminal.types("\x03")
    assert terminal.code(within_s=10) == 130
    assert not (tmp_path / "station.toml").exists()


def test_init_asks_until_the_answers_can_be_and_offers_the_dialect_that_was_learnt(tmp_path: Path) -> None:
    (tmp_path / "my-host.toml").write_text(signed(SHAPE.format(name="my-host"), [tmp_path / "voice.log"]))
    (tmp_path / "voice.log").write_text("2026-03-01T18:22:05Z rest 1\n")
    terminal = Terminal("init", cwd=tmp_path)
    for question, answer in (
        ("Call sign", "?!"),
        ("Call sign", "fellside"),
        ("Call sign", "qb0bfr"),
        ("place", ""),
        ("zone", "UTC"),
        ("voice.log", ""),
        ("Dialect", "no-such"),
        ("activity lines) [my-host]", ""),
        ("Time-out", ""),
        ("Hold", ""),
        ("silent", "never"),
        ("silent", "900"),
    ):
        shown = terminal.until(": ")
        while question not in shown and "Error" in shown:
            shown = terminal.until(": ")
        assert question in shown
        terminal.types(answer + "\n")
    assert terminal.code(within_s=20) == 0
    text = (tmp_path / "station.toml").read_text()
    assert 'callsign = "QB0BFR"' in text and 'dialect = "my-host"' in text and f'path = "{tmp_path}/voice.log"' in text
    assert "\nquiet_log_s = 900.0" in text


def test_init_asks_again_for_a_log_that_is_not_there_and_offers_no_dialect_that_does_not_read_it(
    tmp_path: Path,
) -> None:
    (tmp_path / "other-host.toml").write_text(SHAPE.format(name="other-host"))
    (tmp_path / "host.log").write_text(LINES[0] + "\n")
    options = ["--callsign", "QB0BFR", "--name", "", "--zone", "UTC", "--timeout", "180", "--hold", "20"]
    terminal = Terminal("init", *options, "--quiet-log", "900", cwd=tmp_path)
    asked = []
    for end, answer in (("]: ", "180"), ("come): ", "host.log"), ("]: ", "")):
        asked.append(" ".join(terminal.until(end).split()))
        terminal.types(answer + "\n")
    assert terminal.code(within_s=20) == 0
    assert "No file is at 180." in asked[1]
    assert "here: other-host;" in asked[2] and asked[2].endswith("[activity]:")
    text = (tmp_path / "station.toml").read_text()
    assert 'path = "host.log"' in text and 'dialect = "activity"' in text


def test_init_keeps_a_log_that_is_not_there_yet_where_enter_says_so_and_offers_no_dialect(tmp_path: Path) -> None:
    (tmp_path / "other-host.toml").write_text(SHAPE.format(name="other-host"))
    options = ["--callsign", "QB0BFR", "--name", "", "--zone", "UTC", "--timeout", "180", "--hold", "20"]
    terminal = Terminal("init", *options, "--quiet-log", "900", cwd=tmp_path)
    for end, answer in (("]: ", "soon.log"), ("come): ", "")):
        terminal.until(end)
        terminal.types(answer + "\n")
    assert "for activity lines): " in " ".join(terminal.until("lines): ").split("\n"))
    terminal.types("other-host\n")
    assert terminal.code(within_s=20) == 0
    assert 'path = "soon.log"' in (tmp_path / "station.toml").read_text()


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--callsign", "Fell Top", "call sign"),
        ("--callsign", "\x1b[2J0", "call sign"),
        ("--dialect", "no-such", "no dialect 'no-such'"),
    ],
)
def test_init_refuses_a_call_sign_or_a_dialect_that_cannot_be(
    option: str, value: str, says: str, tmp_path: Path
) -> None:
    given = [*INIT, "--dialect", "activity", option, value]
    said = refused("init", *given, cwd=tmp_path)
    assert says in said and "\x1b" not in said
    assert not (tmp_path / "station.toml").exists()


def test_check_right_after_init_names_the_next_step_and_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "host.log").write_text(LINES[0] + "\n")
    assert airtally("init", *INIT, "--dialect", "activity", cwd=tmp_path).returncode == 0
    done = airtally("check", cwd=tmp_path)
    assert done.returncode == 0, done.stdout
    assert "next     The store is empty: `airtally ingest` reads the logs." in done.stdout


def test_a_station_file_and_a_dialect_with_a_byte_order_mark_are_read(hill: Path) -> None:
    for name in ("station.toml", "own.toml"):
        text = (
            (hill / name).read_text()
            if name == "station.toml"
            else SHAPE.format(name="own") + '[[line.sample]]\ntext = "2026-03-01T18:22:05Z rest 1"\ngives = {}\n'
        )
        (hill / name).write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert airtally("ingest", cwd=hill).returncode == 0
    assert airtally("dialect", "check", "own.toml", cwd=hill).returncode == 0


def test_a_report_of_a_month_without_a_log_says_so_and_writes_nothing(read: Path) -> None:
    done = airtally("report", "--month", "2026-05", "-o", "may.pdf", cwd=read)
    assert done.returncode == 1
    assert "2026-05: no log tells of this month" in done.stderr and "Mon 16 Nov 2026" in done.stderr
    assert not (read / "may.pdf").exists()


def test_a_report_never_takes_the_place_of_what_is_no_pdf_without_asking(read: Path) -> None:
    (read / "minutes.txt").write_text("the committee's own notes")
    assert "holds what airtally did not write" in refused("report", "--month", "2026-11", "-o", "minutes.txt", cwd=read)
    assert (read / "minutes.txt").read_text() == "the committee's own notes"
    assert airtally("report", "--month", "2026-11", "-o", "minutes.txt", "--yes", cwd=read).returncode == 0
    assert (read / "minutes.txt.bak").read_text() == "the committee's own notes"
    assert (
        airtally("report", "--month", "2026-11", "-o", "minutes.txt", cwd=read).returncode == 0
    )  # a PDF by now: made anew


def test_a_dialect_that_was_mended_by_hand_is_told_from_one_as_it_was_learnt(tmp_path: Path) -> None:
    log = tmp_path / "host\n[evil].log"
    text = signed(SHAPE.format(name="x"), [log])
    (tmp_path / "x.toml").write_text(text)
    assert is_as_written(text.encode())
    assert (
        not is_as_written(text.replace("rest", "rests").encode())
        and not is_as_written(b"")
        and not is_as_written(b"mine")
    )
    assert learnt_from(tmp_path / "x.toml") == str(tmp_path) + "/host\\n[evil].log"
    assert "\n[evil]" not in text


def test_adopt_asks_before_it_writes_over_a_dialect_that_was_mended_by_hand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "voice.log").write_text("".join(
        f"2026-03-01T18:{minute:02}:0{end}Z {'ends' if end else 'begins'} dmr 1 air QA{minute % 7}XYZ\n"
        for minute in range(60) for end in (0, 9)
    ))  # fmt: skip
    once = ["adopt", "voice.log", "--out", "own.toml"]
    CliRunner().invoke(cli, once)
    first = (tmp_path / "own.toml").read_text()
    CliRunner().invoke(cli, once)  # as it was written: no question
    assert (tmp_path / "own.toml").read_text() == first
    (tmp_path / "own.toml").write_text(mended := first.replace("[dialect]", "# mine\n[dialect]"))
    refused_now = CliRunner().invoke(cli, once)
    assert isinstance(refused_now.exception, UnusableError) and "changed by hand" in str(refused_now.exception)
    assert (tmp_path / "own.toml").read_text() == mended
    CliRunner().invoke(cli, [*once, "--yes"])
    assert (tmp_path / "own.toml.bak").read_text() == mended and (tmp_path / "own.toml").read_text() == first


def test_a_mistyped_command_is_guessed(tmp_path: Path) -> None:
    assert (
        refused("figurs", cwd=tmp_path) == "airtally: There is no command 'figurs'. Did you mean `airtally figures`?\n"
    )
    assert (
        refused("xyzzy", cwd=tmp_path)
        == "airtally: There is no command 'xyzzy'. `airtally --help` lists the commands.\n"
    )


def test_no_line_of_the_help_is_cut() -> None:
    def helps(command: click.Command, context: click.Context) -> list[str]:
        found = [command.get_help(context)]
        if isinstance(command, click.Group):
            for name in command.list_commands(context):
                inner = command.get_command(context, name)
                assert inner is not None
                found += helps(inner, click.Context(inner, info_name=name, parent=context))
        return found

    every = helps(cli, click.Context(cli, info_name="airtally", **cli.context_settings))
    assert len(every) > len(COMMANDS)
    assert [
        line
        for text in every
        for line in text.splitlines()
        if line.rstrip().endswith("...") and not line.startswith("Usage")
    ] == []


def test_the_list_of_commands_imports_none_of_them() -> None:
    script = (
        "import sys; from server.cli import main; sys.argv[1:] = ['--help']\ntry: main()\nexcept SystemExit: pass\n"
    )
    script += (
        "print([name for name in sys.modules if name.startswith(('sqlalchemy', 'numpy', 'polars', 'pydantic',"
        " 'server.config'))])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_shell_completes_the_commands() -> None:
    # The protocol is click's own: https://click.palletsprojects.com/shell-completion (from memory).
    asked = {**os.environ, "_AIRTALLY_COMPLETE": "bash_complete", "COMP_WORDS": "airtally re", "COMP_CWORD": "1"}
    done = subprocess.run([sys.executable, "-m", "server.cli"], env=asked, capture_output=True, text=True, check=False)
    begun = [name for name in sorted(COMMANDS) if name.startswith("re")]
    assert len(begun) > 2 and done.stdout.split() == [f"plain,{name}" for name in begun]


def test_an_hour_that_a_zone_skips_is_told_and_a_week_may_be_written_small(read: Path) -> None:
    # Europe/London goes forward on 29 March 2026 at 01:00 UTC (IANA tz database).
    said = refused("figures", "--from", "2026-03-29T01:30", "--to", "2026-03-29T02:30", cwd=read)
    assert "2026-03-29T01:30 does not exist in Europe/London: the clocks go forward over it" in said
    assert "'soon' is no date and no date-time" in refused("figures", "--from", "soon", "--to", "later", cwd=read)
    assert airtally("figures", "--week", "2026-w47", cwd=read).returncode == 0


def test_a_question_that_nobody_can_answer_names_the_way_out(tmp_path: Path) -> None:
    done = airtally("init", cwd=tmp_path)
    assert done.returncode == 130 and "nobody can be asked here" in done.stderr


def test_init_says_where_no_log_is_yet(tmp_path: Path) -> None:
    done = airtally("init", *INIT, "--dialect", "activity", cwd=tmp_path)
    assert done.returncode == 0 and "No file is at host.log yet" in done.stderr


def test_reading_again_says_that_a_journal_stays_as_it_was_read(hill: Path) -> None:
    with (hill / "station.toml").open("a") as file:
        file.write('[[log]]\njournal = "host.service"\n')
    done = airtally("ingest", "--again", "--dry-run", cwd=hill)
    assert "journal:host.service: what was read of a journal stays as it was read" in done.stdout
