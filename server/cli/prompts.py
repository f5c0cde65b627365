"""Questions at the terminal, and files that are not written over without one."""

import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from shared.errors import UnusableError


def ask(text: str, **options: Any) -> Any:
    """`click.prompt` on standard error, so that a pipe gets the answers' work only. Ctrl-C ends it at once."""
    _stop_at_once()
    return click.prompt(text, err=True, **options)


def agree(text: str) -> bool:
    """`click.confirm` on standard error. Ctrl-C ends it at once."""
    _stop_at_once()
    return click.confirm(text, err=True)


def _stop_at_once() -> None:
    """Libraries that set a handler for Ctrl-C of their own let a read that waits go on; a question must not."""
    signal.siginterrupt(signal.SIGINT, True)


def make_way(path: Path, is_ours: Callable[[bytes], bool], *, yes: bool = False) -> Path | None:
    """Before `path` is written: whether what lies there may go. What airtally wrote itself and nobody changed goes
    without a question.

    With `yes` other content is kept beside it as FILE.bak, which is returned. Raises UnusableError where nobody can be
    asked, and Abort."""
    try:
        found = path.read_bytes()
    except FileNotFoundError:
        return None
    if not found or is_ours(found):
        return None
    if yes:
        kept = path.with_name(path.name + ".bak")
        path.replace(kept)
        return kept
    if not sys.stdin.isatty():
        raise UnusableError(
            f"{path}: holds what airtally did not write, or what was changed by hand since; name another file, or move "
            "it."
        )
    if not agree(f"{path} holds what airtally did not write, or what was changed by hand since. Write over it?"):
        raise click.Abort
    return None
