"""The edge to the terminal: whatever a command prints passes here, so that nothing in a log, a file name or a value
acts on a terminal.
"""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TextIO, cast

from shared.text import escaped


class _Escaping:
    """A text stream that spells what would act on a terminal; all else is the stream's own. Its bytes can't be reached
    around it.
    """

    def __init__(self, stream: TextIO, keep: str) -> None:
        self._stream, self._keep = stream, keep

    def write(self, text: str | bytes) -> int:
        said = (
            text.decode("utf-8", "surrogateescape") if isinstance(text, bytes) else text
        )  # a library's bytes are text too
        self._stream.write(escaped(said, self._keep))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        if name in ("buffer", "detach"):
            raise AttributeError(name)
        return getattr(self._stream, name)


@contextmanager
def escaping_terminal() -> Iterator[None]:
    """Within it, standard output and standard error act on no terminal: not by a command's words, a library's log, or a
    traceback. Progress bars go back to the start of their line on standard error.
    """
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = cast(TextIO, _Escaping(sys.stdout, "\n\t")), cast(TextIO, _Escaping(sys.stderr, "\n\t\r"))
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def complain(sentence: str) -> None:
    """Say on standard error what went wrong. Lines stay lines; nothing goes back to the start of one."""
    print(f"airtally: {escaped(sentence, keep=chr(10))}", file=sys.stderr, flush=True)
