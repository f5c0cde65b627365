"""What programs ask: the same JSON as the commands, for whoever may see it, and never an error of ours."""

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from starlette.testclient import TestClient

from server.cli import cli
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import close_stores, open_store
from server.web.api.openapi import ANSWERS, description
from server.web.api.window import MOST_DAYS
from server.web.app import create_app
from server.web.listening import WebOptions
from server.web.sign.throttle import FAILURES
from server.web.sign.tokens import issue_token, tokens, withdraw_token
from tests.web.conftest import Opened
from tests.web.web_fakes import FakeSource, hostile_source

WEEK = "2026-W46"
OF_A_WINDOW = [name for name in ANSWERS if name != "moment"]
ADDRESSES = [f"/api/v1/{name}" for name in ANSWERS]


@pytest.fixture(scope="module")
def hill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The folder of a demo of two weeks that was read."""
    folder = tmp_path_factory.mktemp("hill")
    write_demo(folder, weeks=2, first_day=dt.date(2026, 11, 9))
    station = load_station(folder / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    yield folder
    close_stores()


@pytest.fixture(scope="module")
def asked(hill: Path) -> Iterator[TestClient]:
    station = load_station(hill / "station.toml")
    app = create_app(StoreSource(open_store(station.store_url()), station), WebOptions(folder=hill))
    with TestClient(app, base_url="http://127.0.0.1:8087", raise_server_exceptions=False) as client:
        yield client


def sentence(answer: object) -> str:
    """The one sentence of a refusal."""
    said = answer.json()  # type: ignore[attr-defined]
    assert list(said) == ["error"] and said["error"].endswith(".")
    return str(said["error"])


@pytest.mark.parametrize("name", OF_A_WINDOW)
@pytest.mark.parametrize(
    "query, options",
    [
        ({"week": WEEK}, ["--week", WEEK]),
        ({"month": "2026-11"}, ["--month", "2026-11"]),
        ({"from": "2026-11-12T18:00", "to": "2026-11-13"}, ["--from", "2026-11-12T18:00", "--to", "2026-11-13"]),
    ],
)
def test_an_answer_is_the_json_of_the_command(
    hill: Path, asked: TestClient, name: str, query: dict[str, str], options: list[str]
) -> None:
    command = [name, *options, "--json", "--station", str(hill / "station.toml")]
    printed = CliRunner().invoke(cli, command, catch_exceptions=False).stdout
    answer = asked.get(f"/api/v1/{name}", params=query)
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/json"
    assert answer.json() == json.loads(printed)
    Draft202012Validator(description("")["components"]["schemas"][name]).validate(answer.json())


@pytest.mark.parametrize("at", ["2026-11-18T03:20", "2026-11-12T20:15:30.5+01:00", "2026-11-13", "1999-01-01"])
@pytest.mark.parametrize("mode", [None, "c4fm"])
def test_a_moment_is_the_json_of_the_command(hill: Path, asked: TestClient, at: str, mode: str | None) -> None:
    wanted = [] if mode is None else ["--mode", mode]
    command = ["moment", at, *wanted, "--json", "--station", str(hill / "station.toml")]
    printed = CliRunner().invoke(cli, command, catch_exceptions=False).stdout
    answer = asked.get("/api/v1/moment", params={"at": at} | ({} if mode is None else {"mode": mode}))
    assert answer.status_code == 200 and answer.json() == json.loads(printed)
    Draft202012Validator(description("")["components"]["schemas"]["moment"]).validate(answer.json())


@pytest.mark.parametrize(
    "query, says",
    [
        ("", "Name the moment"),
        ("at=then", "moments look like"),
        ("at=0001-01-01", "1900 to 2200"),
        ("at=2026-11-17&mode=am", "'am' is no mode"),
        ("at=2026-11-17&week=2026-W47", "at and mode are"),
    ],
)
def test_a_moment_that_cannot_be_used_is_refused_in_a_sentence(asked: TestClient, query: str, says: str) -> None:
    answer = asked.get(f"/api/v1/moment?{query}")
    assert answer.status_code == 400 and says in sentence(answer)


def test_alerts_need_no_window(asked: TestClient) -> None:
    assert asked.get("/api/v1/alerts").json() == []


def test_alerts_are_what_the_live_watch_raised(open_pages: Opened) -> None:
    source = FakeSource()
    found = open_pages(source).get("/api/v1/alerts").json()
    assert [one["says"] for one in found] == [one.says for one in source.desk.kept]
    Draft202012Validator(description("")["components"]["schemas"]["alerts"]).validate(found)


def test_the_same_answer_is_not_sent_twice(asked: TestClient) -> None:
    first = asked.get("/api/v1/figures", params={"week": WEEK})
    again = asked.get("/api/v1/figures", params={"week": WEEK}, headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize(
    "query, says",
    [
        ("", "Name one window"),
        ("week=2026-W47&month=2026-11", "Name one window"),
        ("from=2026-11-16", "Name one window"),
        ("week=2026-W54", "weeks look like 2026-W47"),
        ("week=0001-W01", "1900 to 2200"),
        ("month=0001-01", "1900 to 2200"),
        ("from=2026-11-17&to=2026-11-16", "ends (2026-11-16) before it begins"),
        ("from=1950-01-01&to=2026-01-01", f"more than {MOST_DAYS:,} days"),
        ("from=2026-11-16&to=2026-11-17&form=x", "'form' is not known here"),
        ("week=2026-W47&week=2026-W48", "twice"),
        ("week=%00%1b%5B2J", "weeks look like"),
        ("from=2026-03-29T01:30&to=2026-03-30", "does not exist in Europe/London"),
    ],
)
def test_a_window_that_cannot_be_used_is_refused_in_a_sentence(asked: TestClient, query: str, says: str) -> None:
    answer = asked.get(f"/api/v1/figures?{query}")
    assert answer.status_code == 400 and says in sentence(answer)


def test_a_plus_sign_that_was_not_escaped_is_understood(asked: TestClient) -> None:
    # application/x-www-form-urlencoded reads + as a blank (WHATWG URL standard, from memory).
    given_raw = asked.get("/api/v1/figures?from=2026-11-10T00:00:00+00:00&to=2026-11-11T00:00:00+00:00")
    assert given_raw.json() == asked.get("/api/v1/figures?from=2026-11-10&to=2026-11-11").json()


@pytest.mark.parametrize("path", ["/api/v1", "/api/v1/", "/api/v1/overs", "/api/v1/figures/"])
def test_an_address_that_is_none_is_told_as_json(asked: TestClient, path: str) -> None:
    answer = asked.get(path)
    assert answer.status_code == 404 and sentence(answer) == "There is nothing at this address."


@pytest.mark.parametrize("path", [*ADDRESSES, "/api/v1/openapi.json", "/metrics"])
def test_nothing_can_be_changed_here(asked: TestClient, path: str) -> None:
    answer = asked.post(path)
    assert answer.status_code == 405 and "GET" in answer.headers["allow"] and sentence(answer)
    assert asked.head(path).status_code in (200, 400)


def test_a_store_that_cannot_be_read_is_said_so_as_json(open_pages: Opened) -> None:
    client = open_pages(FakeSource(broken=True))
    for path in ("/api/v1/figures?week=2026-W47", "/metrics"):
        answer = client.get(path)
        assert answer.status_code == 503 and answer.headers["retry-after"] == "60" and "locked" in sentence(answer)


def test_a_defect_is_told_as_json_without_its_words(open_pages: Opened, monkeypatch: pytest.MonkeyPatch) -> None:
    source = FakeSource()
    client = open_pages(source)
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    monkeypatch.setattr(source, "figures", lambda *_: 1 / 0)
    answer = client.get("/api/v1/figures?week=2026-W47")
    assert answer.status_code == 500 and "division" not in sentence(answer)
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_hostile_text_reaches_a_program_only_as_text(open_pages: Opened) -> None:
    answer = open_pages(hostile_source()).get("/api/v1/alerts")
    assert answer.headers["content-type"] == "application/json" and answer.json()
    assert answer.headers["x-content-type-options"] == "nosniff"


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


@pytest.mark.parametrize("path", ["/api/v1/figures?week=2026-W47", "/api/v1/openapi.json", "/metrics"])
def test_where_a_password_is_set_a_token_opens_what_is_for_programs(
    open_pages: Opened, password: str, tmp_path: Path, path: str
) -> None:
    client = open_pages()
    answer = client.get(path)
    assert answer.status_code == 401 and "airtally password --token" in sentence(answer)
    assert answer.headers["www-authenticate"].startswith("Bearer")
    token = issue_token(tmp_path, "grafana")
    assert client.get(path, headers=bearer(token)).status_code == 200
    assert withdraw_token(tmp_path, "grafana") and not withdraw_token(tmp_path, "grafana")
    refused = client.get(path, headers=bearer(token))
    assert refused.status_code == 401 and "invalid_token" in refused.headers["www-authenticate"]


@pytest.mark.parametrize("path", ["/", "/week", "/month", "/intake", "/transmitter", "/sharing", "/definitions"])
def test_a_token_opens_nothing_else(open_pages: Opened, password: str, tmp_path: Path, path: str) -> None:
    answer = open_pages().get(path, headers=bearer(issue_token(tmp_path, "grafana")))
    assert answer.status_code == 303 and "/login" in answer.headers["location"]


def test_a_token_changes_nothing(open_pages: Opened, password: str, tmp_path: Path) -> None:
    client, head = open_pages(), bearer(issue_token(tmp_path, "grafana"))
    for path in ("/sharing/changes", "/transmitter/incident/1", "/logout"):
        assert client.post(path, headers=head, data={"token": "x"}).status_code in (403, 405)


def test_without_a_password_no_token_is_asked_for_and_only_this_machine_is_answered(open_pages: Opened) -> None:
    assert open_pages().get("/api/v1/figures?week=2026-W47").status_code == 200
    stranger = open_pages(base_url="http://hill.example").get("/api/v1/figures?week=2026-W47")
    assert stranger.status_code == 421 and "password" in sentence(stranger)


def test_wrong_tokens_make_an_address_wait_even_with_the_right_one(
    open_pages: Opened, password: str, tmp_path: Path
) -> None:
    client, token = open_pages(), issue_token(tmp_path, "grafana")
    for _ in range(FAILURES):
        assert client.get("/metrics", headers=bearer("guess")).status_code == 401
    answer = client.get("/metrics", headers=bearer(token))
    assert answer.status_code == 429 and int(answer.headers["retry-after"]) > 0 and "wait 15 min" in sentence(answer)
    issue_token(tmp_path, "another")  # whoever makes one is the keeper: everybody may try again
    assert client.get("/metrics", headers=bearer(token)).status_code == 200
    for _ in range(3 * FAILURES):
        assert client.get("/metrics", headers=bearer(token)).status_code == 200


def test_whoever_comes_without_a_token_does_not_lock_out_those_that_have_one(
    open_pages: Opened, password: str, tmp_path: Path
) -> None:
    client, token = open_pages(), issue_token(tmp_path, "grafana")
    for head in [{}, {"Authorization": "Basic eDp5"}, {"Authorization": "Bearer"}] * FAILURES:
        assert client.get("/metrics", headers=head).status_code == 401
    assert client.get("/metrics", headers=bearer(token)).status_code == 200


def test_a_token_is_kept_as_a_fingerprint_in_a_file_of_its_owners(tmp_path: Path) -> None:
    token = issue_token(tmp_path, "grafana")
    file = tmp_path / "airtally.tokens"
    assert token not in file.read_text() and file.stat().st_mode & 0o777 == 0o600
    assert [one.name for one in tokens(tmp_path)] == ["grafana"]


@pytest.mark.parametrize("spoilt", ["", "nonsense", "{}", "[1]", "[" * 100_000, '[{"name": "x"}]'])
def test_a_spoilt_file_of_tokens_opens_nothing(open_pages: Opened, password: str, tmp_path: Path, spoilt: str) -> None:
    token = issue_token(tmp_path, "grafana")
    (tmp_path / "airtally.tokens").write_text(spoilt)
    assert open_pages().get("/metrics", headers=bearer(token)).status_code == 401


def under_test(app: object) -> schemathesis.BaseSchema:
    return schemathesis.openapi.from_asgi("/api/v1/openapi.json", app, headers=HERE)


HERE = {"Host": "127.0.0.1:8087"}
EITHER_WINDOW = "positive_data_acceptance"  # a schema of parameters can't say that one window is to be named


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", ADDRESSES)
def test_no_request_that_a_fuzzer_makes_of_the_description_is_an_error_of_ours(asked: TestClient, path: str) -> None:
    # schemathesis: no 5xx, answers as described, unknown methods and wrong values refused (its own checks).
    schemathesis.checks.load_all_checks()
    left_out = [schemathesis.checks.CHECKS.get_one(EITHER_WINDOW)]
    operation = under_test(asked.app)[path]["GET"]

    @settings(max_examples=40, database=None, suppress_health_check=list(HealthCheck))
    @given(operation.as_strategy())
    def fuzz(case: schemathesis.Case) -> None:
        case.validate_response(case.call(headers=HERE), excluded_checks=left_out)

    fuzz()


MOMENTS = st.datetimes(dt.datetime(1899, 1, 1), dt.datetime(2202, 1, 1))


@settings(max_examples=30, database=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(OF_A_WINDOW), MOMENTS, st.integers(1, 40 * 86_400_000_000))
def test_any_window_gets_an_answer_as_described_or_a_sentence(
    asked: TestClient, name: str, begin: dt.datetime, length_us: int
) -> None:
    query = {"from": begin.isoformat(), "to": (begin + dt.timedelta(microseconds=length_us)).isoformat()}
    answer = asked.get(f"/api/v1/{name}", params=query)
    assert answer.status_code in (200, 400)
    if answer.status_code == 200:
        Draft202012Validator(description("")["components"]["schemas"][name]).validate(answer.json())
    else:
        assert sentence(answer)


def test_a_prefix_stands_in_the_description(open_pages: Opened) -> None:
    client = open_pages(path_prefix="/hill")
    assert client.get("/hill/api/v1/openapi.json").json()["servers"] == [{"url": "/hill"}]
