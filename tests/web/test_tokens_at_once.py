"""Tokens that several commands make and withdraw at the same time."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from server.web.sign.tokens import issue_token, token_good, tokens, withdraw_token
from shared.errors import StoreError

MANY = 12


def test_every_token_that_was_shown_is_good_however_many_are_made_at_once(tmp_path: Path) -> None:
    start = Barrier(MANY)

    def make(number: int) -> str:
        start.wait()
        return issue_token(tmp_path, f"program {number}")

    with ThreadPoolExecutor(MANY) as pool:
        shown = list(pool.map(make, range(MANY)))
    assert [token_good(tmp_path, one) for one in shown] == [True] * MANY
    assert (tmp_path / "airtally.tokens").stat().st_mode & 0o777 == 0o600


def test_a_withdrawn_token_does_not_come_back_while_others_are_made(tmp_path: Path) -> None:
    old = [issue_token(tmp_path, f"old {number}") for number in range(MANY)]
    start = Barrier(2 * MANY)

    def change(number: int) -> None:
        start.wait()
        if number % 2:
            withdraw_token(tmp_path, f"old {number // 2}")
        else:
            issue_token(tmp_path, f"new {number // 2}")

    with ThreadPoolExecutor(2 * MANY) as pool:
        list(pool.map(change, range(2 * MANY)))
    assert not any(token_good(tmp_path, one) for one in old)
    assert {one.name for one in tokens(tmp_path)} == {f"new {number}" for number in range(MANY)}


def test_a_lock_that_can_not_be_taken_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "airtally.tokens.lock").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(StoreError, match=r"airtally\.tokens can't be locked"):
        issue_token(tmp_path, "grafana")
    assert not (tmp_path / "elsewhere").exists()
