"""Writes the documents that are made from the code: docs/settings.md, docs/commands.md and the table of rooms in
DEVELOPERS.md. A test fails when they drift.

usage: python -m docs
       python -m docs.examples airtally-demo/station.toml    the JSON examples of docs/contract.md, from a demo that was
       built
"""

from pathlib import Path

import click

from docs.rooms import with_table
from server.cli import cli
from server.config import settings_table
from server.telling.caution import CAUTION, TIMERS

HERE = Path(__file__).parent
HEAD = "<!-- made from the code by `python -m docs`; change the code, not this -->\n\n"


def settings_page() -> str:
    """Every setting of the station file."""
    return (
        f"# The station file\n\n{HEAD}TOML, `station.toml` in the working folder unless `--station` names another."
        f" `airtally init` writes one.\n\n{settings_table()}\n\n{CAUTION} {TIMERS}\n"
    )


def commands_page() -> str:
    """Every command's own help."""
    parts = ["# Commands\n\n" + HEAD.rstrip("\n")]
    context = click.Context(cli, info_name="airtally", terminal_width=100, **cli.context_settings)
    parts += _helps(cli, context)
    return "\n\n".join(parts) + "\n"


def _helps(group: click.Group, context: click.Context) -> list[str]:
    parts = []
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        inner = click.Context(command, info_name=name, parent=context, terminal_width=100, max_content_width=100)
        text = command.get_help(inner).rstrip()
        parts.append(f"## {inner.command_path}\n\n```text\n{text}\n```")
        if isinstance(command, click.Group):
            parts += _helps(command, inner)
    return parts


def developers_page() -> str:
    """DEVELOPERS.md with the table of rooms."""
    return with_table((HERE / "../DEVELOPERS.md").read_text(encoding="utf-8"))


PAGES = {"settings.md": settings_page, "commands.md": commands_page, "../DEVELOPERS.md": developers_page}

if __name__ == "__main__":
    for page, make in PAGES.items():
        (HERE / page).write_text(make(), encoding="utf-8")
