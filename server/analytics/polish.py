"""What stations have in common day by day: readings, their usual levels, the shift, intervals over stations. Pure."""

from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.intervals import RESAMPLES, SEED

Floats = npt.NDArray[np.float64]
ROUNDS = 50
LEAST_STATIONS = 3  # that tell of a day, for its shift


@dataclass(frozen=True)
class Heard:
    """n overs by radio of known station and mode; all arrays of shape (n,)."""

    start: Ints  #: microseconds
    mode: Ints  #: index in shared.events.MODES
    station: Ints  #: any codes
    rssi_dbm: Floats  #: nan: not logged
    ber_pct: Floats

    def where(self, mask: npt.NDArray[np.bool_]) -> "Heard":
        """Those that a mask (n,) keeps."""
        return Heard(*(getattr(self, column.name)[mask] for column in fields(self)))

    def then(self, later: "Heard") -> "Heard":
        """These and others of the same codes."""
        return Heard(*(np.concatenate([getattr(it, column.name) for it in (self, later)]) for column in fields(self)))


def nothing_heard() -> Heard:
    none, unknown = np.empty(0, dtype=np.int64), np.empty(0)
    return Heard(none, none, none, unknown, unknown)


@dataclass(frozen=True)
class Readings:
    """Readings of p pairs of station and mode on d local days."""

    station: Ints  #: shape (p,)
    mode: Ints
    level: Floats  #: median dBm, shape (p, d); nan: none
    errors: Floats  #: median percent

    def where(self, mask: npt.NDArray[np.bool_]) -> "Readings":
        """The pairs that a mask (p,) keeps."""
        return Readings(self.station[mask], self.mode[mask], self.level[mask], self.errors[mask])

    def heard(self) -> npt.NDArray[np.bool_]:
        """On which day a pair has a reading, shape (p, d)."""
        return ~np.isnan(self.level) | ~np.isnan(self.errors)


@dataclass(frozen=True)
class Overs:
    """n overs by radio of p pairs of station and mode on d local days."""

    station: Ints  #: of each pair, shape (p,)
    mode: Ints
    row: Ints  #: whose pair each over is, shape (n,)
    day: Ints
    hour: Ints  #: local clock hour in which it began
    rssi_dbm: Floats
    ber_pct: Floats
    days: int

    def where(self, mask: npt.NDArray[np.bool_]) -> "Overs":
        """Of the pairs that a mask (p,) keeps."""
        row, kept = np.cumsum(mask) - 1, mask[self.row]
        return replace(self.of(kept), station=self.station[mask], mode=self.mode[mask], row=row[self.row[kept]])

    def of(self, mask: npt.NDArray[np.bool_]) -> "Overs":
        """Those that a mask (n,) keeps, with all pairs."""
        columns = ("row", "day", "hour", "rssi_dbm", "ber_pct")
        return replace(self, **{name: getattr(self, name)[mask] for name in columns})

    def readings(self) -> Readings:
        """The medians by pair and day."""
        shape = (len(self.station), self.days)
        level, errors = (
            cell_medians(self.row * shape[1] + self.day, part, shape) for part in (self.rssi_dbm, self.ber_pct)
        )
        return Readings(self.station, self.mode, level, errors)


def overs_of(heard: Heard, edges: Ints, hour: Ints) -> Overs:
    """What was heard, by pair and day; `edges` are the midnights around each day, shape (d + 1,), `hour` the local
    clock hours.
    """
    day = np.searchsorted(edges, heard.start, side="right") - 1
    inside = (day >= 0) & (day < len(edges) - 1)
    pairs, row = np.unique((heard.station * 64 + heard.mode)[inside], return_inverse=True)
    return Overs(
        pairs // 64, pairs % 64, row, day[inside], hour[inside], heard.rssi_dbm[inside], heard.ber_pct[inside],
        len(edges) - 1,
    )  # fmt: skip


def cell_medians(cell: Ints, values: Floats, shape: tuple[int, int]) -> Floats:
    """The median of the values of each cell, nan where there is none."""
    found = np.full(shape[0] * shape[1], np.nan)
    told = ~np.isnan(values)
    cell, values = cell[told], values[told]
    order = np.lexsort((values, cell))
    cells, first, many = np.unique(cell[order], return_index=True, return_counts=True)
    ordered = values[order]
    found[cells] = (ordered[first + (many - 1) // 2] + ordered[first + many // 2]) / 2
    return found.reshape(shape)


def medians(table: Floats, axis: int) -> Floats:
    """Medians along an axis without the nan; nan where there is nothing."""
    if not table.shape[axis]:
        return np.full(np.delete(table.shape, axis), np.nan)
    ordered = np.sort(table, axis=axis)  # nan last
    many = (~np.isnan(table)).sum(axis=axis, keepdims=True)
    places = (np.maximum((many - 1) // 2, 0), np.minimum(many // 2, table.shape[axis] - 1))
    low, high = (np.take_along_axis(ordered, at, axis) for at in places)
    return np.asarray(np.where(many > 0, (low + high) / 2, np.nan)).squeeze(axis)


def polished(table: Floats) -> tuple[Floats, Floats]:
    """Usual level of each row, and what each day's rows have in common, by median polish (J. W. Tukey 1977, from
    memory): table = usual + common + rest. nan on days without a value.
    """
    common = np.zeros(table.shape[1])
    usual = medians(table, 1)
    for _ in range(ROUNDS):
        before = common
        common = medians(table - usual[:, None], 0)
        usual = medians(table - np.where(np.isnan(common), 0.0, common), 1)
        if np.abs(np.nan_to_num(common - before)).max(initial=0.0) < 1e-3:
            break
    return usual, medians(table - usual[:, None], 0)


@dataclass(frozen=True)
class Common:
    """What rows have in common."""

    shift: Floats  #: of each day, shape (d,); nan where fewer than LEAST_STATIONS stations tell it
    usual: Floats  #: of each row, shape (p,); nan where nothing tells it


def common_of(table: Floats, station: Ints) -> Common:
    """Of rows (p, d) of stations (p,)."""
    told = ~np.isnan(table)
    some = told.any(axis=1)
    usual = np.full(len(table), np.nan)
    if not some.any():
        return Common(np.full(table.shape[1], np.nan), usual)
    usual[some], common = polished(table[some])
    return Common(where_enough(common, told, station), usual)


def where_enough(common: Floats, told: npt.NDArray[np.bool_], station: Ints) -> Floats:
    """What is common to a day (d,), nan where fewer than LEAST_STATIONS stations tell it; `told` (p, d) says who
    does.
    """
    return np.where(stations_of(told, station) >= LEAST_STATIONS, common, np.nan)


def stations_of(told: npt.NDArray[np.bool_], station: Ints) -> Ints:
    """How many stations tell of each column."""
    rows = [told[station == one].any(axis=0) for one in np.unique(station)]
    return np.sum(rows, axis=0, dtype=np.int64) if rows else np.zeros(told.shape[1], dtype=np.int64)


def draws(station: Ints) -> npt.NDArray[np.int16]:
    """How often each row counts in each of RESAMPLES draws of as many stations as there are, shape (RESAMPLES, rows):
    a station's rows are drawn together.
    """
    found, of = np.unique(station, return_inverse=True)
    return _drawn(len(found))[:, of]


@lru_cache(maxsize=256)
def _drawn(stations: int) -> npt.NDArray[np.int16]:
    """Kept, as each day has a draw of as many stations as many another day."""
    drawn = np.random.default_rng(SEED).multinomial(stations, [1 / stations] * stations, size=RESAMPLES)
    return np.asarray(drawn, dtype=np.int16)


def interval(values: Floats, drawn: npt.NDArray[np.int16]) -> tuple[float, float]:
    """The 95 % bootstrap interval of the median of values (n,), by draws (RESAMPLES, n)."""
    order = np.argsort(values)
    ordered, weight = values[order], np.cumsum(drawn[:, order], axis=1, dtype=np.int32)
    total = weight[:, -1]
    told = total > 0
    weight, half = weight[told], total[told, None] / 2
    low, high = (weight < half).sum(axis=1), (weight <= half).sum(axis=1)
    middle = (ordered[low] + ordered[np.minimum(high, len(ordered) - 1)]) / 2
    below, above = np.quantile(middle, [0.025, 0.975])
    return float(below), float(above)
