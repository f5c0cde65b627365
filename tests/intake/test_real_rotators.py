"""Real parts: rsyslog writes the log, Debian's logrotate rotates it, both ways, while airtally follows."""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.intake.follow import Follower
from server.store import schema
from server.store.engine import reading
from tests.intake.conftest import Folder
from tests.intake.test_follow import until

pytestmark = pytest.mark.real
PARTS = ("rsyslogd", "logrotate")

DIALECT = """
[dialect]
name = "by-syslog"
time = "iso"
envelope = "syslog"
[[line]]
event = "over"
text = "over {target} lasted {duration}"
set = { mode = "fm" }
[[line.sample]]
text = "Oct 11 22:14:15 hill repeater: over 17 lasted 2.5s"
gives = { event = "over", mode = "fm", target = "17", seconds = 2.5 }
"""


def find(part: str) -> str:
    """The program, in /usr/sbin too; where it is missing a failure in CI and a skip elsewhere."""
    found = shutil.which(part, path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")
    if not found:
        if os.environ.get("CI"):
            pytest.fail(f"{part} is not installed: .ci/run must install it")
        pytest.skip(f"{part} is not installed here (Debian: apt-get install rsyslog logrotate)")
    return found


@pytest.fixture
def hill(tmp_path: Path) -> Iterator[tuple[Folder, subprocess.Popen, Path]]:
    """A station that follows a log that rsyslog writes from a socket."""
    (tmp_path / "by-syslog.toml").write_text(DIALECT)
    folder = Folder(tmp_path, dialect="by-syslog")
    inlet, config = tmp_path / "inlet", tmp_path / "rsyslog.conf"
    config.write_text(
        f'module(load="imuxsock" SysSock.Use="off")\ninput(type="imuxsock" Socket="{inlet}" RateLimit.Interval="0"'
        f' ParseTrusted="off")\n*.* action(type="omfile" file="{tmp_path / "host.log"}"'
        ' template="RSYSLOG_TraditionalFileFormat" fileOwner="root")\n'
    )
    daemon = subprocess.Popen(
        [find("rsyslogd"), "-n", "-f", str(config), "-i", str(tmp_path / "rsyslogd.pid")], stderr=subprocess.DEVNULL
    )
    until(inlet.exists, 10)
    yield folder, daemon, inlet
    daemon.terminate()
    daemon.wait(10)
    folder.close()


def send(inlet: Path, number: int) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sock:
        sock.connect(str(inlet))
        sock.send(f"<14>Nov 16 10:00:00 repeater: over {number} lasted 2.5s".encode())


@pytest.mark.parametrize("way", ["create", "copytruncate"])
def test_nothing_is_lost_or_doubled_while_logrotate_rotates_what_rsyslog_writes(hill: tuple, way: str) -> None:
    folder, daemon, inlet = hill
    rotation = folder.path / "rotation.conf"
    hangup = f"postrotate\n kill -HUP {daemon.pid}\n endscript" if way == "create" else ""
    rotation.write_text(
        f"{folder.path / 'host.log'} {{\n rotate 9\n {way}\n compress\n delaycompress\n missingok\n su root root\n"
        f" {hangup}\n}}\n"
    )
    follower = Follower(folder.intake, [folder.path])
    follower.start()
    number = 0
    try:
        for _ in range(4):
            for _ in range(60):
                send(inlet, number)
                number += 1
                time.sleep(0.002)
            if (
                way == "copytruncate"
            ):  # between copy and truncation logrotate itself may lose lines: let the host be still for a moment
                until(lambda: _written(folder.path) >= number, 10)  # noqa: B023
            done = subprocess.run(
                [find("logrotate"), "-f", "-s", str(folder.path / "rotation.state"), str(rotation)],
                capture_output=True,
                text=True,
            )
            assert done.returncode == 0, done.stderr
        for _ in range(20):
            send(inlet, number)
            number += 1
        until(lambda: len(_numbers(folder)) >= number, 15)
    finally:
        follower.stop()
    assert sorted(_numbers(folder)) == list(range(number))
    assert len(list(folder.path.glob("host.log*.gz"))) >= 2
    folder.restart()
    assert folder.catch_up().lines == 0


def _written(folder: Path) -> int:
    """How many overs lie in all the files."""
    import gzip

    texts = [
        gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()
        for file in folder.glob("host.log*")
    ]
    return sum(text.count(b"lasted") for text in texts)


def _numbers(folder: Folder) -> list[int]:
    with reading(folder.engine) as connection:
        return [int(target) for target in connection.execute(sa.select(schema.over.c.target)).scalars()]
