"""The numbers of the Explore page as JSON for its script, and as rows for files."""

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from server.analytics.by_target import Targets, by_target
from server.analytics.explored import CHANNEL, DUTIES, Explored
from server.telling.explored import MEASURES, OF_THE_CHANNEL, modes_by_airtime
from server.telling.modes import mode_name
from server.web.explore.asked import Asked
from server.web.explore.words import span_label
from server.web.source import Source
from shared.zones import DAY, SECOND, iso

Json = dict[str, Any]
KEPT = 4
MOST_DAYS_OF_TARGETS = 35


@dataclass(frozen=True)
class Look:
    """What the store tells of one look; the page, its script and its files draw on the same."""

    found: Explored
    before: Explored | None
    cells: npt.NDArray[np.float64]  #: (7, 24) hours of the week, as Source.hour_of_week gives them
    targets: Targets | None  #: None where the stretch is too long for it


class Looks:
    """The last few looks, kept: the page's script asks for what the page was just made of."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._kept: OrderedDict[tuple[str, str], Look] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, asked: Asked) -> Look:
        key = (self._source.version(), asked.query())
        with self._lock:
            look = self._kept.get(key)
            if look is None:
                look = self._kept[key] = self._look(asked)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return look

    def _look(self, asked: Asked) -> Look:
        source = self._source
        before = source.explored(asked.before) if asked.compared else None
        cells = source.hour_of_week(*asked.window, asked.measure.column)
        return Look(source.explored(asked.spans), before, cells, self._targets(asked))

    def _targets(self, asked: Asked) -> Targets | None:
        """Stations are counted over the whole stretch, so its overs are read."""
        if asked.window[1] - asked.window[0] > MOST_DAYS_OF_TARGETS * DAY:
            return None
        names = self._source.station().names
        return by_target(self._source.activity(*asked.window), asked.window, names.reach_of)


def explored_json(look: Look, asked: Asked) -> Json:
    """The chosen measure by span and mode, the same of the stretch before, and its hours of the week."""
    found, before, cells, measure = look.found, look.before, look.cells, asked.measure
    return {
        "measure": measure.label.text,
        "unit": measure.unit,
        "scale": measure.scale,
        "by": asked.by,
        "spans": [
            {
                "from": iso(start, asked.zone),
                "to": iso(end, asked.zone),
                "label": span_label(start, asked.by, asked.zone),
            }
            for start, end in asked.spans
        ],
        "channel": found.values(CHANNEL, measure.column),
        "modes": [
            {"mode": mode, "label": mode_name(mode).text, "values": found.values(mode, measure.column)}
            for mode in _modes(found, asked)
        ],
        "before": None if before is None else before.values(CHANNEL, measure.column)[: len(asked.spans)],
        "before_label": before_label(asked),
        "second": _second(asked),
        "week": [
            [None if np.isnan(cell) else round(cell / scale_of(asked), 6) for cell in row] for row in cells.tolist()
        ],
    }


def before_label(asked: Asked) -> str:
    """What stands beside the stretch."""
    if asked.second:
        return "Second stretch"
    return f"{asked.back} {'week' if asked.back == 1 else 'weeks'} before"


def _second(asked: Asked) -> list[tuple[str, str]] | None:
    """From when to when the steps of a second stretch last, for a part that is brushed."""
    if not asked.second:
        return None
    return [(iso(start, asked.zone), iso(end, asked.zone)) for start, end in asked.before[: len(asked.spans)]]


def scale_of(asked: Asked) -> int:
    """Of the hours of the week: microseconds to seconds, or to a share; counts as they are."""
    return DUTIES.get(asked.measure.column, SECOND if asked.measure.is_length else 1)


def _modes(found: Explored, asked: Asked) -> list[str]:
    return [] if asked.measure.name in OF_THE_CHANNEL else modes_by_airtime(found)


def explored_rows(found: Explored, asked: Asked) -> list[Json]:
    """One row a span and mode, and one a span for the channel, with every measure; instants as text."""
    columns = {one.column: found_name(one.column) for one in MEASURES.values()}
    values = {
        mode: {name: found.values(mode, name) for name in columns} for mode in [CHANNEL, *modes_by_airtime(found)]
    }
    own = {one.column for one in MEASURES.values() if one.name in OF_THE_CHANNEL}
    return [
        {"from": iso(start, asked.zone), "to": iso(end, asked.zone), "mode": mode or "channel"}
        | {name: None if mode and column in own else its[column][place] for column, name in columns.items()}
        for place, (start, end) in enumerate(asked.spans)
        for mode, its in values.items()
    ]


def found_name(column: str) -> str:
    """The name of a measure in a file, with its unit."""
    if column in DUTIES:
        return column.removesuffix("_us")
    return f"{column.removesuffix('_us')}_s" if column.endswith("_us") else column
