"""The reading beside a dialect: what was understood, what comes out, what is sure and what is a guess, in plain
sentences.
"""

from dataclasses import dataclass

from parsers.adopt.fit import Fit
from parsers.adopt.learn import Learnt
from parsers.time_forms import time_form
from parsers.timeofday import SAYS
from shared.numbers import grouped

POOR = 0.95
FEW_LINES = 100


@dataclass(frozen=True)
class Account:
    """How well a dialect fits."""

    coverage: float  #: share of the lines understood or ignored
    agreement: float  #: share of the overs that are consistent
    right: float  #: share of the overs that are right in mode and duration, as far as can be told
    poor: bool
    verdict: str
    sentences: tuple[str, ...]


def account(learnt: Learnt, fit: Fit) -> Account:
    """The reading of a dialect over the whole log."""
    doubt = min(1.0, sum(learnt.doubt.values()))
    right = fit.agreement * (1 - doubt)
    low = min(fit.coverage, right)
    below = fit.trial.below()
    poor = not fit.overs or low < POOR or bool(below)
    if not fit.overs:
        verdict = (
            "Nothing can be learnt yet: no over comes out of so few lines; try again with a log of a day or more."
            if fit.lines < FEW_LINES
            else "No over comes out: this dialect does not fit, teach it or see whether this is the right log."
        )
    elif poor:
        what = (
            f"only {fit.coverage:.1%} of the lines are understood or ignored"
            if fit.coverage < POOR
            else f"about {1 - right:.0%} of the overs may be wrong"
            if right < POOR
            else below[0]
        )
        verdict = (
            f"The fit is poor: {what}. Answer the questions, or teach the lines below, before these figures are relied "
            "on."
        )
    else:
        verdict = (
            f"The fit is good: {fit.coverage:.1%} of the lines are understood or ignored, and "
            f"{fit.agreement:.1%} of the "
            "overs are consistent (their length fits their times, none overlap)."
        )
    says = [
        f"Lines: {grouped(fit.lines)}; understood {grouped(fit.understood)} "
        f"({_share(fit.understood, fit.lines)}), ignored {grouped(fit.ignored)} "
        f"({_share(fit.ignored, fit.lines)}), unread {grouped(fit.unread)} ({_share(fit.unread, fit.lines)}).",
        f"Overs: {grouped(fit.overs)}; {grouped(fit.agreeing)} are consistent (their length fits their "
        "times, none overlap); "
        f"{grouped(fit.unfinished)} begin and never end, {grouped(fit.orphans)} end without start and duration.",
    ]
    if fit.overs:
        says.append(
            f"Of the overs {_share(fit.with_mode, fit.overs)} have a mode, {_share(fit.with_side, fit.overs)} a side, "
            f"{_share(fit.with_station, fit.overs)} a station"
            + (f"; of the DMR overs {_share(fit.dmr_with_slot, fit.dmr)} a time slot." if fit.dmr else ".")
        )
    if time_form(learnt.dialect.file.dialect.time).dayless:
        says.append(SAYS)
    if learnt.several:
        says.append(learnt.several)
    says += [f"Sure: {sentence}" for sentence in learnt.sure]
    says += [f"Guessed: {sentence}" for sentence in learnt.guessed]
    says += [
        f"In doubt: {what}. It may be wrong for {share:.0%} of the overs."
        for what, share in learnt.doubt.items()
        if share >= 0.005
    ]
    return Account(fit.coverage, fit.agreement, right, poor, verdict, tuple(says))


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.1%}" if whole else "none"


def account_text(learnt: Learnt, fit: Fit, name: str, logs: str) -> str:
    """The reading as Markdown."""
    told = account(learnt, fit)
    out = [
        f"# How well `{name}` fits",
        "",
        f"Learnt from {logs}.",
        "",
        told.verdict,
        "",
        *(f"- {sentence}" for sentence in told.sentences),
    ]
    if learnt.questions:
        out += ["", "## Questions left", ""]
        for question in learnt.questions:
            out.append(
                f"- `{question.key}` ({grouped(question.overs)} lines of overs in the sample hang on it): "
                f"{question.asks}"
            )
            out += [f"  - `{line[:200]}`" for line in question.examples]
    if fit.kept:
        out += ["", "## Lines that no shape took", "", *(f"- `{line[:200]}`" for _, line in fit.kept[:12])]
    return "\n".join(out) + "\n"
