"""Figures for tests, made of the types that analytics gives."""

from dataclasses import replace
from typing import Any

from server.analytics.figure_types import Figures, Mode


def mode(airtime_s: float, overs: int, **others: Any) -> Mode:
    """One mode's figures, with plausible values for what is not given."""
    plausible = Mode(
        airtime_s=airtime_s,
        slots=None,
        erlang=airtime_s / 604_800,
        idle_hold_s=overs * 6.5,
        shut_out_risk=0.09,
        pages=0,
        overs=overs,
        air_overs=overs * 2 // 3,
        link_overs=overs - overs * 2 // 3,
        stations=max(1, overs // 60),
        timeouts=0,
        timeouts_estimated=0,
        overruns=0,
        near_timeouts=0,
        timeout_lockouts=0,
        kerchunks=overs // 30,
        shut_outs_suffered=0,
        shut_outs_caused=0,
        doublings=overs // 200,
    )
    return replace(plausible, **others)


def changed(figures: Figures, **parts: Any) -> Figures:
    """The same with other values: of a part (`channel={"overs": 3}`), of a mode (`dmr={"timeouts": 2}`), or for a whole
    part.
    """
    for name, values in parts.items():
        if name in figures.modes:
            figures = replace(figures, modes={**figures.modes, name: replace(figures.modes[name], **values)})
        else:
            part = replace(getattr(figures, name), **values) if isinstance(values, dict) and name != "modes" else values
            figures = replace(figures, **{name: part})
    return figures
