"""A notice over MQTT reaches a real broker (Eclipse Mosquitto, from Debian), and a client that subscribed there, as the
text that it was.
"""

import os
import queue
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest

from server.alerts.channels import Trouble, channels_of, send
from tests.alerts.conftest import free_port

TITLE, BODY = (
    "QB0BFR: an over runs on",
    "DMR slot 1 has been open for 3 min 12 s; <script>alert(1)</script> \u201cFells\u201d\nCheck the carrier first.",
)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[int]:
    """The port of a broker that lets anybody in, on loopback."""
    program = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")
    if not program:
        if os.environ.get("CI"):
            pytest.fail("mosquitto is not installed: .ci/run must install it")
        pytest.skip("mosquitto is not installed here (Debian: apt-get install mosquitto)")
    port = free_port()
    (tmp_path / "broker.conf").write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n")
    running = subprocess.Popen(
        [program, "-c", str(tmp_path / "broker.conf")], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    end = time.monotonic() + 10
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            break
        except OSError:
            assert time.monotonic() < end and running.poll() is None, "the broker does not answer"
            time.sleep(0.05)
    yield port
    running.terminate()
    running.wait(10)


def test_a_notice_reaches_who_subscribed_at_the_broker(broker: int) -> None:
    history: queue.Queue[tuple[str, str]] = queue.Queue()
    subscribed = queue.Queue[bool]()
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
    client.on_message = lambda _client, _data, message: history.put((message.topic, message.payload.decode()))
    client.on_subscribe = lambda *_: subscribed.put(True)
    client.connect("127.0.0.1", broker)
    client.loop_start()
    client.subscribe("hill/alerts", qos=1)
    assert subscribed.get(timeout=10)
    (channel,), troubles = channels_of([f"mqtt://127.0.0.1:{broker}/hill/alerts?qos=1"])
    assert troubles == []
    send(channel, TITLE, BODY)
    topic, payload = history.get(timeout=10)
    client.loop_stop()
    client.disconnect()
    assert topic == "hill/alerts"
    assert payload.splitlines() == [TITLE, *BODY.splitlines()]
    assert history.empty()


def test_a_broker_that_is_not_there_is_trouble_that_can_get_better() -> None:
    (channel,), _ = channels_of([f"mqtt://127.0.0.1:{free_port()}/hill/alerts"])
    with pytest.raises(Trouble) as failed:
        send(channel, TITLE, BODY)
    assert not failed.value.permanent and str(failed.value)
