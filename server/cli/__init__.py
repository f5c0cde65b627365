"""The command line: every command, with one place that turns errors into a plain sentence and an exit code."""

import gc
import os
import signal
import sys
import traceback
from difflib import get_close_matches
from importlib import import_module

import click
from click.shell_completion import CompletionItem

from server.cli.terminal import complain, escaping_terminal
from shared.errors import AirtallyError
from shared.redaction import redacted

#: How libraries are to run, unless the keeper says otherwise. Intake has threads of its own, so theirs would only spin,
#: and no matrices are multiplied here; memory that a block has left is kept for the next one.
LIBRARIES = {
    "POLARS_MAX_THREADS": str(max(1, (os.cpu_count() or 1) - 1)),
    "OPENBLAS_NUM_THREADS": "1",
    "_RJEM_MALLOC_CONF": "narenas:2,dirty_decay_ms:10000,muzzy_decay_ms:-1",
}
for name, setting in LIBRARIES.items():
    os.environ.setdefault(name, setting)

#: Where each command lives, and what it does in a line: the list of commands imports none of them.
COMMANDS = {
    "adopt": ("server.cli.adopting", "Learn a log that nobody described."),
    "alerts": ("server.cli.alerting", "What was raised and cleared; try the notices."),
    "backup": ("server.cli.copying", "Copy the whole store while it is in use."),
    "check": ("server.cli.check", "Say what is in order, and what to mend."),
    "demo": ("server.cli.demo", "See it all with an invented repeater."),
    "dialect": ("server.cli.dialects", "Check dialect files; try one on a log."),
    "exposure": ("server.cli.condition", "A first look at exposure: distances to limits."),
    "figures": ("server.cli.asking", "The figures of a window."),
    "forget": ("server.cli.keeping", "Erase a station's identity from the store."),
    "ingest": ("server.cli.ingest", "Read everything new in the logs, and stop."),
    "init": ("server.cli.init", "Write a station file, by asking."),
    "links": ("server.cli.condition", "How each link to other systems fared."),
    "moment": ("server.cli.moments", "What held the repeater at a moment."),
    "note": ("server.cli.noting", "Note what was done at the station."),
    "overs": ("server.cli.asking", "The overs that the figures rest on."),
    "password": ("server.cli.keeping", "Set the password of the pages."),
    "reception": ("server.cli.condition", "How well the repeater hears, by day; changes."),
    "replay": ("server.cli.replaying", "What other timers would have done."),
    "report": ("server.cli.reporting", "Write the committee's PDF of a month."),
    "restore": ("server.cli.copying", "Put a copy of the store back."),
    "serve": ("server.cli.serve", "Follow the logs and show the pages."),
    "timers": ("server.cli.replaying", "Enter a change of the timers that was made."),
}


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        gc.disable()  # imports leave next to no garbage, and looking for it is a tenth of their time
        module = import_module(COMMANDS[cmd_name][0])
        gc.freeze()
        gc.enable()
        command: click.Command = getattr(module, f"{cmd_name}_command")
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """A name that is no command is refused with the one that was perhaps meant."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            meant = get_close_matches(args[0].lower(), COMMANDS, n=1, cutoff=0.5)
            guess = f" Did you mean `airtally {meant[0]}`?" if meant else " `airtally --help` lists the commands."
            raise click.UsageError(f"There is no command {args[0]!r}.{guess}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_, says) in sorted(COMMANDS.items())])

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        if incomplete.startswith("-"):
            return click.Command.shell_complete(self, ctx, incomplete)
        return [
            CompletionItem(name, help=says)
            for name, (_, says) in sorted(COMMANDS.items())
            if name.startswith(incomplete)
        ]


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="airtally", prog_name="airtally")
def cli() -> None:
    """airtally: how the modes of a voice repeater share its channel, from the logs that it writes anyway.

    \b
    Start here:
      airtally demo                see it with an invented repeater
      airtally adopt LOG           learn how your own host's log reads
      airtally init                write a station file for it
      airtally check               see what is in order, and what to mend
      airtally ingest              read the logs
      airtally serve               follow the logs and show the pages
    """


def main() -> None:
    """Entry point. Exit 0 done, 1 the work found something wrong, 2 unusable arguments or configuration."""
    signal.signal(signal.SIGTERM, _end_in_order)
    with escaping_terminal():
        try:
            code = _exit_code()
        finally:
            _close_stores()
        sys.exit(code)


def _end_in_order(number: int, _frame: object) -> None:
    """What is half stored is given up, and what is stored is in the one file; `serve` has a way of its own once it
    runs."""
    raise SystemExit(128 + number)


def _close_stores() -> None:
    """One file is the whole store once a command has ended. Commands that open none don't load what does."""
    engine = sys.modules.get("server.store.engine")
    if engine is not None:
        engine.close_stores()


def _exit_code() -> int:
    try:
        code = cli.main(prog_name="airtally", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        return error.exit_code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if _is_defect(error) and os.environ.get("AIRTALLY_TRACEBACK"):
            traceback.print_exc()
        else:
            complain(_complaint(error))
        return _code_of(error)


def _code_of(error: Exception) -> int:
    """What a command that an error ended gives to whoever called it."""
    if isinstance(error, click.exceptions.Abort):
        return 130
    return error.exit_code if isinstance(error, click.ClickException | AirtallyError) else 1


def _is_defect(error: Exception) -> bool:
    return not isinstance(error, click.exceptions.Abort | click.ClickException | AirtallyError | OSError)


def _complaint(error: Exception) -> str:
    """One sentence about an error that ended a command."""
    match error:
        case click.exceptions.Abort() if sys.stdin.isatty():
            return "stopped."
        case click.exceptions.Abort():
            return "stopped: nobody can be asked here; `--help` names the options that answer."
        case click.ClickException():
            return error.format_message()
        case AirtallyError():
            return str(error)
        case OSError():
            where = f"{error.filename}: " if error.filename else ""
            return f"{where}{error.strerror or error}."
    return (
        f"a defect of airtally's own: {type(error).__name__}: {redacted(str(error))}. "
        "Nothing half-done was stored; run again with AIRTALLY_TRACEBACK=1 for what to report."
    )
