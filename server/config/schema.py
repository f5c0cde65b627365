"""The sections of the station file: every setting declared once, with type, default, range and help. Docs and
`airtally init` are made from this.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from server.config.urls import http_address, notice_address

Mode = Literal["c4fm", "dmr", "dstar", "fm", "m17", "nxdn", "p25", "pocsag"]


class Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    @field_validator("*", mode="before")
    @classmethod
    def _no_truth_for_a_number(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, bool) and cls.model_fields[info.field_name or ""].annotation is not bool:
            raise ValueError("true and false are no value here")
        return value


def _by_mode(value: Any) -> Any:
    """A bare number stands for every mode."""
    return {"default": value} if isinstance(value, int | float) and not isinstance(value, bool) else value


Seconds = Annotated[float, Field(ge=0, le=3600, strict=True)]
ByMode = Annotated[dict[Mode | Literal["default"], Seconds], BeforeValidator(_by_mode)]


NoticeAddress = Annotated[str, AfterValidator(notice_address)]


class Repeater(Section):
    """[repeater]"""

    callsign: str = Field(
        min_length=1, max_length=16, description="call sign of the repeater, as pages and reports show it"
    )
    name: str = Field("", max_length=64, description="its place or name")
    zone: str = Field(
        "UTC", description="IANA time zone in which its days and weeks are counted, such as Europe/London"
    )

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError):
            raise ValueError("an IANA time zone such as Europe/London was expected") from None
        return value


class TimerSettings(Section):
    """[timers]"""

    timeout_s: float = Field(
        180.0, gt=0, le=3600, description="time-out: the longest over that the repeater lets through, seconds"
    )
    hold_s: ByMode = Field(
        {"default": 0.0},
        description="how long the repeater stays with a mode after an over: a number, or `{ default = 20, dmr = 10 }`",
    )
    tail_s: ByMode = Field({"default": 0.0}, description="how long the transmitter stays keyed after an over, likewise")
    courtesy_gap_s: float = Field(
        1.0, gt=0, le=60, description="the gap that users leave so that others can break in, seconds"
    )
    quiet_log_s: float | None = Field(
        None,
        ge=1,
        le=7 * 86400,
        description="a stretch without a line that is longer than this is not seen of a log",
    )


JOURNAL = "journal:"  #: begins the names of logs that are journals


@dataclass(frozen=True)
class Journal:
    """Where a unit's entries are."""

    unit: str
    directory: Path | None  #: of another machine's journal; None for this machine's

    @property
    def name(self) -> str:
        """The name of the log that the entries are."""
        return f"{JOURNAL}{self.unit}" + (f"@{self.directory}" if self.directory else "")


class Log(Section):
    """[[log]]"""

    path: str = Field(
        "", description="file or glob; rotated and .gz/.xz/.zst siblings are read too (needed, but with journal)"
    )
    journal: str | None = Field(
        None,
        pattern=r"^[A-Za-z0-9:_.@\\][A-Za-z0-9:_.@\\-]{0,254}$",
        description="in place of path: a systemd unit such as `host.service`, whose journal is read",
    )
    journal_directory: str | None = Field(
        None, min_length=1, description="with journal: the folder of another machine's journal, in place of this one's"
    )
    dialect: str = Field(
        "activity",
        min_length=1,
        description="a name shipped or beside the station file, a path, or `activity` for activity lines",
    )

    @model_validator(mode="after")
    def _one_place(self) -> "Log":
        if bool(self.path) == (self.journal is not None):
            raise ValueError("either path or journal was expected, and not both")
        if self.journal_directory is not None and self.journal is None:
            raise ValueError("journal_directory goes with journal only; name the unit, or take it out")
        return self

    def read_from(self, folder: Path) -> Journal | None:
        """The journal that it is; None where it is files. Relative folders start from `folder`."""
        if self.journal is None:
            return None
        return Journal(self.journal, None if self.journal_directory is None else folder / self.journal_directory)

    def place(self, folder: Path) -> str:
        """Its path, or the name of the journal's log."""
        journal = self.read_from(folder)
        return journal.name if journal else self.path


class Target(Section):
    """[[target]]"""

    mode: Mode | None = Field(None, description="the mode that the target belongs to; without it, any")
    name: Annotated[str, BeforeValidator(lambda v: str(v) if isinstance(v, int) else v)] = Field(
        max_length=64, description="the talkgroup, reflector or group as the log has it"
    )
    label: str = Field("", max_length=64, description="what people call it")
    reach: Literal["local", "regional", "wide"] = Field(
        "local", description="how far a transmission to it goes: local, regional or wide"
    )


class Stations(Section):
    """[stations]"""

    id_list: str | None = Field(
        None, description="CSV file `id,call sign`: names numeric ids, so that one person counts once"
    )


class Store(Section):
    """[store]"""

    url: str = Field(
        "sqlite:///airtally.db",
        min_length=1,
        description="SQLAlchemy URL of the activity store; a relative SQLite path lies beside the station file",
    )


Share = Annotated[float, Field(gt=0, le=1)]


Width = Literal["6min", "30min", "60min"]
DUTY_LIMIT: dict[Width, float] = {"6min": 0.99, "30min": 0.97, "60min": 0.95}
QUIET_DUTY_LIMIT: dict[Width, float] = {"6min": 0.98, "30min": 0.9, "60min": 0.8}


class Alerts(Section):
    """[alerts]"""

    notify: list[NoticeAddress] = Field([], description="where notices go: Apprise URLs")
    grace_s: float = Field(
        10.0, ge=0, le=3600, description="how far beyond the time-out an over may run before it is reported, seconds"
    )
    quiet_hours: str = Field(
        "23:00-07:00",
        pattern=r"^([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d$",
        description="local hours in which only what is urgent may wake anybody",
    )
    alive_url: str = Field(
        "",
        pattern=r"^(https?://\S+)?$",
        description="an http or https address fetched every minute while all is well, so that a dead airtally is "
        "noticed",
    )
    duty_limit: dict[Width, Share] = Field(
        DUTY_LIMIT,
        description="keyed share of the last 6, 30 and 60 minutes, without turns between stations, above which duty is "
        "reported by day",
    )
    quiet_duty_limit: dict[Width, Share] = Field(QUIET_DUTY_LIMIT, description="the same in the quiet hours")
    link_down_s: float = Field(
        900.0, ge=10, le=7 * 86400, description="how long a link may be down before it is reported, seconds"
    )
    unread_share: Share = Field(0.1, description="share of an hour's lines that may be unread before it is reported")

    @field_validator("duty_limit", "quiet_duty_limit")
    @classmethod
    def _the_rest_stays(cls, value: dict[Width, float], info: ValidationInfo) -> dict[Width, float]:
        return (DUTY_LIMIT if info.field_name == "duty_limit" else QUIET_DUTY_LIMIT) | value


class Transmitter(Section):
    """[transmitter]"""

    power_w: float | None = Field(None, gt=0, le=2000, description="transmitter power, watts")
    feeder_loss_db: float | None = Field(None, ge=0, le=60, description="loss between transmitter and antenna, dB")
    antenna_gain_dbi: float | None = Field(None, ge=-20, le=30, description="gain of the antenna, dBi")
    duty_rating: float = Field(
        1.0, gt=0, le=1, description="share of an hour that the transmitter may be keyed, by its maker"
    )
    frequency_mhz: float | None = Field(
        None, ge=0.1, le=300_000, description="frequency that it transmits on, MHz, for the screening of exposure"
    )
    ground_reflection: bool = Field(
        False,
        strict=True,
        description="whether the screening of exposure adds the reflection of typical ground (2.56 times the power "
        "density)",
    )


class Report(Section):
    """[report]"""

    mail: list[NoticeAddress] = Field(
        [], description="where the committee's PDF goes by itself on the first of each month: Apprise URLs"
    )
    week: list[NoticeAddress] = Field(
        [], description="where the last week's verdict goes as a notice each Monday morning: Apprise URLs"
    )
    paper: Literal["a4", "letter"] = Field("a4", description="size of its pages: a4 or letter")
    exposure: bool = Field(
        False, strict=True, description="whether an annex has the screening sheet of exposure, from [transmitter]"
    )


class Web(Section):
    """[web]"""

    listen: str = Field(
        "127.0.0.1:8087",
        pattern=r"^(\[[0-9a-fA-F:.]+\]|[^:\s]+):\d{1,5}$",
        description="address and port of the pages; beyond loopback a password is needed",
    )
    path_prefix: str = Field(
        "",
        pattern=r"^(/[A-Za-z0-9._~-]+)*$",
        description="the path under which a proxy shows the pages, such as /airtally",
    )
    address: Annotated[str, AfterValidator(http_address)] = Field(
        "",
        pattern=r"^(https?://[^\s/?#]+(/[A-Za-z0-9._~-]+)*/?)?$",
        description="where a browser finds the pages, such as https://hill.example/airtally; notices link to it",
    )
    trusted_proxy: list[str] = Field(
        [], description="addresses of proxies whose X-Forwarded-For and X-Forwarded-Proto are believed"
    )
