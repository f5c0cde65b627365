"""Figures of many windows as a table: one row a window, one column a figure.

A column has the path of the figure in `figures --json` for a name (`channel.airtime_s`, `modes.dmr.overs`), as
`pandas.json_normalize` gives them. The list of shut-outs by pair is told by its sum, `shut_outs.attempts`."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, get_type_hints
from zoneinfo import ZoneInfo

import polars as pl

from server.analytics.figure_types import Channel, Figures, LineCounts, Mode, Talk
from server.analytics.traffic import BusyHour
from shared.events import MODES

Row = dict[str, Any]
INSTANTS = (".from", ".to")
#: Of a mode that a window's figures don't have these are not 0, as nobody counted them there.
UNCOUNTED = ("shut_out_risk",)


def _kinds() -> dict[str, pl.DataType]:
    """The type of each figure, from its field: whole numbers, numbers or text."""
    others = ("seconds", "blind_s", "share", "1", "2", "both_slots_s")
    found: dict[str, pl.DataType] = {name: pl.Float64() for name in others}
    found |= {"attempts": pl.Int64(), "likely_waiters_estimated": pl.Int64()}
    for kind in (Channel, Mode, Talk, LineCounts, BusyHour):
        hints = get_type_hints(kind)
        for one in fields(kind):
            hint = str(hints[one.name])
            found[one.name] = pl.Float64() if "float" in hint else pl.Int64() if "int" in hint else pl.String()
    return found


KINDS = _kinds()


def figure_rows(found: Iterable[Figures]) -> list[Row]:
    """One row a window, all with the same columns; instants are RFC 3339 text. What is not known is None; a mode that
    was not heard in a window of which everything is known has 0 of what adds up.
    """
    rows = [_flat(one) for one in found]
    modes = [mode for mode in MODES if any(f"modes.{mode}.overs" in row for row in rows)]
    of_modes = {mode: _columns(rows, f"modes.{mode}.") for mode in modes}
    names = list(dict.fromkeys(name for row in rows for name in row if not name.startswith("modes.")))
    place = next((at for at, name in enumerate(names) if name.startswith("shut_outs")), len(names))
    order = [*names[:place], *(name for mode in modes for name in of_modes[mode]), *names[place:]]
    return [_filled(row, order, of_modes) for row in rows]


def figure_frame(rows: Sequence[Row], zone: ZoneInfo) -> pl.DataFrame:
    """The same as columns with types; instants in the repeater's zone, to the microsecond."""
    names = list(rows[0]) if rows else []
    return pl.DataFrame([_series(name, [row[name] for row in rows], zone) for name in names])


def _series(name: str, values: list[Any], zone: ZoneInfo) -> pl.Series:
    if name.endswith(INSTANTS):
        return pl.Series(name, values, pl.String()).str.to_datetime("%+", time_unit="us").dt.convert_time_zone(zone.key)
    return pl.Series(name, values, KINDS.get(name.rpartition(".")[2], pl.String()), strict=False)


def _flat(found: Figures) -> Row:
    told = found.as_json()
    told["shut_outs"] = {"attempts": found.attempts_shut_out}
    return dict(_paths(told))


def _paths(value: Mapping[str, Any], under: str = "") -> Iterator[tuple[str, Any]]:
    for name, its in value.items():
        if isinstance(its, Mapping):
            yield from _paths(its, f"{under}{name}.")
        else:
            yield under + name, its


def _columns(rows: Sequence[Row], under: str) -> list[str]:
    """Those of one mode, in the order of the JSON; the slots where any window has them."""
    fullest = max(rows, key=lambda row: sum(name.startswith(under) for name in row))
    return [name for name in fullest if name.startswith(under)]


def _filled(row: Row, order: Sequence[str], of_modes: Mapping[str, Sequence[str]]) -> Row:
    """The row with every column, and the zeros that are known."""
    zeros: set[str] = set()
    known = row["channel.airtime_s"] is not None
    for mode, its in of_modes.items():
        under = f"modes.{mode}."
        slotted = f"{under}slot_s.1" in its
        unslotted = () if slotted else (f"{under}both_slots_s",)
        if f"{under}overs" not in row and known:
            zeros |= {name for name in its if name.rpartition(".")[2] not in UNCOUNTED} - set(unslotted)
        elif row.get(f"{under}airtime_s") == 0 and slotted:
            zeros |= {f"{under}slot_s.1", f"{under}slot_s.2", f"{under}both_slots_s"}
    return {name: 0 if row.get(name) is None and name in zeros else row.get(name) for name in order}
