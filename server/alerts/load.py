"""From the store's rows to what the rules go by."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from hashlib import blake2b
from typing import Any

import numpy as np

from server.alerts.engine import MEMORY, replay
from server.alerts.history import NEVER, OVER_COLUMNS, Bools, History
from server.alerts.incident import Incident
from server.alerts.limits import Limits, quiet_minutes
from server.analytics.activity import Ints, timer_us, us
from server.analytics.linking import changes_by_link
from server.analytics.polish import Heard
from server.analytics.seen import unlogged_spans
from server.config import Station
from server.store.arrivals import arrivals, as_they_came
from server.store.engine import Connection
from server.store.events import events_of, known_pages, link_events
from server.store.lines import line_stamps
from server.store.logs import latest_stamp, names_of_logs
from server.store.overs import OnAir, levels_of_overs, open_overs_on_air, overs_on_air
from server.telling.links import link_name
from shared import spans as sp
from shared.events import MODES, SIDES
from shared.zones import DAY, HOUR

RECENT = 2 * DAY  # what is read anew at each look
WATCHED = ("carrier-up", "host-start", "host-stop")


def limits_of(station: Station) -> Limits:
    """The settings of a station as the rules take them."""
    alerts = station.alerts
    return Limits(
        zone=station.zone,
        timeout=us(station.timers.timeout_s),
        grace=us(alerts.grace_s),
        quiet=quiet_minutes(alerts.quiet_hours),
        duty_day=alerts.duty_limit,
        duty_night=alerts.quiet_duty_limit,
        rating=station.transmitter.duty_rating,
        link_down=us(alerts.link_down_s),
        unread_share=alerts.unread_share,
    )


def load_history(
    connection: Connection, low: int, high: int, station: Station, ids: dict[str, str], opened: bool = True
) -> History:
    """What was written of [low, high), with overs that began before and reach into it; `opened`: with those that are
    open now.
    """
    rows = [*overs_on_air(connection, low, high, low - MEMORY), *_pages(connection, low, high)]
    if opened:
        rows += open_overs_on_air(connection, high, NEVER)
    rows.sort(key=lambda row: row[0])
    columns = zip(*rows, strict=True) if rows else ((),) * 10
    start, end, told, whole, lost, counted, mode, slot, side, station_text = columns
    codes = _codes(mode, MODES)
    people = {ids.get(text, text) for text in station_text if text}
    log_names = names_of_logs(connection)
    begun = _ints(start)
    done = np.maximum(_ints(end), begun)  # what came next may be stamped before it, out of order
    known = np.array(counted, dtype=np.bool_)
    lasted = sp.union(sp.spans(begun[known], done[known]))
    return History(
        start=begun,
        end=done,
        told=np.maximum(_ints(told), done),
        whole=np.array(whole, dtype=np.bool_),
        mode=codes,
        slot=_ints(number or 0 for number in slot),
        side=_codes(side, (*SIDES, "page")),
        lost=np.array(lost, dtype=np.bool_),
        counted=known,
        station=_station_codes([ids.get(text, text) if text else None for text in station_text], people),
        tail=timer_us(station.timers_for_figures().tail_s, codes),
        **_events(connection, low, high, log_names),
        lines={name: _came(connection, number, low, high) for number, name in sorted(log_names.items())},
        unread=_came_unread(connection, log_names, low, high),
        blind=sp.difference(unlogged_spans(connection, low, high, station.timers.quiet_log_s), lasted),
        heard=_heard(connection, low, high, ids),
    )


def _heard(connection: Connection, low: int, high: int, ids: dict[str, str]) -> Heard:
    """The levels of what was received by radio, whose stations have the same numbers in every part that is loaded."""
    told = levels_of_overs(connection, low, high)
    named = [ids.get(text, text) for text in told["station"]]
    return Heard(
        start=_ints(told["start"]),
        mode=_codes(told["mode"], MODES),
        station=_station_codes(named, set(named)) >> 7,  # room for the mode beside it
        rssi_dbm=np.array(told["rssi_dbm"], dtype=np.float64),
        ber_pct=np.array(told["ber_pct"], dtype=np.float64),
    )


def _came(connection: Connection, log_id: int, low: int, high: int) -> Ints:
    """When the lines of a log came: at their own stamp, or, where they have none, when their file changed."""
    came = [(arrival.at_us, arrival.stamp_us, arrival.lines) for arrival in arrivals(connection, log_id, low, high)]
    return as_they_came(line_stamps(connection, low, high, log_id=log_id), came, low, high)


def _came_unread(connection: Connection, log_ids: Iterable[int], low: int, high: int) -> Ints:
    """The same of the unread lines of all logs."""
    rows = (arrival for log_id in log_ids for arrival in arrivals(connection, log_id, low, high))
    came = [(arrival.at_us, arrival.stamp_us, arrival.unread) for arrival in rows]
    return as_they_came(line_stamps(connection, low, high, ("unread",)), came, low, high)


def _pages(connection: Connection, low: int, high: int) -> list[OnAir]:
    """Pages of known length as rows of overs that were written at their end."""
    pages = known_pages(connection, low, high)
    ended = [(t, t + us(seconds), mode, slot) for t, seconds, mode, slot in pages]
    return [(t, end, end, True, False, True, mode, slot, "page", None) for t, end, mode, slot in ended if end >= low]


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)


def _codes(found: Sequence[str | None], words: tuple[str, ...]) -> Ints:
    place = {word: code for code, word in enumerate(words)}
    return np.array([place.get(text or "", -1) for text in found], dtype=np.int64)


def _station_codes(found: Sequence[str | None], people: set[str]) -> Ints:
    """A number that stands for each station, the same in every part that is loaded and in every process: intervals are
    drawn in the order of these numbers, so Python's own hash, which each process salts anew, would move them.
    """
    numbers = {text: station_number(text) for text in people}
    return np.array([-1 if text is None else numbers[text] for text in found], dtype=np.int64)


def station_number(text: str) -> int:
    """63 bits of BLAKE2b (RFC 7693)."""
    return int.from_bytes(blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()) >> 1


def _events(connection: Connection, low: int, high: int, log_names: dict[int, str]) -> dict[str, Any]:
    carriers: list[int] = []
    hosts: dict[str, list[tuple[int, bool]]] = {}
    for instant, happened, log_id in events_of(connection, WATCHED, low, high):
        if happened == "carrier-up":
            carriers.append(instant)
        else:
            hosts.setdefault(log_names.get(log_id, "host"), []).append((instant, happened == "host-start"))
    links = changes_by_link(
        link_events(connection, min(low, high - MEMORY), high)
    )  # what a line is about may hang on lines long before
    return {
        "carriers": _ints(carriers),
        "links": _paired({link_name(*key): mine for key, mine in links.items()}),
        "hosts": _paired(hosts),
    }


def _paired(found: dict[str, list[tuple[int, bool]]]) -> dict[str, tuple[Ints, Bools]]:
    return {
        name: (_ints(t for t, _ in rows), np.array([back for _, back in rows], dtype=np.bool_))
        for name, rows in found.items()
    }


def joined(old: History, new: History) -> History:
    """Two parts that follow one another as one. Overs that reach from the old part into the new one belong to the new
    one.
    """
    first = int(new.start[0]) if len(new.start) else NEVER
    overs: dict[str, Any] = {name: np.concatenate([getattr(old, name), getattr(new, name)]) for name in OVER_COLUMNS}
    if len(old.start) and first < int(old.start[-1]):
        order = np.argsort(overs["start"], kind="stable")
        overs = {name: column[order] for name, column in overs.items()}

    def both(one: dict[str, Any], other: dict[str, Any]) -> dict[str, tuple[Ints, Bools]]:
        empty = (np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_))
        return {
            name: tuple(np.concatenate(pair) for pair in zip(one.get(name, empty), other.get(name, empty), strict=True))  # type: ignore[misc]
            for name in {**one, **other}
        }

    none = np.empty(0, dtype=np.int64)
    return replace(
        new,
        **overs,
        carriers=np.concatenate([old.carriers, new.carriers]),
        hosts=both(old.hosts, new.hosts),
        lines={
            name: np.concatenate([old.lines.get(name, none), new.lines.get(name, none)])
            for name in {**old.lines, **new.lines}
        },
        unread=np.concatenate([old.unread, new.unread]),
        blind=sp.union(old.blind, new.blind),
        heard=old.heard.then(new.heard),
    )


@dataclass
class Memory:
    """What was heard so far, of which only the last two days are read anew at each look."""

    station: Station
    ids: dict[str, str]
    _cut: int | None = None
    _old: History | None = None

    def history(self, connection: Connection, now: int) -> History:
        """Everything that the rules go by at an instant. Raises StoreError."""
        cut = (now - RECENT) // HOUR * HOUR
        if self._old is None or self._cut != cut:
            whole = load_history(connection, cut - MEMORY, cut, self.station, self.ids, opened=False)
            ended = whole.told < cut  # the others are in the part that is read anew
            self._old = replace(whole, **{name: getattr(whole, name)[ended] for name in OVER_COLUMNS})
            self._cut = cut
        return joined(self._old, load_history(connection, cut, now + DAY, self.station, self.ids))


def load_for_replay(connection: Connection, start: int, end: int, station: Station, ids: dict[str, str]) -> History:
    """All that a replay of [start, end) goes by."""
    return load_history(connection, start - MEMORY - DAY, end + DAY, station, ids)


def replayed(connection: Connection, start: int, end: int, station: Station, now: int) -> list[Incident]:
    """What the rules find in [start, end), up to the moment of reading: nobody knows whether a log is silent tomorrow.
    Where lines lie beyond the clock, their time has come too, as far as they tell.
    """
    upto = min(end, max(now, latest_stamp(connection) or now))
    if upto <= start:
        return []
    history = load_for_replay(connection, start, upto, station, station.names_of_ids())
    return replay(history, start, upto, limits_of(station))
