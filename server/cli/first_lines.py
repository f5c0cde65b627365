"""Whether a dialect reads how a log begins: what `init` offers by itself."""

from pathlib import Path

from server.intake.batches import split_lines
from server.intake.discovery import discover
from server.intake.unpacking import open_log
from server.intake.years import carry_into
from shared.errors import AirtallyError
from shared.events import UNREAD

LOOKED_AT = 1 << 16  # bytes


def reads_first_lines(dialect: str, log_path: str, folder: Path, around_us: int) -> bool:
    """Whether it leaves less than half of the first lines of the log's newest file unread; False where there is no
    such file, or it can't be read. `around_us` settles years that stamps lack.
    """
    from parsers.dialect import find_dialect

    files, _ = discover([log_path], folder)
    if not files:
        return False
    try:
        reader, log = find_dialect(dialect, folder), files[-1].path
        with open_log(log) as stream:
            data = stream.read(LOOKED_AT)
        lines = split_lines(data if len(data) < LOOKED_AT else data[: data.rfind(b"\n") + 1])
        verdicts = reader.read(lines, carry_into(log, reader, around_us), around_us).verdicts
    except (AirtallyError, OSError, EOFError):
        return False
    return bool(len(verdicts) and (verdicts == UNREAD).mean() < 0.5)
