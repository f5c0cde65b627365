"""Alerts as they run: a real log that is appended, a real mail server and a real web hook, and airtally killed between
raising and sending.
"""

import http.server
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.alerts.channels import Trouble
from server.alerts.limits import MINUTE
from server.alerts.repository import acknowledge
from server.alerts.service import add_alerts
from server.config import load_station
from server.intake.follow import Follower
from server.intake.ingest import Intake
from server.service import Supervisor
from server.store import schema
from server.store.engine import open_store, reading, writing
from shared.zones import HOUR
from tests.alerts.conftest import free_port
from tests.alerts.hill import NIGHT, Clock, Hill, Hook, Mailbox, append, line, station_in, until


def test_from_the_line_to_the_notice_by_mail_and_web_hook_in_under_two_seconds(
    tmp_path: Path, hook: Hook, mail: tuple[Mailbox, str]
) -> None:
    box, address = mail
    clock = Clock(NIGHT, runs=True)
    station = station_in(tmp_path, [address, hook.url])
    engine = open_store(station.store_url())
    supervisor = Supervisor()
    follower = Follower(Intake(engine, station), [tmp_path], lambda _caught: wake())
    supervisor.add(follower.worker)
    wake = add_alerts(supervisor, engine, station, clock, follower.caught_up)
    supervisor.start()
    try:
        until(lambda: follower.caught_up.is_set())
        append(tmp_path, line(NIGHT - 600_000_000, "alive"))
        time.sleep(1.0)
        # A whole over on one line: the line itself tells that it ran on.
        written = time.monotonic()
        append(tmp_path, line(clock() - 400_000_000, "over", mode="dstar", side="air", station="QA1XYZ", seconds=400))
        until(lambda: bool(hook.posted) and bool(box.mails))
        waits = [hook.posted[0][0] - written, box.mails[0][0] - written]
        assert max(waits) < 2.0, waits
        # An open over: nothing more is written, and the clock alone tells.
        append(tmp_path, line(clock() - 189_000_000, "over-start", mode="dmr", slot=1, side="air", station="QA1XYZ"))
        due = time.monotonic() + 1.0
        until(lambda: len(hook.posted) > 1)
        assert hook.posted[1][0] - due < 2.0
    finally:
        supervisor.stop()
        engine.dispose()
    body = hook.posted[0][1]["message"]
    assert hook.titles() == [
        "QB0BFR: urgent: an over runs on (D-STAR)",
        "QB0BFR: urgent: an over runs on (DMR, slot 1)",
    ]
    assert "remote close-down" in body and "QA1XYZ" not in body  # no call signs in notices
    (first, *_) = box.mails
    assert first[1]["Subject"] == "QB0BFR: urgent: an over runs on (D-STAR)" and first[1]["To"] is not None
    assert "hardware time-out" in first[1].get_body(("plain", "html")).get_content()  # type: ignore[union-attr]


def test_a_transmitter_that_goes_quiet_in_the_log_is_found_by_the_clock_alone(hill: Hill, hook: Hook) -> None:
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air", station="QA1XYZ"))
    hill.at(NIGHT + 1_000_000)
    hill.at(NIGHT + 189_000_000)
    assert hook.posted == [] and hill.watch.due == NIGHT + 190_000_000
    hill.at(NIGHT + 190_000_000)
    assert hook.titles() == ["QB0BFR: urgent: an over runs on (D-STAR)"]
    append(hill.folder, line(NIGHT + HOUR, "over-end", mode="dstar", side="air", cause="lost"))
    hill.at(NIGHT + HOUR + 1_000_000)
    assert hook.titles()[1:] == [
        "QB0BFR: cleared: an over runs on (D-STAR)"
    ]  # duty, which it also was, says nothing of its own
    assert ("over-runs-on", "dstar", NIGHT + 190_000_000, NIGHT + HOUR) in hill.incidents()


def test_a_restart_neither_repeats_nor_forgets(hill: Hill, hook: Hook, tmp_path: Path) -> None:
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 200_000_000)
    again = Hill(tmp_path, load_station(tmp_path / "station.toml"), Clock(NIGHT))
    again.at(NIGHT + 5 * MINUTE)
    assert len(hook.posted) == 1
    again.at(NIGHT + 20 * MINUTE)
    assert [title.split(": ")[1] for title in hook.titles()] == ["urgent", "urgent, still open"]
    again.close()


def test_what_happened_while_airtally_was_down_is_found_at_its_start(hill: Hill) -> None:
    hill.at(NIGHT)
    append(hill.folder, *(line(NIGHT + n * 91_000_000, "over", mode="fm", side="air", seconds=90.8) for n in range(40)))
    hill.at(NIGHT + 3 * HOUR)
    (found, *_) = [row for row in hill.incidents() if row[0] == "duty"]
    assert found[2] - NIGHT < 10 * MINUTE and found[3] is not None and found[3] < NIGHT + 80 * MINUTE


def test_taken_note_of_it_is_not_mentioned_again(hill: Hill, hook: Hook) -> None:
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 200_000_000)
    with writing(hill.engine) as connection:
        state = acknowledge(connection, 1, hill.clock())
        assert state is not None and state.rule == "over-runs-on" and acknowledge(connection, 99, hill.clock()) is None
    for minute in range(5, 180, 5):
        hill.at(NIGHT + minute * MINUTE)
    assert [title for title in hook.titles() if "over runs on" in title] == ["QB0BFR: urgent: an over runs on (D-STAR)"]


def test_a_failed_delivery_is_tried_again_with_back_off_and_then_done(hill: Hill, hook: Hook) -> None:
    hook.answers = [503, 503]
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 190_000_000)
    from server.store.deliveries import failing

    with reading(hill.engine) as connection:
        (one,) = failing(connection)
    assert "503" in one.trouble and one.next == NIGHT + 195_000_000 and one.tries == 1
    hill.at(NIGHT + 194_000_000)
    assert hook.answers == [503]
    hill.at(NIGHT + 195_000_000)
    hill.at(NIGHT + 209_000_000)
    assert hook.posted == []
    hill.at(NIGHT + 210_000_000)
    assert len(hook.posted) == 1
    with reading(hill.engine) as connection:
        assert failing(connection) == []


def test_what_was_refused_is_tried_again_after_a_quarter_of_an_hour_and_at_the_next_start_and_told(
    hill: Hill, hook: Hook
) -> None:
    told: list[str] = []
    hill.outbox.worker.tell = told.append
    hook.answers = [404, 404]
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    raised, first = NIGHT + 190_000_000, "QB0BFR: urgent: an over runs on (D-STAR)"
    hill.at(raised)
    hill.at(raised + 14 * MINUTE)
    assert hook.answers == [404] and len(told) == 1 and "404" in told[0] and "quarter of an hour" in told[0]
    hill.at(raised + 15 * MINUTE)
    hill.at(raised + 74 * MINUTE)
    assert hook.answers == [] and len(told) == 1 and first not in hook.titles()
    hill.outbox.take_up()  # the settings may be mended
    hill.at(raised + 74 * MINUTE + 1)
    assert hook.titles().count(first) == 1


def test_what_was_handed_over_and_never_answered_is_sent_a_few_times_and_says_that_it_may_have_come(
    hill: Hill,
) -> None:
    sent: list[str] = []

    def slow(_channel: object, _title: str, body: str, _weight: object) -> None:
        sent.append(body)
        raise Trouble("Read timed out.", permanent=False, unsure=True)

    hill.outbox._deliver = slow
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 190_000_000)
    for _ in range(300):
        hill.clock.now += 10 * MINUTE
        hill.outbox.send_next()
    assert len(sent) == 4
    assert ["may have come" in body for body in sent] == [False, True, True, True]
    assert "stopped while" not in "".join(sent)


def test_a_label_of_an_older_version_that_shows_a_token_is_written_anew(hill: Hill, hook: Hook) -> None:
    hook.answers = [503]
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 190_000_000)
    with writing(hill.engine) as connection:
        (row,) = connection.execute(sa.select(schema.delivery)).all()
        connection.execute(sa.update(schema.delivery).values(label=f"{row.label}hooks/t0k3n"))
        copy = {**row._mapping, "id": row.id + 1, "channel": "gone", "label": "json://hill.example/hooks/t0k3n"}
        connection.execute(sa.insert(schema.delivery).values(**copy))
    hill.outbox.take_up()
    with reading(hill.engine) as connection:
        labels = connection.execute(sa.select(schema.delivery.c.label).order_by(schema.delivery.c.id)).scalars().all()
    assert labels == [row.label, "json://hill.example/..."]


KILLED = """
import sys
sys.path.insert(0, "{root}")
from pathlib import Path
from server.alerts import outbox
from server.alerts.repository import Channel
from server.config import load_station
from tests.alerts.hill import Clock, Hill, NIGHT
import os, signal
where, when = Path("{folder}"), "{when}"
hill = Hill(where, load_station(where / "station.toml"), Clock(NIGHT))
if when == "between":
    hill.outbox.send_next = lambda: os.kill(os.getpid(), signal.SIGKILL)
else:
    hill.outbox._deliver = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
hill.at(NIGHT + 190_000_000)
"""


@pytest.mark.parametrize("when", ["between", "while sending"])
def test_killed_between_raising_and_sending_it_is_sent_once_and_never_lost(
    tmp_path: Path, hook: Hook, when: str
) -> None:
    station = station_in(tmp_path, [hook.url])
    append(tmp_path, line(NIGHT, "over-start", mode="dstar", side="air"))
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", KILLED.format(root=root, folder=tmp_path, when=when)],
        cwd=root,
        capture_output=True,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    assert hook.posted == []
    for _start in range(2):  # a second start sends nothing more
        again = Hill(tmp_path, station, Clock(NIGHT))
        again.at(NIGHT + 200_000_000)
        again.close()
    assert hook.titles() == ["QB0BFR: urgent: an over runs on (D-STAR)"]
    # Killed inside the sending, nobody can know whether it went out: it goes (again), and says so.
    assert ("may have come before" in hook.posted[0][1]["message"]) == (when == "while sending")
    engine = sa.create_engine(station.store_url())
    with engine.connect() as connection:
        assert connection.execute(sa.select(schema.delivery.c.state)).scalars().all() == ["sent"]
    engine.dispose()


def test_the_whole_program_killed_while_the_hook_is_away_sends_once_it_is_back(tmp_path: Path) -> None:
    port = free_port()
    station_in(tmp_path, [f"json://127.0.0.1:{port}/"], '[web]\nlisten = "127.0.0.1:0"\n')
    now = time.time_ns() // 1000
    append(tmp_path, line(now - 300_000_000, "over-start", mode="dstar", side="air"))
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    command = [sys.executable, "-m", "server.cli", "serve"]
    engine = open_store(load_station(tmp_path / "station.toml").store_url())

    def deliveries() -> list[tuple[str, int]]:
        with reading(engine) as connection:
            return [
                tuple(row) for row in connection.execute(sa.select(schema.delivery.c.state, schema.delivery.c.tries))
            ]  # type: ignore[misc]

    first = subprocess.Popen(command, cwd=tmp_path, env=environment, stdout=subprocess.DEVNULL)
    until(lambda: any(tries for _, tries in deliveries()), 40)
    first.kill()
    first.wait()
    posted: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            posted.append(json.loads(self.rfile.read(int(self.headers["Content-Length"])))["title"])
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", port), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        second = subprocess.Popen(command, cwd=tmp_path, env=environment, stdout=subprocess.DEVNULL)
        until(lambda: [state for state, _ in deliveries()] == ["sent"], 40)
        second.send_signal(signal.SIGINT)
        second.wait(20)
        server.shutdown()
        thread.join()
    engine.dispose()
    assert posted == ["QB0BFR: urgent: an over runs on (D-STAR)"]


def test_a_notice_tells_how_long_the_over_itself_lasted(hill: Hill, hook: Hook) -> None:
    append(hill.folder, line(NIGHT, "over-start", mode="dstar", side="air"))
    hill.at(NIGHT + 190_000_000)
    append(hill.folder, line(NIGHT + 231_000_000, "over-end", mode="dstar", side="air", cause="lost"))
    hill.at(NIGHT + 232_000_000)
    first, last = (body["message"] for _, body in hook.posted)
    assert "Since: 03:10:00 on Wed 18 Nov 2026. It is still going on, after 3 min 10 s." in first
    assert "after 3 min 51 s." in last and "ran on for 3 min 51 s; the limit" in last


def test_an_over_that_is_written_at_its_end_is_no_notice_of_0_s(hill: Hill, hook: Hook) -> None:
    hill.at(NIGHT)
    append(hill.folder, line(NIGHT, "over", mode="dstar", side="air", seconds=231))
    hill.at(NIGHT + 232_000_000)
    assert "It was over at 03:13:51 on Wed 18 Nov 2026, after 3 min 51 s." in hook.posted[0][1]["message"]


def test_places_that_show_how_grave_a_notice_is_are_told(hill: Hill, hook: Hook) -> None:
    """The types are those of the JSON notification of Apprise: info, success, warning, failure (its documentation, from
    memory)."""
    day = NIGHT + 12 * HOUR
    append(hill.folder, line(day, "over-start", mode="dstar", side="air"), line(day, "link-up", network="moorland"))
    append(hill.folder, line(day + 1, "link-down", network="moorland"))
    hill.at(day + 190_000_000)
    append(hill.folder, line(day + 200_000_000, "over-end", mode="dstar", side="air"))
    hill.at(day + 201_000_000)
    hill.at(day + HOUR)
    told = [(body["title"].partition(": ")[2], body["type"]) for _, body in hook.posted]
    assert told == [
        ("urgent: an over runs on (D-STAR)", "failure"),
        ("cleared: an over runs on (D-STAR)", "success"),
        ("a link is down (moorland)", "warning"),
    ]
    assert "remote close-down" not in hook.posted[-1][1]["message"]  # it is not about the transmitter


def test_a_link_without_a_name_is_just_the_link_and_its_outage_has_its_own_length(hill: Hill, hook: Hook) -> None:
    day = NIGHT + 12 * HOUR
    append(hill.folder, line(day, "link-up"), line(day + 1_000_000, "link-down"))
    hill.at(day + 902_000_000)
    append(hill.folder, line(day + 941_000_000, "link-up"))
    hill.at(day + 942_000_000)
    assert hook.titles() == ["QB0BFR: a link is down", "QB0BFR: cleared: a link is down"]
    assert "The link was down from 15:10:01 on Wed 18 Nov 2026 for 15 min 40 s." in hook.posted[1][1]["message"]
    assert "after 15 min 40 s." in hook.posted[1][1]["message"]
