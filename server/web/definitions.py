"""The Definitions page: docs/definitions.md rendered, with an anchor for each figure, and the anchors that figures on
other pages link to.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

_ROOT = Path(__file__).resolve().parents[2]

#: What a page says -> the anchor of its definition. A test holds every one of them to be on the page.
ANCHORS = {
    "airtime": "airtime-of-a-mode",
    "channel airtime": "channel-airtime",
    "occupancy": "occupancy",
    "keyed time": "keyed-time",
    "duty": "duty-over-w",
    "blind time": "blind-time",
    "slot airtime": "slot-airtime",
    "both slots": "both-slots",
    "over": "over",
    "unfinished": "unfinished",
    "orphan": "orphan",
    "doubtful": "from-events-to-overs",
    "stations": "from-events-to-overs",
    "lines": "from-events-to-overs",
    "idle hold": "idle-hold-of-m",
    "moment": "a-moment",
    "outage": "outage-of-a-link",
    "attempt": "attempt",
    "shut-out": "shut-out",
    "shut-out wait": "shut-out-wait",
    "shut-out risk": "shut-out-risk-of-a-mode",
    "likely waiter": "likely-waiter-estimated",
    "doubling": "doubling",
    "timeout": "timeout-counted",
    "timeout estimated": "timeout-inferred-estimated",
    "near timeout": "near-timeout",
    "overrun": "overrun",
    "page": "page",
    "airtime of pages": "airtime-of-pages-estimated",
    "lockout": "timeout-lockout",
    "conversation": "conversation",
    "turnaround": "turnaround-gap",
    "short gap": "short-gap",
    "local on wide": "local-talk-on-a-wide-target",
    "kerchunk": "kerchunk",
    "link": "link",
    "link availability": "link-availability",
    "link outage": "outage-of-a-link",
    "flap": "flap",
    "link traffic": "traffic-of-a-link",
    "link loss": "loss-of-a-link",
    "link silence": "silence-of-a-link",
    "erlang": "traffic-of-a-mode-erlang",
    "busy hour": "busy-hour",
    "change": "comparison",
    "notable": "notable",
    "over-runs-on": "over-runs-on",
    "unlike-itself": "unlike-itself",
    "chatter": "chatter",
    "gone-silent": "gone-silent",
    "link-down": "link-down",
    "intake": "intake-alert",
    "reception": "reception-alert",
    "reading": "reading",
    "regular": "regular",
    "shift": "shift-of-a-day",
    "shift of errors": "shift-of-errors",
    "reception change": "change-of-reception",
    "size of a change": "size-of-a-change",
    "day of a change": "earliest-and-latest-day",
    "kind of a change": "kind-of-a-change",
    "hours of a change": "hours-of-a-change",
    "duty alert": "duty-alert",
    "turn": "turn",
    "radiated power": "radiated-power",
    "power density": "power-density",
    "near field": "near-field",
    "exposure distance": "distance-to-a-limit",
    "exposure limit": "limits",
    "held": "held-by-m",
    "resumed": "silence-resumed",
    "chance": "chance-as-counted",
    "expected loss": "erlang-b-s-expectation-estimated",
    "second slot": "second-slot-saves-estimated",
    "talk of a target": "talk-of-a-target",
    "wilson": "wilson-interval",
    "bootstrap": "bootstrap-over-days",
    "free time": "free-for-a-mode",
    "displaced": "displaced",
    "spared": "spared",
    "shut-outs then": "shut-outs-then",
    "idle hold then": "idle-hold-then",
    "open gaps": "open-gaps",
    "break-ins": "break-ins",
    "overs cut": "overs-cut-seconds-cut",
    "suggestion": "suggestion",
    "refused a day": "refused-calls-a-day",
    "step": "change-at-the-date",
    "lost": "lost-to-a-plan",
    "stations that lose it": "stations-that-lose-it",
    "spared by a plan": "spared-by-a-plan",
}


@dataclass(frozen=True)
class Definitions:
    """The rendered page."""

    body: Markup
    anchors: frozenset[str]
    sections: tuple[tuple[str, str], ...]  #: (anchor, title) of each part


def definitions_file() -> Path:
    """Where docs/definitions.md lies: in the source tree, or in what was installed."""
    kept = [_ROOT / "docs" / "definitions.md", _ROOT / "templates" / "definitions.md"]
    return next((path for path in kept if path.is_file()), kept[0])


def anchor_of(name: str) -> str:
    """The anchor made from a figure's name: `traffic of a mode (erlang)` -> `traffic-of-a-mode-erlang`."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def render(text: str) -> Definitions:
    """Markdown (CommonMark with tables, no raw HTML) to HTML. Headings, the first cell of each table row, and every
    term in bold or italics get an anchor; the first of a name wins.
    """
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(_pipes_in_code_escaped(text))
    anchors: set[str] = set()
    sections = []
    for opening, inline in _named(tokens):
        name = "".join(child.content for child in inline.children or [])
        anchor = anchor_of(name)
        if anchor and anchor not in anchors:
            anchors.add(anchor)
            opening.attrSet("id", anchor)
            if opening.tag == "h2":
                sections.append((anchor, name))
    for inline in tokens:
        children = inline.children or []
        for at, child in enumerate(children):
            if child.type in ("strong_open", "em_open"):
                anchor = anchor_of(children[at + 1].content)
                if anchor and anchor not in anchors:
                    anchors.add(anchor)
                    child.attrSet("id", anchor)
    body = reader.renderer.render(tokens, reader.options, {})
    return Definitions(
        Markup(body), frozenset(anchors), tuple(sections)
    )  # raw HTML is off: this is the renderer's own markup


def _named(tokens: list[Token]) -> Iterator[tuple[Token, Token]]:
    """Each heading, and each row of a table body with its first cell made the row's header: (token that gets the
    anchor, name).
    """
    row: Token | None = None
    for at, token in enumerate(tokens):
        if token.type == "heading_open":
            yield token, tokens[at + 1]
        elif token.type == "tr_open" and tokens[at + 1].type == "td_open":
            row, cell = token, tokens[at + 1]
            cell.tag = "th"
            cell.attrs = {"scope": "row"}
            closing = next(later for later in tokens[at:] if later.type == "td_close")
            closing.tag = "th"
            yield row, tokens[at + 2]


def _pipes_in_code_escaped(text: str) -> str:
    """`|X|` in code inside a table row: the tables of CommonMark's extension want each such pipe escaped."""

    def escaped(line: str) -> str:
        return re.sub(r"`[^`]*`", lambda code: code[0].replace("|", r"\|"), line)

    return "\n".join(escaped(line) if line.startswith("|") else line for line in text.split("\n"))
