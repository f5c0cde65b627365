"""/metrics, read by Prometheus' own parser (the prometheus-client library)."""

import re

import pytest
from prometheus_client.metrics_core import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families as open_metrics
from prometheus_client.parser import text_string_to_metric_families as classic

from server.service import Fault
from server.web.api.metrics import AGAIN_AFTER, CHANNEL, MODES
from shared.zones import HOUR, SECOND
from tests.web.conftest import Opened
from tests.web.web_fakes import NOW, FakeSource, empty_source, hostile_source


def scraped(client: object) -> dict[str, Metric]:
    answer = client.get("/metrics")  # type: ignore[attr-defined]
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/plain; version=")
    return {one.name: one for one in classic(answer.text)}


def samples(metric: Metric) -> dict[tuple[str, ...], float]:
    return {tuple(one.labels.values()): one.value for one in metric.samples}


def test_the_gauges_of_the_day_are_the_figures_of_the_last_24_whole_hours(open_pages: Opened) -> None:
    source = FakeSource()
    found, end = scraped(open_pages(source)), NOW // HOUR * HOUR
    day = source.figures(end - 24 * HOUR, end)
    for name, (_, field) in CHANNEL.items():
        assert samples(found[name]) == {(): getattr(day.channel, field)}
    for name, (_, field) in MODES.items():
        assert samples(found[name]) == {(word,): getattr(its, field) for word, its in day.modes.items()}


def test_the_names_keep_to_prometheus_conventions(open_pages: Opened) -> None:
    # https://prometheus.io/docs/practices/naming/ (from memory): one prefix, base units, _total for counters,
    # _ratio for shares, _timestamp_seconds for instants.
    for name, metric in scraped(open_pages()).items():
        assert re.fullmatch(r"airtally(_[a-z]+)+", name), name
        assert metric.documentation and not re.search(r"_(ms|us|minutes|hours|percent|pct|s)$", name)
        assert metric.type == "counter" or not name.endswith("_total")
        if name.endswith("_ratio"):
            assert all(0 <= one.value <= 1 for one in metric.samples)


def test_openmetrics_is_given_where_it_is_asked_for(open_pages: Opened) -> None:
    accept = {"Accept": "application/openmetrics-text; version=1.0.0"}
    answer = open_pages().get("/metrics", headers=accept)
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    assert {one.name for one in open_metrics(answer.text)} >= {"airtally_log_lines", *CHANNEL}


@pytest.mark.parametrize("media", ["text/plain", "application/openmetrics-text"])
@pytest.mark.parametrize(
    "version", ["x", "abc", "1e9", "1.0.0\xe9", "", "1..0", '"1.0.0"', "-1", "1.0.0;version=x", "9" * 5000]
)
def test_a_version_that_nobody_can_read_gets_the_plain_form(open_pages: Opened, media: str, version: str) -> None:
    # RFC 9110, 12.5.1: where nothing suits, a server may answer as if there were no Accept.
    pages = open_pages()
    accept = {"Accept": f"{media}; version={version}".encode("latin-1")}
    answer = pages.get("/metrics", headers=accept)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == pages.get("/metrics").headers["content-type"]
    assert {one.name for one in classic(answer.text)} >= set(CHANNEL)


def test_a_form_that_can_be_read_is_given_beside_one_that_can_not(open_pages: Opened) -> None:
    accept = {"Accept": "text/plain; version=x, application/openmetrics-text; version=1.0.0"}
    answer = open_pages().get("/metrics", headers=accept)
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")


def test_what_is_not_known_is_left_out_and_never_0(open_pages: Opened) -> None:
    found = scraped(open_pages(empty_source()))
    known = {name for name in (*CHANNEL, *MODES) if found[name].samples}
    assert known == {"airtally_day_seen_seconds"}  # that nothing was seen is known
    assert "airtally_last_line_timestamp_seconds" not in found and "airtally_alerts_open" not in found


def test_lines_alerts_and_health_are_told(open_pages: Opened) -> None:
    source = FakeSource(faults=(Fault("intake", "Reading the logs fails."),))
    found = scraped(open_pages(source))
    assert samples(found["airtally_healthy"]) == {(): 0.0}
    assert samples(found["airtally_part_faulty"]) == {("intake",): 1.0}
    lines = {one.labels["outcome"]: one.value for one in found["airtally_log_lines"].samples}
    assert lines == {kind: sum(getattr(log, kind) for log in source.logs) for kind in lines} and len(lines) == 3
    standing = [one.urgent for one in source.desk.standing() or ()]
    assert sum(samples(found["airtally_alerts_open"]).values()) == len(standing) > 0
    assert source.span is not None
    assert samples(found["airtally_last_line_timestamp_seconds"]) == {(): source.span[1] / SECOND}


@pytest.mark.parametrize("source", [FakeSource(), hostile_source()])
def test_no_call_sign_and_no_text_from_outside_is_in_it(open_pages: Opened, source: FakeSource) -> None:
    text = open_pages(source).get("/metrics").text
    assert not re.search(r"Q[A-Z]\d[A-Z]{3}|script|999\d{4}", text)


def test_a_scrape_reckons_once_an_hour_and_soon_after_new_lines(open_pages: Opened) -> None:
    source = FakeSource()
    client = open_pages(source)
    for _ in range(5):
        scraped(client)
    assert source.asked == 1
    source.state = "2"  # lines came
    scraped(client)
    assert source.asked == 1
    source.instant += AGAIN_AFTER
    scraped(client)
    assert source.asked == 2
    source.instant = (source.instant // HOUR + 1) * HOUR
    scraped(client)
    scraped(client)
    assert source.asked == 3
