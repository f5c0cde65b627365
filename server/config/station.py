"""The station file as a whole, and what is asked of it."""

import re
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import Field, PrivateAttr

from server.config.id_list import read_id_list, why_unreadable
from server.config.schema import (
    Alerts,
    Log,
    Repeater,
    Report,
    Section,
    Stations,
    Store,
    Target,
    TimerSettings,
    Transmitter,
    Web,
)
from shared.errors import StationFileError
from shared.events import MODES
from shared.timers import Timers


class Station(Section):
    """The whole station file."""

    repeater: Repeater
    timers: TimerSettings = TimerSettings.model_validate({})
    log: list[Log] = Field([])
    target: list[Target] = Field([])
    stations: Stations = Stations.model_validate({})
    store: Store = Store.model_validate({})
    alerts: Alerts = Alerts.model_validate({})
    transmitter: Transmitter = Transmitter.model_validate({})
    report: Report = Report.model_validate({})
    web: Web = Web.model_validate({})

    _path: Path = PrivateAttr(default=Path("station.toml"))

    @property
    def path(self) -> Path:
        """The file itself."""
        return self._path

    @property
    def folder(self) -> Path:
        """The folder that relative paths start from."""
        return self._path.resolve().parent

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.repeater.zone)

    @property
    def private_folder(self) -> Path:
        """Where password and keys lie: beside the store, or beside the station file where the store is no file."""
        found = re.fullmatch(r"sqlite:///(.+)", self.store_url())
        return Path(found[1]).parent if found else self.folder

    def timers_for_figures(self) -> Timers:
        """The settings that figures depend on."""
        return Timers(
            timeout_s=self.timers.timeout_s,
            hold_s=_per_mode(self.timers.hold_s),
            tail_s=_per_mode(self.timers.tail_s),
            courtesy_gap_s=self.timers.courtesy_gap_s,
            grace_s=self.alerts.grace_s,
            wide=frozenset((target.mode, target.name) for target in self.target if target.reach == "wide"),
        )

    def store_url(self) -> str:
        """The store's URL, a relative SQLite path made absolute."""
        url = self.store.url
        found = re.fullmatch(r"sqlite:///(?!/)(.+)", url)
        return f"sqlite:///{self.folder / found[1]}" if found and found[1] != ":memory:" else url

    def names_of_ids(self) -> dict[str, str]:
        """The keeper's id list: numeric id -> identity. Raises StationFileError."""
        if self.stations.id_list is None:
            return {}
        path = self.folder / self.stations.id_list
        try:
            text = path.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise StationFileError(
                f"{self.path}: stations.id_list: {path} can't be read ({why_unreadable(error)})."
            ) from error
        return read_id_list(text, path)


def _per_mode(settings: dict[Any, float]) -> tuple[float, ...]:
    default = settings.get("default", 0.0)
    return (*(settings.get(mode, default) for mode in MODES), default)
