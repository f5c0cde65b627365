"""`airtally adopt`: learn any host's log."""

import sys
from pathlib import Path
from typing import Any

import click
from tqdm import tqdm

from server.cli.adopted_file import is_as_written, signed
from server.cli.common import station_option
from server.cli.prompts import ask, make_way
from shared import toml
from shared.errors import UnusableError
from shared.private import write_private
from shared.text import escaped


@click.command("adopt")
@click.argument("logs", metavar="LOG...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Ask nothing: take the best guess.")
@click.option(
    "--answers",
    "answers_path",
    type=click.Path(path_type=Path, dir_okay=False),
    help="A TOML file with answers; what is answered now is added to it.",
)
@click.option(
    "--out",
    "out_path",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The dialect file to write; NAME.toml after the log where not given.",
)
@station_option
def adopt_command(
    logs: tuple[Path, ...], yes: bool, answers_path: Path | None, out_path: Path | None, station_path: Path
) -> None:
    """Learn a log that nobody described: writes a dialect file, and beside it a reading of how well it fits.

    LOG is one file or several of the same log, the oldest first; packed ones are read too. One line is one event: a
    host
    that writes an event over several lines is told so, as far as it can be seen. Exit 1 where the fit is poor.

    \b
    Examples:
      airtally adopt /var/log/host/voice.log
      airtally adopt voice.log.1 voice.log --yes --out my-host.toml
    """
    from parsers.adopt.answers import answers_text, known_from
    from server.intake.learning import adopt_files
    from server.source import clock

    _require_files(logs)
    out = out_path or _named_after(logs[-1])
    values = _answers(answers_path)
    where = str(answers_path or "answers")
    zone = _station_zone(station_path)
    total = 2 * sum(path.stat().st_size for path in logs)

    def learn() -> Any:
        with tqdm(total=total, unit="B", unit_scale=True, desc="learning", disable=None, leave=False) as bar:
            return adopt_files(
                logs, known=known_from(values, where), zone=zone, name=out.stem, around_us=clock(), progress=bar.update
            )

    adopted = learn()
    asks = _asks(yes)
    if asks and adopted.learnt.questions:
        values = _ask(adopted.learnt.questions, values)
        adopted = learn()
    if answers_path is not None and asks:
        write_private(answers_path, answers_text(values))
    _say(adopted, out, _write(adopted, out, logs, yes))
    if adopted.account.poor:
        click.echo(f"airtally: {out}: {adopted.account.verdict}", err=True)
        raise SystemExit(1)


def _require_files(logs: tuple[Path, ...]) -> None:
    """Raises UnusableError where one of them is no file."""
    for path in logs:
        if path.is_dir():
            raise UnusableError(f"{path}: is a folder; name the log files in it.")
        if not path.is_file():
            raise UnusableError(f"{path}: there is no such file; name a log file that the host writes.")


def _write(adopted: Any, out: Path, logs: tuple[Path, ...], yes: bool) -> Path:
    """Writes the dialect, for its owner alone as its samples are lines of the log; gives the path of the reading that
    is written beside it.
    """
    from parsers.adopt.account import account_text

    backup = make_way(out, is_as_written, yes=yes)
    write_private(out, signed(adopted.learnt.text, logs))
    if backup is not None:
        click.echo(f"What {out} held before is kept as {backup}.")
    reading = out.with_name(out.stem + ".reading.md")
    names = ", ".join(escaped(path.name) for path in logs)
    write_private(reading, account_text(adopted.learnt, adopted.fit, out.name, names))
    return reading


def _asks(yes: bool) -> bool:
    return sys.stdin.isatty() and not yes


def _named_after(log: Path) -> Path:
    """The dialect file of a log whose name was not given. Raises UnusableError where it would be written over."""
    from server.intake.log_names import name_parts

    base = name_parts(log.name)[0]
    out = Path((Path(base).stem or base) + ".toml")
    if out.exists() and not is_as_written(out.read_bytes()):
        raise UnusableError(f"{out}: is there already; name the file with --out to write over it.")
    return out


def _answers(path: Path | None) -> dict[str, Any]:
    if path is None or not path.exists():
        return {}
    try:
        return toml.loads(path.read_text(encoding="utf-8"))
    except (toml.TomlError, UnicodeDecodeError) as error:
        raise UnusableError(f"{path}: is not TOML: {error}.") from error


def _station_zone(path: Path) -> str | None:
    """The zone of the station file, where there is one that can be read."""
    from server.config import load_station

    return load_station(path).repeater.zone if path.exists() else None


def _ask(questions: Any, values: dict[str, Any]) -> dict[str, Any]:
    """Asks at the terminal, with lines from the log; an empty answer takes the guess."""
    from parsers.adopt.answers import known_from, with_answer

    click.echo("Some things the log can't tell. Enter takes the guess.")
    for question in questions:
        click.echo("")
        for line in question.examples:
            click.echo("    " + escaped(line[:200]))
        choices = f" [{', '.join(question.choices)}]" if question.choices else ""
        while True:
            said = ask(escaped(question.asks) + choices, default="", show_default=False).strip()
            if not said:
                break  # what is merely accepted stays a guess
            try:
                tried = with_answer(values, question.key, said)
                known_from(tried, "answer")
            except UnusableError as error:
                click.echo(str(error), err=True)
                continue
            values = tried
            break
    return values


def _say(adopted: Any, out: Path, beside: Path) -> None:
    told = adopted.account
    click.echo(escaped(told.verdict))
    for sentence in told.sentences:
        click.echo("  " + escaped(sentence))
    if adopted.learnt.questions:
        click.echo("Questions left:")
        for question in adopted.learnt.questions:
            click.echo(f"  {question.key}: " + escaped(question.asks))
    if not adopted.fit.overs:
        click.echo(f"Written: {out} and {beside}, to be looked at; figures would be empty with it.")
        return
    click.echo(
        f'Written: {out} and {beside}. Use it with dialect = "{out.stem}" in a [[log]] of the station file, beside '
        "which it must lie."
    )
