"""What stations have in common day by day: readings, their usual levels, the shift, intervals over stations. Pure."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.intervals import RESAMPLES, SEED

Floats = npt.NDArray[np.float64]
ROUNDS = 50


@dataclass(frozen=True)
class Heard:
    """n overs by radio of known station and mode; all arrays of shape (n,)."""

    start: Ints  #: microseconds
    mode: Ints  #: index in shared.events.MODES
    station: Ints  #: any codes
    rssi_dbm: Floats  #: nan: not logged
    ber_pct: Floats


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


def readings(heard: Heard, edges: Ints) -> Readings:
    """The medians by pair and day; `edges` are the midnights around each day, shape (d + 1,)."""
    day = np.searchsorted(edges, heard.start, side="right") - 1
    inside = (day >= 0) & (day < len(edges) - 1)
    codes = (heard.station * 64 + heard.mode)[inside]
    pairs, row = np.unique(codes, return_inverse=True)
    shape = (len(pairs), len(edges) - 1)
    level, errors = (
        _medians(row * shape[1] + day[inside], part[inside], shape) for part in (heard.rssi_dbm, heard.ber_pct)
    )
    return Readings(pairs // 64, pairs % 64, level, errors)


def _medians(cell: Ints, values: Floats, shape: tuple[int, int]) -> Floats:
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


def draws(station: Ints) -> npt.NDArray[np.int32]:
    """How often each row counts in each of RESAMPLES draws of as many stations as there are, shape (RESAMPLES, rows):
    a station's rows are drawn together.
    """
    found, of = np.unique(station, return_inverse=True)
    drawn = np.random.default_rng(SEED).multinomial(len(found), [1 / len(found)] * len(found), size=RESAMPLES)
    return np.asarray(drawn[:, of], dtype=np.int32)


def interval(values: Floats, drawn: npt.NDArray[np.int32]) -> tuple[float, float]:
    """The 95 % bootstrap interval of the median of values (n,), by draws (RESAMPLES, n)."""
    order = np.argsort(values)
    ordered, weight = values[order], np.cumsum(drawn[:, order], axis=1)
    total = weight[:, -1]
    told = total > 0
    weight, half = weight[told], total[told, None] / 2
    low, high = (weight < half).sum(axis=1), (weight <= half).sum(axis=1)
    middle = (ordered[low] + ordered[np.minimum(high, len(ordered) - 1)]) / 2
    below, above = np.quantile(middle, [0.025, 0.975])
    return float(below), float(above)
