"""The strip of a moment's half hour: plain numbers that its template draws as SVG."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.moment_strip import HalfHour, Lane
from server.telling.modes import mode_name
from server.telling.moments import clock_of
from server.telling.parts import Label
from server.web.charts import Mark
from shared.zones import SECOND

LEFT, WIDTH, LANE, TOP, FOOT = 78.0, 350.0, 22.0, 4.0, 18.0
TICK = 5 * 60 * SECOND
Bar = tuple[float, float]  #: x and width


@dataclass(frozen=True)
class LaneBars:
    """One mode and slot: a bar for what came by radio, one for what came over a link, over what the mode holds."""

    name: str
    y: float
    held: tuple[Bar, ...]
    air: tuple[Bar, ...]
    other: tuple[Bar, ...]  #: from a link, or from a side that the log does not name
    refused: tuple[float, ...]  #: x of each refused call
    begun: tuple[float, ...]  #: x of the start of each over without an end


@dataclass(frozen=True)
class MomentStrip:
    """Lanes downwards, half an hour across, the moment in the middle."""

    width: float
    height: float
    left: float
    lane: float  #: the height of one
    foot: float  #: y of the axis
    lanes: tuple[LaneBars, ...]
    unseen: tuple[Bar, ...]
    at: float  #: x of the moment
    ticks: tuple[Mark, ...]


def lane_label(lane: Lane) -> Label:
    """`DMR, slot 1`, after the mode's pattern."""
    name = mode_name(lane.mode)
    return Label(f"{name.text}, slot {lane.slot}", mode=name.mode) if lane.slot else name


def moment_strip(half: HalfHour, zone: ZoneInfo) -> MomentStrip:
    """All of it on one scale."""
    span = half.end_us - half.start_us

    def x(instant: int) -> float:
        inside = min(max(instant, half.start_us), half.end_us)
        return round(LEFT + (inside - half.start_us) / span * (WIDTH - LEFT), 1)

    def bar(start: int, end: int) -> Bar:
        return x(start), max(0.6, round(x(end) - x(start), 1))

    def bars(lane: Lane, *, air: bool) -> tuple[Bar, ...]:
        return tuple(bar(one.start_us, one.end_us) for one in lane.sent if (one.side == "air") == air)

    lanes = tuple(
        LaneBars(
            lane_label(lane).text.replace(", slot", " slot"),
            TOP + place * LANE,
            tuple(bar(*one) for one in lane.held),
            bars(lane, air=True),
            bars(lane, air=False),
            tuple(x(at) for at, _ in lane.attempts),
            tuple(x(at) for at in lane.begun),
        )
        for place, lane in enumerate(half.lanes)
    )
    foot = TOP + max(1, len(lanes)) * LANE
    first = -(-half.start_us // TICK) * TICK
    ticks = tuple(
        Mark(x(at), foot + 13, clock_of(at, zone)) for at in range(first, half.end_us, TICK) if at // TICK % 2 == 0
    )
    middle = x((half.start_us + half.end_us) // 2)
    unseen = tuple(bar(*one) for one in half.unseen)
    return MomentStrip(WIDTH, foot + FOOT, LEFT, LANE, foot, lanes, unseen, middle, ticks)
