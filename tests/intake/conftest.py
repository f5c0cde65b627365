"""A station in a folder of its own, and lines to write into its logs."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.config import Station, load_station
from server.intake.context import PassResult
from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import open_store, reading

T0 = 1_770_000_000


def over_line(number: int, mode: str = "dmr", seconds: float = 2.0) -> bytes:
    """A whole over on one activity line; its number is its target."""
    import datetime as dt

    stamp = dt.datetime.fromtimestamp(T0 + number, dt.UTC).isoformat()
    return (
        json.dumps({"t": stamp, "event": "over", "mode": mode, "target": str(number), "seconds": seconds}).encode()
        + b"\n"
    )


class Folder:
    """A station's folder: write logs, read them, look at the store."""

    def __init__(
        self, path: Path, logs: tuple[str, ...] = ("host.log",), dialect: str = "activity", more: str = ""
    ) -> None:
        self.path = path
        settings = "".join(f'[[log]]\npath = "{log}"\ndialect = "{dialect}"\n' for log in logs)
        self.station_file = path / "station.toml"
        self.station_file.write_text(f'[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n{more}\n{settings}')
        self.station: Station = load_station(self.station_file)
        self.engine = open_store(self.station.store_url())
        self.intake = Intake(self.engine, self.station)

    def restart(self, block_bytes: int | None = None) -> None:
        """A new process, as far as intake can tell."""
        self.intake = Intake(self.engine, self.station, **({"block_bytes": block_bytes} if block_bytes else {}))

    def write(self, name: str, data: bytes, mode: str = "ab") -> Path:
        with (self.path / name).open(mode) as file:
            file.write(data)
        return self.path / name

    def catch_up(self) -> PassResult:
        return self.intake.catch_up()

    def numbers(self) -> list[int]:
        """The numbers of the stored overs, in the order of their start."""
        over = schema.over
        with reading(self.engine) as connection:
            return [
                int(target)
                for target in connection.execute(sa.select(over.c.target).order_by(over.c.start, over.c.id)).scalars()
            ]

    def rows(self, table: sa.Table, *names: str) -> list[tuple]:
        with reading(self.engine) as connection:
            return [tuple(row) for row in connection.execute(sa.select(*(table.c[name] for name in names)))]

    def close(self) -> None:
        self.engine.dispose()


@pytest.fixture
def folder(tmp_path: Path):
    made: list[Folder] = []

    def make(*logs: str, **more: str) -> Folder:
        made.append(Folder(tmp_path, logs or ("host.log",), **more))
        return made[-1]

    yield make
    for one in made:
        one.close()


MakeFolder = Callable[..., Folder]
