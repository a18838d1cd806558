"""New settings while messages come in: nothing is lost, nothing doubled, and the port answers."""

import http.client
import json
import signal
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sized
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

import pytest
from paho.mqtt.client import MQTTMessageInfo

from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.faults.flow import TIMED
from tests.faults.processes import DaemonProcess, daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

CHANGES: Final = 6
PAUSE_S: Final = 0.01
HOUSE: Final = f"""
[[chamber]]
name = "tent"
title = "Tent 0"   # what we call it
stage = "fruiting"
{TIMED}"""
FORM: Final = {"Content-Type": "application/x-www-form-urlencoded"}
READINGS: Final = (
    "select r.time, r.value from readings r join series s on s.id = r.series "
    "where s.sensor = 'timed'"
)


@dataclass
class Sender:
    """Sends a message every `PAUSE_S`, dated a second apart."""

    client: Client
    begin: datetime
    sent: list[MQTTMessageInfo] = field(default_factory=list)

    def send(self, stopping: threading.Event) -> None:
        while not stopping.wait(PAUSE_S):
            time = self.begin + timedelta(seconds=len(self.sent))
            body = {"time": time.isoformat(), "humidity": 90.0}
            self.sent.append(self.client.client.publish("t/timed", json.dumps(body), qos=1))


@dataclass
class Visitor:
    """Asks for a page again and again, and keeps what came of it."""

    port: int
    came: Counter[str] = field(default_factory=Counter)

    def visit(self, stopping: threading.Event) -> None:
        while not stopping.wait(PAUSE_S):
            try:
                self.came[str(ask(self.port, "/api/v1/chambers")[0])] += 1
            except OSError as error:
                self.came[repr(error)] += 1


def ask(port: int, path: str, form: bytes | None = None) -> tuple[int, str]:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=DEADLINE_S)
    try:
        line.request("GET" if form is None else "POST", path, form, FORM if form else {})
        answer = line.getresponse()
        return answer.status, answer.read().decode()
    finally:
        line.close()


@contextmanager
def beside(*works: Callable[[threading.Event], None]) -> Iterator[None]:
    """Do works in threads of their own until the block is left."""
    stopping = threading.Event()
    threads = [threading.Thread(target=work, args=(stopping,)) for work in works]
    for thread in threads:
        thread.start()
    try:
        yield
    finally:
        stopping.set()
        for thread in threads:
            thread.join(DEADLINE_S)


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[DaemonProcess]:
    with daemon_at(tmp_path) as made:
        made.settle(HOUSE)
        made.start()
        yield made


def title(daemon: DaemonProcess) -> str:
    status, body = ask(daemon.web, "/api/v1/chambers")
    assert status == 200, body
    return str(json.loads(body)["chambers"][0]["title"])


def called(daemon: DaemonProcess, name: str) -> bool:
    return title(daemon) == name


def more_than(sent: Sized, least: int) -> bool:
    return len(sent) > least


def rewritten(daemon: DaemonProcess, old: str, new: str) -> None:
    file = daemon.folder / "cw.toml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def hang_up(daemon: DaemonProcess) -> None:
    assert daemon._process is not None
    daemon._process.send_signal(signal.SIGHUP)


def test_nothing_is_lost_while_settings_change(daemon: DaemonProcess) -> None:
    begin = datetime(2026, 1, 10, tzinfo=UTC)
    with visiting(daemon.broker) as client:
        sender, visitor = Sender(client, begin), Visitor(daemon.web)
        with beside(sender.send, visitor.visit):
            for number in range(CHANGES):
                before = len(sender.sent)
                wait_until(partial(more_than, sender.sent, before + 30), "more is sent")
                rewritten(daemon, f"Tent {number}", f"Tent {number + 1}")
                hang_up(daemon)
                wait_until(partial(called, daemon, f"Tent {number + 1}"), "it is taken")
        for info in sender.sent:
            info.wait_for_publish(DEADLINE_S)
        wanted = len(sender.sent)
        wait_until(lambda: len(daemon.rows(READINGS)) >= wanted, "all is kept")
    assert [time for time, _ in sorted(daemon.rows(READINGS))] == [
        round((begin + timedelta(seconds=second)).timestamp() * 1e6) for second in range(wanted)
    ]
    assert set(visitor.came) == {"200"}
    assert daemon.end() == 0


def test_settings_at_fault_are_not_taken_and_said_to_be_so(daemon: DaemonProcess) -> None:
    rewritten(daemon, 'stage = "fruiting"', 'stage = "fruitling"')
    hang_up(daemon)
    wait_until(lambda: "The settings stay as they were" in daemon.log(), "it is said")
    assert "Did you mean fruiting?" in daemon.log()
    assert title(daemon) == "Tent 0"
    status, page = ask(daemon.web, "/set-up")
    assert status == 200
    assert "Did you mean fruiting?" in page


def test_what_a_running_process_cannot_change_waits(daemon: DaemonProcess) -> None:
    rewritten(daemon, f"port = {daemon.web}", "port = 1")
    rewritten(daemon, "Tent 0", "Tent 1")
    hang_up(daemon)
    wait_until(lambda: title(daemon) == "Tent 1", "the rest is taken")
    _, page = ask(daemon.web, "/set-up")
    assert "web.port" in page


def test_an_authority_that_is_not_there_brings_the_former_back(daemon: DaemonProcess) -> None:
    rewritten(daemon, "[mqtt]", '[mqtt]\ntls = true\nca_file = "/nowhere.pem"')
    rewritten(daemon, "Tent 0", "Tent 1")
    hang_up(daemon)
    wait_until(lambda: "The settings stay as they were" in daemon.log(), "it is said")
    assert title(daemon) == "Tent 0"
    with visiting(daemon.broker) as client:
        body = {"time": "2026-01-10T00:00:00Z", "humidity": 90.0}
        client.publish("t/timed", json.dumps(body))
        wait_until(lambda: bool(daemon.rows(READINGS)), "the former settings take it in")
    assert daemon.end() == 0


def test_a_change_on_the_page_holds_for_the_next_request(daemon: DaemonProcess) -> None:
    form = urlencode({"title": "Tub", "kind": "fruiting", "once": "abcdefgh"}).encode()
    status, _ = ask(daemon.web, "/set-up/chambers/new", form)
    assert status == 303
    _, chambers = ask(daemon.web, "/api/v1/chambers")
    assert [one["title"] for one in json.loads(chambers)["chambers"]] == ["Tent 0", "Tub"]
    status, _ = ask(daemon.web, "/set-up/units", urlencode({"temperature": "°F"}).encode())
    assert status == 303
    assert "°F" in ask(daemon.web, "/set-up")[1]
    written = (daemon.folder / "cw.toml").read_text(encoding="utf-8")
    assert 'title = "Tent 0"   # what we call it' in written


def test_reminders_go_on_unbroken(daemon: DaemonProcess) -> None:
    begin = datetime(2026, 1, 10, tzinfo=UTC)
    dry = [begin + timedelta(seconds=second) for second in range(0, 400, 10)]
    moves = "select m.event from moves m join reminders r on r.id = m.reminder order by m.id"
    with visiting(daemon.broker) as client:
        for number, time in enumerate(dry):
            if number in (10, 30):  # before the delay has run, and after
                rewritten(daemon, f"Tent {number // 20}", f"Tent {number // 20 + 1}")
                hang_up(daemon)
                wait_until(partial(called, daemon, f"Tent {number // 20 + 1}"), "it is taken")
            body = {"time": time.isoformat(), "humidity": 70.0}
            client.publish("t/timed", json.dumps(body))
        wait_until(lambda: len(daemon.rows(READINGS)) == len(dry), "all is kept")
    wait_until(lambda: bool(daemon.rows(moves)), "it is raised")
    assert [event for (event,) in daemon.rows(moves)].count("raised") == 1
