"""Pages over a fake source, as the keeper (signed in), a stranger, and on loopback without a password."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from server.web.app import create_app
from server.web.listening import WebOptions
from server.web.sign import auth as auth
from tests.web.web_fakes import FakeSource

PASSWORD = "heather and slate"


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """Argon2 with the least work, so that tests are quick; one test uses the real settings."""
    real = auth.PasswordHasher
    monkeypatch.setattr(auth, "PasswordHasher", lambda: real(time_cost=1, memory_cost=8, parallelism=1))


Opened = Callable[..., TestClient]


@pytest.fixture
def open_pages(tmp_path: Path) -> Iterator[Opened]:
    """Opens the pages of a source: `open_pages(source, path_prefix=..., trusted_proxy=..., base_url=...)`."""
    clients = []

    def opened(
        source: FakeSource | None = None, base_url: str = "http://127.0.0.1:8087", **options: object
    ) -> TestClient:
        app = create_app(source or FakeSource(), WebOptions(folder=tmp_path, **options))  # type: ignore[arg-type]
        client = TestClient(app, base_url=base_url, client=("127.0.0.1", 50000), follow_redirects=False)
        clients.append(client)
        return client

    yield opened
    for client in clients:
        client.close()


@pytest.fixture
def password(tmp_path: Path) -> str:
    """A password is set."""
    auth.set_password(tmp_path, PASSWORD)
    return PASSWORD
