"""The page on which a keeper takes note of an incident: all that its template gets."""

from dataclasses import dataclass

from server.alerts.states import State
from server.telling.caution import CAUTION
from server.telling.incidents import whole_title
from server.web.frame import Frame
from server.web.shell import Link, Shell


@dataclass(frozen=True)
class NoteView:
    """What transmitter_note.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    heading: str  #: which incident
    says: str  #: its sentence
    action: str  #: where the form goes
    token: str  #: ties the form to this visitor
    done: bool  #: it was taken note of already
    trouble: str  #: what was wrong with the last attempt
    back: Link  #: to the page
    caution: str  #: what none of this is


def note_view(state: State, token: str, trouble: str, when: str, frame: Frame) -> NoteView:
    """Taking note of the incident that was raised at `when`."""
    return NoteView(
        shell=frame.shell("Take note", None),
        heading=f"{whole_title(state.rule, state.subject)}, {when}",
        says=state.says,
        action=frame.to(f"/transmitter/note/{state.id}"),
        token=token,
        done=state.acknowledged_us is not None,
        trouble=trouble,
        back=frame.link("Back to the transmitter", "/transmitter"),
        caution=CAUTION,
    )
