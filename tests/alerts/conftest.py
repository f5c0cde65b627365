"""Fixtures of a hill whose notices go somewhere."""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller

from shared.zones import HOUR
from tests.alerts.hill import NIGHT, Clock, Hill, Hook, Mailbox, station_in


def free_port() -> int:
    """A port of loopback that nobody listens at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture
def hook() -> Iterator[Hook]:
    made = Hook()
    yield made
    made.close()


@pytest.fixture
def mail() -> Iterator[tuple[Mailbox, str]]:
    port = free_port()
    box = Mailbox()
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    yield box, f"mailto://127.0.0.1:{port}/?from=airtally@hill.example&to=keeper@hill.example"
    controller.stop()


@pytest.fixture
def hill(tmp_path: Path, hook: Hook) -> Iterator[Hill]:
    made = Hill(tmp_path, station_in(tmp_path, [hook.url]), Clock(NIGHT - HOUR))
    yield made
    made.close()
