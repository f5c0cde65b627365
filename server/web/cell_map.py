"""A map by clock hours of which each cell fills from the bottom, as plain paths that a template draws as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.telling.words import scale_of
from server.web.charts import Mark, NoteMark

TOP = 18.0


@dataclass(frozen=True)
class Grid:
    """Where the cells lie."""

    left: float
    step_x: float
    step_y: float
    pad: float = 1.5  #: above and below a cell

    @property
    def height(self) -> float:
        """Of a cell."""
        return self.step_y - 2 * self.pad


MONTH, WEEK, WEEKS = Grid(46, 13, 17), Grid(52, 13, 30, 2), Grid(62, 12.4, 22)


@dataclass(frozen=True)
class CellMap:
    """Rows downwards, hours across; the paths of all cells, of what is filled in them, and of those that were not
    seen."""

    width: float
    height: float
    rows: tuple[Mark, ...]
    hours: tuple[Mark, ...]
    lines: tuple[float, ...]  #: x of the line before each quarter of the day
    track: str
    fill: str
    unseen: str
    full: str  #: what a full cell stands for
    noted: tuple[NoteMark, ...] = ()  #: the keeper's notes


def cell_map(
    cells: Sequence[Sequence[float | None]],
    names: Sequence[str],
    grid: Grid,
    full: str,
    notes: Sequence[tuple[int, float, str]] = (),
) -> CellMap:
    """`cells` are shares of a full one, a row a name; None: not seen, or no such hour. Whatever is above none shows.
    `notes` are rows, clock hours and letters.
    """
    track: list[str] = []
    fill: list[str] = []
    unseen: list[str] = []
    wide, high = grid.step_x - 2, grid.height
    for row, shares in enumerate(cells):
        bottom = TOP + (row + 1) * grid.step_y - grid.pad
        for hour, share in enumerate(shares):
            x = grid.left + hour * grid.step_x + 1
            (unseen if share is None else track).append(f"M{x:g} {bottom - high:g}h{wide:g}v{high:g}h-{wide:g}z")
            if share:
                fill.append(f"M{x:g} {bottom:g}h{wide:g}v-{max(1.0, min(1.0, share) * high):.1f}h-{wide:g}z")
    return CellMap(
        width=grid.left + 24 * grid.step_x + 2,
        height=TOP + len(names) * grid.step_y + 2,
        rows=tuple(Mark(0, TOP + (row + 0.7) * grid.step_y, name) for row, name in enumerate(names)),
        hours=tuple(Mark(round(grid.left + hour * grid.step_x + 1, 1), 12, f"{hour:02d}") for hour in range(0, 24, 3)),
        lines=tuple(grid.left + hour * grid.step_x for hour in range(0, 24, 6)),
        track="".join(track),
        fill="".join(fill),
        unseen="".join(unseen),
        full=full,
        noted=tuple(
            NoteMark(round(grid.left + hour * grid.step_x, 1), TOP + row * grid.step_y, grid.step_y, letter)
            for row, hour, letter in notes
        ),
    )


def hour_map(
    seconds: npt.NDArray[np.float64],
    names: Sequence[str],
    scale_words: dict[int, str],
    notes: Sequence[tuple[int, float, str]] = (),
) -> CellMap:
    """The map of time on the air, shape (names, 24); one scale for all cells (server.telling.words.scale_of)."""
    scale = scale_of(float(np.nanmax(seconds)) if np.isfinite(seconds).any() else 0.0)
    return cell_map(shares_of(seconds / scale), names, WEEK, scale_words[scale], notes)


def shares_of(shares: npt.NDArray[np.float64]) -> list[list[float | None]]:
    """Rows of cells; nan is None."""
    return [[None if np.isnan(share) else share for share in row] for row in shares.tolist()]
