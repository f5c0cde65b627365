"""Who gets in: the keeper, a stranger, another site's page, a browser led here under another name, and a proxy."""

import re
import stat
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from server.web import proxies
from server.web.app import uvicorn_settings
from server.web.deadlines import BACKLOG, DeadlineProtocol
from server.web.listening import WebOptions
from server.web.sign import auth as auth
from server.web.sign import routes as signing
from server.web.sign.throttle import FAILURES
from tests.web.conftest import PASSWORD, Opened
from tests.web.web_fakes import WEEK, FakeSource


def token_of(text: str) -> str:
    found = re.search(r'name="token" value="([^"]+)"', text)
    assert found
    return found[1]


def sign_in(client: TestClient, password: str = PASSWORD, then: str = "/", prefix: str = "", **headers: str):  # type: ignore[no-untyped-def]
    token = token_of(client.get(f"{prefix}/login").text)
    form = {"token": token, "password": password, "then": then}
    return client.post(
        f"{prefix}/login", data=form, headers={name.replace("_", "-"): value for name, value in headers.items()}
    )


PRIVATE = ["/", f"/week/{WEEK}", "/intake", "/definitions", "/logout", "/nowhere", "/week/x"]


@pytest.mark.parametrize("path", PRIVATE)
def test_a_stranger_is_sent_to_sign_in_and_told_nothing(open_pages: Opened, password: str, path: str) -> None:
    answer = open_pages(base_url="http://hill.example").get(path)
    assert answer.status_code == 303 and answer.headers["location"].startswith("/login")
    assert "QB0BFR" not in answer.text


@pytest.mark.parametrize("path", ["/login", "/health"])
def test_signing_in_and_health_are_open_and_do_not_name_the_repeater(
    open_pages: Opened, password: str, path: str
) -> None:
    answer = open_pages(base_url="http://hill.example").get(path)
    assert answer.status_code == 200 and "QB0BFR" not in answer.text


def test_the_style_sheet_is_open(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    style = re.search(r'href="(/static/style[^"]+)"', client.get("/login").text)
    assert style and client.get(style[1]).status_code == 200


def test_the_keeper_signs_in_goes_on_to_the_page_asked_for_and_signs_out(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    asked = client.get("/intake").headers["location"]
    assert asked == "/login?then=/intake"
    answer = client.post(
        "/login", data={"token": token_of(client.get(asked).text), "password": password, "then": "/intake"}
    )
    assert answer.status_code == 303 and answer.headers["location"] == "/intake"
    page = client.get("/intake")
    assert page.status_code == 200 and "Sign out" in page.text
    out = client.get("/logout")
    assert client.post("/logout", data={"token": token_of(out.text)}).headers["location"] == "/login"
    assert client.get("/intake").status_code == 303


def test_the_session_cookie_is_hidden_from_scripts_and_other_sites(open_pages: Opened, password: str) -> None:
    answer = sign_in(open_pages(base_url="http://hill.example"))
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=lax" in cookie and "max-age=2592000" in cookie and "path=/;" in cookie
    assert "secure" not in cookie


def test_the_session_cookie_is_for_https_only_where_it_came_by_https(open_pages: Opened, password: str) -> None:
    assert "secure" in sign_in(open_pages(base_url="https://hill.example")).headers["set-cookie"].lower()


def test_a_trusted_proxy_is_believed_that_it_was_https_and_another_is_not(open_pages: Opened, password: str) -> None:
    trusted = sign_in(
        open_pages(base_url="http://hill.example", trusted_proxy=("127.0.0.1",)), X_Forwarded_Proto="https"
    )
    other = sign_in(open_pages(base_url="http://hill.example", trusted_proxy=("192.0.2.1",)), X_Forwarded_Proto="https")
    nobody = sign_in(open_pages(base_url="http://hill.example"), X_Forwarded_Proto="https")
    assert ["secure" in answer.headers["set-cookie"].lower() for answer in (trusted, other, nobody)] == [
        True,
        False,
        False,
    ]


def test_a_new_password_ends_the_session_of_a_running_server(open_pages: Opened, password: str, tmp_path: Path) -> None:
    client = open_pages(base_url="http://hill.example")
    sign_in(client)
    assert client.get("/intake").status_code == 200
    auth.set_password(tmp_path, "another one altogether")
    assert client.get("/intake").status_code == 303


def test_a_copied_cookie_is_worth_nothing_after_signing_out(open_pages: Opened, password: str) -> None:
    keeper, thief = open_pages(base_url="http://hill.example"), open_pages(base_url="http://hill.example")
    sign_in(keeper)
    thief.cookies.update(dict(keeper.cookies))
    assert thief.get("/intake").status_code == 200
    keeper.post("/logout", data={"token": token_of(keeper.get("/logout").text)})
    assert thief.get("/intake").status_code == 303


def test_a_new_password_lifts_the_lock_out(open_pages: Opened, password: str, tmp_path: Path) -> None:
    client = open_pages(base_url="http://hill.example")
    for _ in range(FAILURES):
        sign_in(client, "wrong")
    assert sign_in(client).status_code == 429
    auth.set_password(tmp_path, PASSWORD)
    assert sign_in(client).status_code == 303


def test_a_proxy_that_is_not_trusted_is_told_once_on_the_log_and_on_intake(
    open_pages: Opened, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    client = open_pages()
    assert "trusted_proxy" not in client.get("/intake").text
    for n in range(3):
        assert client.get("/", headers={"X-Forwarded-For": f"192.0.2.{n}"}).status_code == 421
    assert [record.message for record in caplog.records] == [proxies.sentence("127.0.0.1")]
    assert "trusted_proxy" in client.get("/intake").text
    assert stat.S_IMODE((tmp_path / proxies.SEEN_FILE).stat().st_mode) == 0o600
    now = time.time()
    assert proxies.untrusted(tmp_path, (), now) and not proxies.untrusted(tmp_path, ("127.0.0.0/8",), now)
    assert not proxies.untrusted(tmp_path, (), now + proxies.REMEMBERED_S + 1)


def test_a_trusted_proxy_is_not_told_and_a_crowd_of_others_has_a_limit(open_pages: Opened, tmp_path: Path) -> None:
    trusted = open_pages(trusted_proxy=("127.0.0.1",))
    trusted.get("/", headers={"X-Forwarded-For": "192.0.2.1"})
    assert not (tmp_path / proxies.SEEN_FILE).exists()
    app = open_pages().app
    for n in range(proxies.MOST * 3):
        TestClient(app, client=(f"192.0.2.{n}", 50000)).get("/health", headers={"Forwarded": "for=198.51.100.1"})
    assert len(proxies.untrusted(tmp_path, (), time.time())) == proxies.MOST


def test_a_wrong_password_is_told_and_opens_nothing(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    answer = sign_in(client, "heather and slated")
    assert answer.status_code == 401 and "That is not the password." in answer.text and 'role="alert"' in answer.text
    assert client.get("/intake").status_code == 303


def test_guessing_is_slowed_down_even_for_the_right_password(
    open_pages: Opened, password: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = [1000.0]
    monkeypatch.setattr(signing.time, "monotonic", lambda: clock[0])
    client = open_pages(base_url="http://hill.example")
    assert [sign_in(client, "wrong").status_code for _ in range(FAILURES)] == [401] * FAILURES
    stopped = sign_in(client)
    assert stopped.status_code == 429 and int(stopped.headers["retry-after"]) > 800 and "wait 15" in stopped.text
    clock[0] += 901
    assert sign_in(client).status_code == 303


def test_behind_a_trusted_proxy_each_visitor_is_throttled_apart(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example", trusted_proxy=("127.0.0.1",))
    for _ in range(FAILURES):
        sign_in(client, "wrong", X_Forwarded_For="192.0.2.7")
    assert sign_in(client, X_Forwarded_For="192.0.2.7").status_code == 429
    assert sign_in(client, X_Forwarded_For="192.0.2.8").status_code == 303


def test_a_visitor_can_not_escape_the_throttle_by_claiming_another_address(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    statuses = [sign_in(client, "wrong", X_Forwarded_For=f"192.0.2.{n}").status_code for n in range(FAILURES + 1)]
    assert statuses == [401] * FAILURES + [429]


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "https://hill.example"},
        {"Origin": "http://hill.example:8080"},
    ],
)
def test_a_form_from_another_site_is_refused(open_pages: Opened, password: str, headers: dict[str, str]) -> None:
    # Fetch metadata and Origin as the WHATWG Fetch standard has them, from memory.
    client = open_pages(base_url="http://hill.example")
    answer = sign_in(client, **{name.replace("-", "_"): value for name, value in headers.items()})
    assert answer.status_code == 403 and "another site" in answer.text
    assert client.get("/intake").status_code == 303


@pytest.mark.parametrize("headers", [{"Sec-Fetch-Site": "same-origin"}, {"Origin": "http://hill.example"}, {}])
def test_a_form_from_our_own_page_is_taken(open_pages: Opened, password: str, headers: dict[str, str]) -> None:
    answer = sign_in(
        open_pages(base_url="http://hill.example"), **{name.replace("-", "_"): value for name, value in headers.items()}
    )
    assert answer.status_code == 303


def test_a_form_without_its_token_or_its_cookie_is_refused(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    token = token_of(client.get("/login").text)
    assert client.post("/login", data={"password": password}).status_code == 400
    client.cookies.clear()
    assert client.post("/login", data={"password": password, "token": token}).status_code == 400


def test_signing_out_needs_the_form(open_pages: Opened, password: str) -> None:
    client = open_pages(base_url="http://hill.example")
    sign_in(client)
    assert client.post("/logout", data={}).status_code == 400
    assert client.get("/logout").status_code == 200
    assert client.get("/intake").status_code == 200


@pytest.mark.parametrize("body", [b"x=" + b"y" * 9000, b"\xff\xfe=1", b"&".join(b"a%d=1" % n for n in range(20))])
def test_a_form_that_is_none_of_ours_is_refused(open_pages: Opened, password: str, body: bytes) -> None:
    answer = open_pages(base_url="http://hill.example").post("/login", content=body)
    assert answer.status_code in (400, 413)


@pytest.mark.parametrize(
    "then",
    ["//evil.example", "https://evil.example", "/\\evil.example", "\\\\evil", "evil", "/\tevil", "/" + "x" * 600],
)
def test_signing_in_never_leads_to_another_site(open_pages: Opened, password: str, then: str) -> None:
    assert sign_in(open_pages(base_url="http://hill.example"), then=then).headers["location"] == "/"


def test_a_stranger_can_post_nothing(open_pages: Opened, password: str) -> None:
    assert open_pages(base_url="http://hill.example").post("/intake").status_code == 403


@pytest.mark.parametrize("host", ["127.0.0.1:8087", "localhost:8087", "[::1]:8087", "LOCALHOST", "127.0.0.53"])
def test_without_a_password_this_machine_is_served(open_pages: Opened, host: str) -> None:
    assert open_pages().get("/intake", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "hill.example",
        "192.0.2.1:8087",
        "localhost.evil.example",
        "127.0.0.1.evil.example",
        "evil.example:127",
        "[2001:db8::1]",
        "",
    ],
)
def test_without_a_password_any_other_name_is_refused_and_told_what_to_do(open_pages: Opened, host: str) -> None:
    # Against DNS rebinding; 421 Misdirected Request is RFC 9110, 15.5.20 (from memory).
    answer = open_pages().get("/intake", headers={"Host": host})
    assert answer.status_code == 421 and "airtally password" in answer.text and "QB0BFR" not in answer.text


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded"])
def test_without_a_password_nothing_is_shown_through_a_proxy(open_pages: Opened, header: str) -> None:
    assert open_pages().get("/intake", headers={header: "for=192.0.2.1"}).status_code == 421


def test_without_a_password_there_is_nothing_to_sign_in_to(open_pages: Opened, tmp_path: Path) -> None:
    client = open_pages()
    assert client.get("/login").headers["location"] == "/" and client.get("/logout").headers["location"] == "/"
    assert "Sign out" not in client.get("/intake").text
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("path", ["/", f"/week/{WEEK}", "/nowhere", "/health", "/login"])
@pytest.mark.parametrize("guarded", [False, True])
def test_every_answer_carries_the_same_careful_headers(
    open_pages: Opened, tmp_path: Path, path: str, guarded: bool
) -> None:
    if guarded:
        auth.set_password(tmp_path, PASSWORD)
    headers = open_pages().get(path).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy == {
        "default-src": "'none'", "style-src": "'self'", "img-src": "'self' data:", "form-action": "'self'",
        "frame-ancestors": "'none'", "base-uri": "'none'",
    }  # fmt: skip
    assert headers["x-content-type-options"] == "nosniff" and headers["referrer-policy"] == "same-origin"
    assert "private" in headers["cache-control"] or "no-store" in headers["cache-control"]


def test_a_stranger_is_not_told_where_the_store_lies(open_pages: Opened, password: str, tmp_path: Path) -> None:
    client = open_pages(FakeSource(), base_url="http://hill.example")
    sign_in(client)
    (tmp_path / auth.KEY_FILE).write_text("short\n")
    for path in ("/intake", "/login"):
        answer = client.get(path)
        assert answer.status_code == 503 and str(tmp_path) not in answer.text


def test_the_server_is_told_to_leave_forwarded_headers_to_the_application(tmp_path: Path) -> None:
    assert uvicorn_settings(WebOptions(tmp_path, listen="[::1]:9000")) == {
        "host": "::1",
        "port": 9000,
        "http": DeadlineProtocol,
        "ws": "none",
        "backlog": BACKLOG,
        "proxy_headers": False,
        "server_header": False,
        "access_log": False,
        "log_level": "warning",
    }
