"""Password, sessions, throttle and where the pages may be listened on."""

import ipaddress
import os
import stat
from pathlib import Path

import pytest
from argon2 import extract_parameters
from argon2.profiles import RFC_9106_LOW_MEMORY
from hypothesis import given
from hypothesis import strategies as st

from server.web.listening import host_only, is_loopback, refusal_to_listen
from server.web.sign import auth as auth
from server.web.sign.throttle import FAILURES, PAUSE_S, REMEMBERED, Throttle, network_of
from shared.errors import StoreError, UnusableError


def test_password_and_key_can_be_read_by_their_owner_only(tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        auth.set_password(tmp_path, "heather and slate")
        auth.Sessions(tmp_path).issue()
    finally:
        os.umask(old)
    kept = sorted(tmp_path.iterdir())
    assert [path.name for path in kept] == [auth.KEY_FILE, auth.HASH_FILE, auth.SESSIONS_FILE]
    assert {stat.S_IMODE(path.stat().st_mode) for path in kept} == {0o600}


def test_the_password_itself_is_not_kept(tmp_path: Path) -> None:
    auth.set_password(tmp_path, "heather and slate")
    assert "heather" not in (tmp_path / auth.HASH_FILE).read_text()


def test_the_hash_is_argon2id_at_no_less_than_the_second_setting_of_rfc_9106(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # RFC 9106, section 4, second recommended option: seen in argon2-cffi's own profile.
    least = RFC_9106_LOW_MEMORY
    monkeypatch.undo()
    auth.set_password(tmp_path, "heather and slate")
    made = extract_parameters((tmp_path / auth.HASH_FILE).read_text().strip())
    assert made.type is least.type and made.time_cost >= least.time_cost and made.memory_cost >= least.memory_cost
    assert made.parallelism >= least.parallelism and made.salt_len >= least.salt_len and made.hash_len >= least.hash_len
    assert auth.check(tmp_path, "heather and slate")


def test_only_the_password_itself_opens(tmp_path: Path) -> None:
    assert not auth.has_password(tmp_path) and not auth.check(tmp_path, "")
    auth.set_password(tmp_path, "Zo\u00eb on the fell")
    assert auth.has_password(tmp_path)
    assert auth.check(tmp_path, "Zoe\u0308 on the fell")  # the same letters, composed otherwise by another keyboard
    for wrong in ("", "zo\u00eb on the fell", "Zo\u00eb on the fell ", "x" * 5000):
        assert not auth.check(tmp_path, wrong)


@pytest.mark.parametrize("text", ["", "seven77", "x" * 1025])
def test_a_password_too_short_or_too_long_is_refused_in_a_sentence(tmp_path: Path, text: str) -> None:
    with pytest.raises(UnusableError, match="use 8 to 1,024"):
        auth.set_password(tmp_path, text)
    assert not auth.has_password(tmp_path)


def test_a_new_password_ends_every_session(tmp_path: Path) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    cookie = sessions.issue()
    assert sessions.good(cookie)
    auth.set_password(tmp_path, "heather and slate")  # even where it is the same words again
    assert not sessions.good(cookie)


def test_signing_out_ends_that_session_and_no_other_even_for_a_copy_of_its_cookie(tmp_path: Path) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    here, there = sessions.issue(), sessions.issue()
    sessions.end(here)
    assert not sessions.good(here) and not auth.Sessions(tmp_path).good(here) and sessions.good(there)
    for nothing in (None, "", "x", here, sessions.form_token("login", "visitor")):
        sessions.end(nothing)
    assert sessions.good(there)


def test_sessions_that_are_open_have_a_limit_and_their_file_tells_no_cookie(tmp_path: Path) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    cookies = [sessions.issue() for _ in range(auth.MOST_SESSIONS + 3)]
    assert sum(map(sessions.good, cookies)) == auth.MOST_SESSIONS and sessions.good(cookies[-1])
    kept = (tmp_path / auth.SESSIONS_FILE).read_text()
    assert not any(part in kept for cookie in cookies for part in cookie.split("."))


@pytest.mark.parametrize("spoilt", ["", "nonsense", "[1]", "[" * 100_000, '{"a": "b"}'])
def test_a_spoilt_file_of_sessions_ends_them_and_nothing_else(tmp_path: Path, spoilt: str) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    cookie = sessions.issue()
    (tmp_path / auth.SESSIONS_FILE).write_text(spoilt)
    assert not sessions.good(cookie) and sessions.good(sessions.issue())


def test_a_session_ends_when_the_password_is_taken_away(tmp_path: Path) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    cookie = sessions.issue()
    (tmp_path / auth.HASH_FILE).unlink()
    assert not sessions.good(cookie)
    assert not sessions.good(sessions.issue())


def test_a_session_ends_after_thirty_days(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sessions = auth.Sessions(tmp_path)
    auth.set_password(tmp_path, "heather and slate")
    cookie = sessions.issue()
    import time

    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + 30 * 86_400 - 60)
    assert sessions.good(cookie)
    monkeypatch.setattr(time, "time", lambda: now + 30 * 86_400 + 60)
    assert not sessions.good(cookie)


def test_a_cookie_of_another_key_or_purpose_is_no_session(tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    for folder in (here, there):
        folder.mkdir()
    auth.set_password(here, "heather and slate")
    (there / auth.HASH_FILE).write_text((here / auth.HASH_FILE).read_text())
    sessions = auth.Sessions(here)
    good = sessions.issue()
    tampered = good[:-2] + ("AA" if good[-2:] != "AA" else "BB")
    for cookie in (None, "", "x", auth.Sessions(there).issue(), sessions.form_token("login", "visitor"), tampered):
        assert not sessions.good(cookie)


def test_a_form_token_is_good_for_its_visitor_and_purpose_only(tmp_path: Path) -> None:
    sessions = auth.Sessions(tmp_path)
    token = sessions.form_token("login", "visitor")
    assert sessions.form_good("login", "visitor", token)
    assert not sessions.form_good("logout", "visitor", token)
    assert not sessions.form_good("login", "other", token)
    assert not sessions.form_good("login", None, token)
    assert not sessions.form_good("login", "visitor", None)


def test_an_unusable_key_file_is_told_with_what_to_do(tmp_path: Path) -> None:
    auth.set_password(tmp_path, "heather and slate")
    (tmp_path / auth.KEY_FILE).write_text("short\n")
    with pytest.raises(StoreError, match="delete the file"):
        auth.Sessions(tmp_path).issue()


def test_five_wrong_attempts_make_an_address_wait_a_quarter_of_an_hour() -> None:
    throttle = Throttle()
    for n in range(FAILURES):
        assert throttle.wait_s("192.0.2.7", n) == 0
        throttle.attempt("192.0.2.7", n)
    assert throttle.wait_s("192.0.2.7", FAILURES) == pytest.approx(PAUSE_S - FAILURES)
    assert throttle.wait_s("192.0.2.8", FAILURES) == 0
    assert throttle.wait_s("192.0.2.7", PAUSE_S + 1) == 0


def test_the_right_password_forgets_what_went_before() -> None:
    throttle = Throttle()
    for n in range(FAILURES):
        throttle.attempt("192.0.2.7", n)
    throttle.right("192.0.2.7")
    assert throttle.wait_s("192.0.2.7", FAILURES) == 0


def test_addresses_of_one_ipv6_subscriber_count_as_one() -> None:
    # 2001:db8::/32 is for documentation (RFC 3849, from memory); a home's site may have a /56 (RFC 6177, section 2,
    # from memory).
    assert network_of("2001:db8::1") == network_of("2001:db8:0:ff::1") == network_of("2001:db8::ffff:1")
    assert network_of("2001:db8::1") != network_of("2001:db8:0:100::1")
    assert network_of("192.0.2.7") != network_of("192.0.2.8")
    assert network_of("::ffff:192.0.2.7") == "192.0.2.7"


def test_the_throttle_does_not_grow_without_end() -> None:
    throttle = Throttle()
    for n in range(REMEMBERED * 2):
        throttle.attempt(str(ipaddress.ip_address(n + 1)), 0)
    assert len(throttle._attempts) == REMEMBERED


@pytest.mark.parametrize("listen", ["127.0.0.1:8087", "127.9.9.9:80", "localhost:8087", "[::1]:8087"])
def test_loopback_may_be_listened_on_without_a_password(listen: str) -> None:
    assert refusal_to_listen(listen, has_password=False) is None


@pytest.mark.parametrize("listen", ["0.0.0.0:8087", "[::]:8087", "192.0.2.1:80", "hill.example:8087"])
def test_anything_else_is_refused_without_a_password_and_says_how_to_set_one(listen: str) -> None:
    sentence = refusal_to_listen(listen, has_password=False)
    assert sentence is not None and listen in sentence and "`airtally password`" in sentence
    assert refusal_to_listen(listen, has_password=True) is None


@pytest.mark.parametrize(
    "listen", ["", "8087", ":8087", "127.0.0.1", "127.0.0.1:port", "127.0.0.1:99999", "127.0.0.1:٣"]
)
def test_a_listen_that_is_no_address_and_port_is_unusable(listen: str) -> None:
    with pytest.raises(UnusableError, match="an address and a port"):
        refusal_to_listen(listen, has_password=True)


@given(st.ip_addresses())
def test_loopback_is_what_the_address_registries_say(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> None:
    # 127.0.0.0/8 and ::1 (RFC 6890, from memory), as Python's ipaddress has them.
    text = f"[{address}]:80" if address.version == 6 else f"{address}:80"
    assert is_loopback(host_only(text)) == address.is_loopback
