"""The text of a notice: what was seen, since when, the evidence, what to check first, and what really makes the
transmitter safe.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.alerts import words
from server.alerts.folding import since
from server.alerts.states import OF_ONE_TRANSMITTER, Spoken, State
from server.telling.caution import NOTICE, WORK
from server.telling.incidents import whole_title
from shared.numbers import grouped

OF_THE_TRANSMITTER = (*OF_ONE_TRANSMITTER, "chatter")


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
        caution = _caution([one.state for one in waited])
        body = "What can wait till the morning:\n" + "\n".join(lines) + (f"\n\n{caution}" if caution else "")
        notices.append(Notice(None, "digest", f"{whose}: {grouped(len(waited))} things since last night", body))
    return notices


def _head(state: State) -> str:
    return whole_title(state.rule, state.subject)


def _standing(state: State, now: int, zone: ZoneInfo) -> str:
    if state.cleared is None:
        return f"It is still going on, after {words.length(now - since(state))}."
    return f"It was over at {words.moment(state.cleared, zone)}, after {words.length(state.cleared - since(state))}."


def _title(one: Spoken) -> str:
    """`urgent: an over runs on (DMR, slot 1)`."""
    head = _head(one.state)
    said = {
        "raised": "urgent: " if one.state.urgent else "",
        "reminder": "urgent, still open: " if one.state.urgent else "still open: ",
        "cleared": "cleared: ",
    }[one.kind]
    return f"{said}{head[0].lower()}{head[1:]}"


def _single(one: Spoken, now: int, whose: str, zone: ZoneInfo) -> Notice:
    state = one.state
    lines = [
        f"Seen: {_head(state)}.",
        f"Since: {words.moment(since(state), zone)}. {_standing(state, now, zone)}",
        f"Evidence: {state.says}",
    ]
    if state.cleared is None:
        lines.append(f"Check first: {words.check(state.rule, state.subject)}")
        lines.append(f"`airtally alerts ack {state.id}`, or the Transmitter page, ends the reminders.")
    lines.extend(caution for caution in [_caution([state])] if caution)
    return Notice(state.id, one.kind, f"{whose}: {_title(one)}", "\n".join(lines))


def _caution(states: Sequence[State]) -> str:
    """What really makes the transmitter safe, where a notice is about it; what comes before work at the antenna, where
    it leads there.
    """
    if any(state.rule in OF_THE_TRANSMITTER for state in states):
        return NOTICE
    return WORK if any((state.rule, state.subject) == ("gone-silent", "air") for state in states) else ""


def test_notice(whose: str) -> tuple[str, str]:
    """Title and body of the notice that `airtally alerts test` sends."""
    return (
        f"{whose}: a test notice",
        "Seen: nothing. This is a test that the keeper asked for.\nNotices about the transmitter would come this way.\n"
        + NOTICE,
    )
