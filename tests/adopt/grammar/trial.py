"""A drawn host learnt from its first days and read over all of them, beside its truth, field by field."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import polars as pl

from parsers.adopt.answers import known_from, with_answer
from parsers.dialect import reader
from parsers.reading import Carry
from server.intake.learning import adopt_lines
from server.intake.pairing import nothing_open, pair
from shared.errors import AirtallyError
from shared.zones import SECOND
from tests.adopt.book import Row
from tests.adopt.grammar.hosts import GrammarHost, draw_host, write_log
from tests.adopt.grammar.traffic import draw_book, draw_habits

LEARN_DAYS, DAYS = 2, 5
RUNS = 4  #: so often does the keeper run the command, answering what it asks
FIELDS = ("mode", "slot", "side", "station", "target", "cause")
RIGHT, MODE_AND_DURATION = 0.97, 0.98
WRONG = 0.95  #: called good below this is wrong


@dataclass
class Trial:
    """What came of one host."""

    host: GrammarHost
    overs: int = 0
    shares: dict[str, float] = field(
        default_factory=dict
    )  #: of the true overs right in each field, `both` for mode and duration
    extra: float = 0.0  #: overs that never were, to the true ones
    refusals: float | None = None  #: found to true; None where the host tells of none
    links: bool | None = None  #: whether the networks that came out are those of the log
    good: bool = False  #: whether the reading called itself good
    says_right: float = 0.0  #: the share of the overs that the reading says is right
    asked: list[str] = field(default_factory=list)
    failed: str = ""  #: why there is no dialect

    @property
    def mode_and_duration(self) -> bool:
        return self.shares.get("both", 0.0) >= MODE_AND_DURATION and self.extra <= 0.02

    @property
    def refusals_right(self) -> bool:
        return self.refusals is None or abs(self.refusals - 1) <= 0.03 + self.host.lost

    @property
    def every_field(self) -> bool:
        """Mode, duration and all that the host writes; what it does not write came out as not known."""
        right = all(self.shares.get(key, 0.0) >= RIGHT for key in FIELDS)
        return self.mode_and_duration and right and self.refusals_right and self.links is not False

    @property
    def wrong_and_good(self) -> bool:
        """Called good although mode or duration, or a field that the host writes, is wrong."""
        worst = min((self.shares.get(key, 0.0) for key in ("both", *self.host.logs)), default=0.0)
        return self.good and (worst < WRONG or self.extra > 0.05)


def try_host(
    seed: int,
    *,
    held: bool,
    fresh: bool = False,
    made_up: bool = False,
    lossy: bool = False,
    thin: bool = False,
    answering: bool = True,
    days: int = DAYS,
    learn_days: int = LEARN_DAYS,
) -> Trial:
    """Draw, write, learn (answering what is asked as somebody would who knows the host), read all days, compare."""
    host = draw_host(seed, held=held, made_up=made_up, lossy=lossy, fresh=fresh)
    rng = np.random.default_rng([seed, 3, 2 if fresh else held])
    book = draw_book(rng, draw_habits(rng, days=days, thin=thin))
    lines = list(write_log(host, book))
    until = book.rows[0]["t"] + learn_days * 86_400 * SECOND
    learnt_from = lines[: max(60, round(len(lines) * sum(row["t"] < until for row in book.rows) / len(book.rows)))]
    now = book.rows[-1]["t"] + 10**9
    trial = Trial(host, overs=len(book.overs))
    values: dict[str, Any] = {}
    try:
        for _ in range(RUNS):
            made = adopt_lines(
                learnt_from,
                lambda: iter([pl.Series(learnt_from, dtype=pl.String)]),
                now,
                zone=host.zone,
                known=known_from(values, "answers"),
            )
            said = {one.key: host.answer(one.key) for one in made.learnt.questions}
            fresh = {key: text for key, text in said.items() if text is not None and key not in trial.asked}
            trial.asked += [key for key in said if key not in trial.asked]
            if not fresh or not answering:
                break
            for key, text in fresh.items():
                values = with_answer(values, key, text)
    except AirtallyError as error:
        trial.failed = str(error)
        return trial
    trial.good, trial.says_right = not made.account.poor, made.account.right
    events = reader(made.learnt.dialect).read(pl.Series(lines, dtype=pl.String), Carry(), now).events
    found = pair(nothing_open(), events).overs.filter(pl.col("end").is_not_null()).sort("start")
    _compare(trial, book.overs, found.to_dicts())
    if host.reasons is not None:
        true = sum(row["event"] == "refused" for row in book.rows)
        written = true * (1 - host.lost)  # what the log holds of them, but for chance
        trial.refusals = events.filter(pl.col("event") == "refused").height / written if true else None
    if host.links and not host.made_up:  # which of two unknown words means that a link is up can't be known
        # A network that the days of learning did not tell of can't be known where its name is a word like any other.
        networks = {row["network"] for row in book.rows if row["event"] == "link-down"}
        taught = {row["network"] for row in book.rows if row["event"] == "link-down" and row["t"] < until - SECOND}
        found_names = set(events.filter(pl.col("event") == "link-down")["network"].drop_nulls().to_list())
        trial.links = taught <= found_names <= networks if taught else None
    return trial


def _compare(trial: Trial, truth: list[Row], found: list[Row]) -> None:
    """Each true over with the found one that starts nearest; where lines are lost, only what both ends could tell is
    asked for.
    """
    host = trial.host
    starts = np.array([row["start"] for row in found], dtype=np.int64)
    free = np.ones(len(found), dtype=np.bool_)
    slack = (1.1 + 2 * host.step_s) * SECOND
    right = dict.fromkeys(("both", *FIELDS), 0)
    matched = 0
    for row in truth:
        low, high = (
            np.searchsorted(starts, row["start"] - slack),
            np.searchsorted(starts, row["start"] + slack, side="right"),
        )
        near = [at for at in range(int(low), int(high)) if free[at]]
        if not near:
            continue
        best = min(
            near,
            key=lambda at: (
                found[at]["mode"] != row["mode"],
                found[at]["slot"] != row["slot"],
                abs(found[at]["start"] - row["start"]),
            ),
        )
        free[best] = False
        matched += 1
        got = found[best]
        lasts = abs((got["end"] - got["start"]) - (row["end"] - row["start"])) <= (0.06 + 1.05 * host.step_s) * SECOND
        right["both"] += lasts and got["mode"] == row["mode"]
        for key in FIELDS:
            right[key] += got[key] == (row[key] if key in host.logs else None)
    base = matched if host.lost else len(truth)
    if host.lost and matched < 0.6 * len(truth):
        base = len(truth)
    trial.shares = {key: count / max(1, base) for key, count in right.items()}
    trial.extra = float(free.sum()) / max(1, len(truth))
