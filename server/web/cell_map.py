"""A map of days by hours of which each cell fills from the bottom, as plain paths that a template draws as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.report.charts import HourCells
from server.web.charts import Mark, NoteMark

_LEFT, _TOP, _STEP_X, _STEP_Y = 46, 18, 13, 17


@dataclass(frozen=True)
class CellMap:
    """Days downwards, hours across; the paths of all cells, of what is filled in them, and of those that were not
    seen."""

    width: int
    height: int
    days: tuple[Mark, ...]
    hours: tuple[Mark, ...]
    track: str
    fill: str
    unseen: str
    noted: tuple[NoteMark, ...] = ()  #: the keeper's notes


def cell_map(map_: HourCells, notes: Sequence[tuple[int, float, str]] = ()) -> CellMap:
    """Each cell fills from the bottom; something on the air always shows. `notes` are rows, clock hours and letters."""
    high = _STEP_Y - 3
    track: list[str] = []
    fill: list[str] = []
    unseen: list[str] = []
    for row, cells in enumerate(map_.cells):
        bottom = _TOP + (row + 1) * _STEP_Y - 1
        for hour, share in enumerate(cells):
            x = _LEFT + hour * _STEP_X + 1
            (unseen if share is None else track).append(f"M{x} {bottom - high}h{_STEP_X - 2}v{high}h-{_STEP_X - 2}z")
            if share:
                filled = f"{max(1.0, share * high):.1f}"
                fill.append(f"M{x} {bottom}h{_STEP_X - 2}v-{filled}h-{_STEP_X - 2}z")
    return CellMap(
        width=_LEFT + 24 * _STEP_X + 2,
        height=_TOP + len(map_.days) * _STEP_Y + 2,
        days=tuple(Mark(0, _TOP + (row + 0.75) * _STEP_Y, day) for row, day in enumerate(map_.days)),
        hours=tuple(Mark(_LEFT + hour * _STEP_X + 1, 12, f"{hour:02d}") for hour in range(0, 24, 3)),
        track="".join(track),
        fill="".join(fill),
        unseen="".join(unseen),
        noted=tuple(
            NoteMark(round(_LEFT + hour * _STEP_X, 1), _TOP + row * _STEP_Y, _STEP_Y, letter)
            for row, hour, letter in notes
        ),
    )
