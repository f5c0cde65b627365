"""Cells by mode that the Week page and the report share: what is counted and what is estimated is told apart in one place."""

from collections.abc import Mapping
from typing import Any

from server.web import words

TIMEOUT_KEYS = ("timeouts", "timeouts_estimated", "near_timeouts", "timeout_lockouts")
NONE_ESTIMATED = "\u2013"


def timeout_cells(its: Mapping[str, Any]) -> tuple[str, ...] | None:
    """Logged, by length (with the word `estimated`), near, locked out; None for a mode that had none of them."""
    if not any(its[key] for key in TIMEOUT_KEYS):
        return None
    logged, inferred, near, locked = (words.whole_number(its[key]) for key in TIMEOUT_KEYS)
    return logged, f"{inferred} estimated" if its["timeouts_estimated"] else NONE_ESTIMATED, near, locked


def shut_out_cells(its: Mapping[str, Any]) -> tuple[str, ...]:
    """Suffered, caused, risk."""
    return words.whole_number(its["shut_outs_suffered"]), words.whole_number(its["shut_outs_caused"]), words.percent(its["shut_out_risk"])
