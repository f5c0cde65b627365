"""/metrics for Prometheus (https://prometheus.io/docs/practices/naming/): base units in the names, nothing about
people. What is not known is left out, never 0.

Gauges of the day are `airtally figures` of the last 24 whole hours. They are computed once an hour, and again where
lines came that may belong to it, so that a scrape costs next to nothing."""

import re
import threading
from collections.abc import Iterator
from importlib.metadata import version

from prometheus_client import CollectorRegistry
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily
from prometheus_client.exposition import choose_encoder
from prometheus_client.metrics_core import Metric
from prometheus_client.registry import Collector

from server.analytics.figure_types import Figures
from server.web.source import Source
from shared.zones import HOUR, SECOND

AGAIN_AFTER = 300 * SECOND
OF_THE_DAY = "in the last 24 whole hours"
#: A version in an Accept header: anything but numbers and dots ends the library's choice with a TypeError.
VERSION = re.compile(r"[0-9]{1,4}(\.[0-9]{1,4}){0,3}")
#: Name -> (what it is, the field of the channel's figures).
CHANNEL = {
    "airtally_day_seen_seconds": ("Time that a log tells of", "seen_s"),
    "airtally_day_channel_airtime_seconds": ("Time with any over", "airtime_s"),
    "airtally_day_occupancy_ratio": ("Share of the seen time with any over", "occupancy"),
    "airtally_day_keyed_seconds": ("Time that the transmitter was keyed, with tails", "keyed_s"),
    "airtally_day_channel_idle_hold_seconds": ("Time held and silent", "idle_hold_s"),
    "airtally_day_unfinished_overs": ("Overs without an end", "unfinished"),
    "airtally_day_overruns": ("Overs longer than the time-out and its grace", "overruns"),
}
#: The same of each mode.
MODES = {
    "airtally_day_airtime_seconds": ("Time with an over of the mode", "airtime_s"),
    "airtally_day_overs": ("Overs that began", "overs"),
    "airtally_day_idle_hold_seconds": ("Time held by the mode and silent", "idle_hold_s"),
    "airtally_day_timeouts": ("Overs that ended by time-out, as counted", "timeouts"),
    "airtally_day_timeouts_estimated": ("Time-outs as estimated from the overs' lengths", "timeouts_estimated"),
    "airtally_day_shut_outs_suffered": ("Attempts refused as another mode held the repeater", "shut_outs_suffered"),
    "airtally_day_shut_out_risk_ratio": ("Share of the seen time that other modes held", "shut_out_risk"),
}  # fmt: skip


class Scrapes(Collector):
    """The metrics of a source."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._registry = CollectorRegistry(auto_describe=False)
        self._registry.register(self)
        self._lock = threading.Lock()
        self._day: tuple[int, str, int, Figures] | None = None  #: end, version of the store, when computed, figures

    def scrape(self, accept: str) -> tuple[bytes, str]:
        """The body and its media type, in the form that the scraper takes, or the plain one. Raises StoreError."""
        encode, media = choose_encoder(readable(accept))
        return encode(self._registry), media

    def describe(self) -> list[Metric]:
        return []  # nothing is asked of the store before the first scrape

    def collect(self) -> Iterator[Metric]:
        yield InfoMetricFamily("airtally", "The version that runs", {"version": version("airtally")})
        yield from self._health()
        yield from self._intake()
        yield from self._alerts()
        yield from day_metrics(self._figures_of_the_day())

    def _health(self) -> Iterator[Metric]:
        health = self._source.health()
        yield GaugeMetricFamily("airtally_healthy", "Whether intake, watch and store all work", float(health.is_well))
        faults = GaugeMetricFamily("airtally_part_faulty", "Parts that do not do their work now", labels=("part",))
        for part in sorted({fault.part for fault in health.faults}):
            faults.add_metric((part,), 1.0)
        yield faults

    def _intake(self) -> Iterator[Metric]:
        lines = CounterMetricFamily("airtally_log_lines", "Lines read, by what became of them", labels=("outcome",))
        for outcome, count in self._source.lines_read().items():
            lines.add_metric((outcome,), count)
        yield lines
        known = self._source.first_and_last()
        if known is not None:
            name, says = "airtally_last_line_timestamp_seconds", "Stamp of the last line that was read"
            yield GaugeMetricFamily(name, says, known[1] / SECOND)

    def _alerts(self) -> Iterator[Metric]:
        standing = self._source.alerts().standing()
        if standing is None:
            return  # the rules were never asked
        found = GaugeMetricFamily("airtally_alerts_open", "Alerts that stand raised", labels=("urgent",))
        for urgent in (True, False):
            found.add_metric(("true" if urgent else "false",), sum(one.urgent is urgent for one in standing))
        yield found

    def _figures_of_the_day(self) -> Figures:
        now, state = self._source.now(), self._source.version()
        end = now // HOUR * HOUR
        with self._lock:
            kept = self._day
            fresh = kept is not None and kept[0] == end and (kept[1] == state or 0 <= now - kept[2] < AGAIN_AFTER)
            if kept is None or not fresh:
                kept = self._day = (end, state, now, self._source.figures(end - 24 * HOUR, end))
            return kept[3]


def readable(accept: str) -> str:
    """An Accept header without the media types whose version can't be read."""
    return ",".join(one for one in accept.split(",") if _version_is_readable(one))


def _version_is_readable(media: str) -> bool:
    parameters = [one.strip().partition("=") for one in media.split(";")[1:]]
    return all(VERSION.fullmatch(value) for name, _, value in parameters if name == "version")


def day_metrics(found: Figures) -> Iterator[Metric]:
    """The gauges of a day's figures."""
    for name, (says, field) in CHANNEL.items():
        gauge = GaugeMetricFamily(name, f"{says}, {OF_THE_DAY}")
        value = getattr(found.channel, field)
        if value is not None:
            gauge.add_metric((), value)
        yield gauge
    for name, (says, field) in MODES.items():
        gauge = GaugeMetricFamily(name, f"{says}, {OF_THE_DAY}", labels=("mode",))
        for word, mode in found.modes.items():
            value = getattr(mode, field)
            if value is not None:
                gauge.add_metric((word,), value)
        yield gauge
