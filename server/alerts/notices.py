"""The text of a notice: what was seen, since when, the evidence, what to check first, and what really makes the
transmitter safe.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.alerts import words
from server.alerts.states import Spoken, State
from server.telling.caution import NOTICE
from shared.numbers import grouped


@dataclass(frozen=True)
class Notice:
    """One message. `incident_id` None: a digest of several."""

    incident_id: int | None
    kind: str
    title: str
    body: str


def notices_of(spoken: Sequence[Spoken], now: int, whose: str, zone: ZoneInfo) -> list[Notice]:
    """One notice for each that speaks now, and one digest for all that waited."""
    waited = [one for one in spoken if one.digest]
    digest = len(waited) > 1
    notices = [_single(one, now, whose, zone) for one in spoken if not (digest and one.digest)]
    if digest:
        lines = [f"- {_head(one.state)}: {one.state.says} {_standing(one.state, now, zone)}" for one in waited]
        body = "What can wait till the morning:\n" + "\n".join(lines) + f"\n\n{NOTICE}"
        notices.append(Notice(None, "digest", f"{whose}: {grouped(len(waited))} things since last night", body))
    return notices


def _head(state: State) -> str:
    title = words.TITLES[state.rule]
    return f"{title[0].upper()}{title[1:]} ({state.subject})"


def _standing(state: State, now: int, zone: ZoneInfo) -> str:
    if state.cleared is not None:
        return (
            f"It was over at {words.moment(state.cleared, zone)}, after {words.length(state.cleared - state.raised)}."
        )
    return f"It is still going on, after {words.length(now - state.raised)}."


def _single(one: Spoken, now: int, whose: str, zone: ZoneInfo) -> Notice:
    state = one.state
    mark = {"raised": "", "reminder": "still: ", "cleared": "over: "}[one.kind]
    lines = [
        f"Seen: {_head(state)}.",
        f"Since: {words.moment(state.raised, zone)}. {_standing(state, now, zone)}",
        f"Evidence: {state.says}",
    ]
    if state.cleared is None:
        lines.append(f"Check first: {words.check(state.rule, state.subject)}")
        lines.append(f"`airtally alerts ack {state.id}`, or the Transmitter page, ends the reminders.")
    lines.append(NOTICE)
    return Notice(state.id, one.kind, f"{whose}: {mark}{words.TITLES[state.rule]} ({state.subject})", "\n".join(lines))


def test_notice(whose: str) -> tuple[str, str]:
    """Title and body of the notice that `airtally alerts test` sends."""
    return (
        f"{whose}: a test notice",
        "Seen: nothing. This is a test that the keeper asked for.\nNotices about the transmitter would come this way.\n"
        + NOTICE,
    )
