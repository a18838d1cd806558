"""The watcher watched, as a process: what a lamp sees when it is killed, stopped, or cut off."""

import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any, Final

import pytest

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.faults.processes import DaemonProcess, daemon_at
from tests.said import read

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

PREFIX: Final = "chamberwatch/"
HOUSE: Final = """
[[chamber]]
name = "tent"
title = "Tent"
stage = "fruiting"
volume_l = 500
[[chamber]]
name = "room"
[[sensor]]
name = "air"
chamber = "tent"
topic = "#"
unheard_after = "1 h"
[sensor.reads.temperature]
at = "/t"
[sensor.reads.humidity]
at = "/rh"
[sensor.reads.co2]
at = "/co2"
[sensor.time]
at = "/time"
"""
EVERYTHING: Final = {"status", "chamber/tent", "chamber/room"}
MIST: Final = "reminder/tent/mist"


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[DaemonProcess]:
    with daemon_at(tmp_path) as made:
        made.settle(HOUSE)
        yield made


class Lamp:
    """Follows what is said, each message held against the schema."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.seen: dict[str, dict[str, Any]] = {}
        self.fresh: list[str] = []
        client.subscribe(f"{PREFIX}#")

    def look(self) -> "Lamp":
        while True:
            try:
                message = self.client.heard.get_nowait()
            except queue.Empty:
                return self
            topic = message.topic.removeprefix(PREFIX)
            self.seen[topic] = read(topic, bytes(message.payload))
            self.fresh.append(topic)

    def at_work(self) -> bool | None:
        status = self.look().seen.get("status")
        return None if status is None else bool(status["at_work"])


@contextmanager
def lamp_at(daemon: DaemonProcess) -> Iterator[Lamp]:
    with visiting(daemon.broker) as client:
        yield Lamp(client)


def report(daemon: DaemonProcess, minutes_ago: float, humidity: float) -> None:
    """Publish what the sensor of the tent says."""
    time = datetime.now(UTC) - timedelta(minutes=minutes_ago)  # noqa: TID251 - a sensor's clock
    body = f'{{"time": "{time.isoformat()}", "t": 18.5, "rh": {humidity}, "co2": 900}}'
    daemon.ear.publish("garden/tent", body)


def test_killed_it_is_gone_at_once_and_back_with_everything(daemon: DaemonProcess) -> None:
    daemon.start()
    for minute in range(9, 0, -1):
        report(daemon, minute, 76.0)
    with lamp_at(daemon) as lamp:
        wait_until(lambda: MIST in lamp.look().seen, "the lamp is lit")
        assert lamp.seen[MIST]["active"] is True
        assert lamp.seen["status"]["at_work"] is True
        daemon.kill()
        wait_until(lambda: lamp.at_work() is False, "the last will is seen")
        assert lamp.seen["status"]["orderly"] is False
        assert lamp.seen["status"]["since"] is None
    # One that comes later finds how things stood, and that nobody watches any more.
    with lamp_at(daemon) as late:
        wait_until(lambda: late.look().seen.keys() >= EVERYTHING | {MIST}, "all was kept")
        assert late.at_work() is False
        late.fresh.clear()
        daemon.start()
        wait_until(lambda: set(late.look().fresh) >= EVERYTHING | {MIST}, "all of it is said anew")
        assert late.at_work() is True
        assert late.seen["chamber/tent"]["asked"]["call"] == "mist"
        assert late.seen["chamber/tent"]["air"]["humidity_pct"] == 76.0
    # What it said came back to it by the sensor's filter, and is no reject.
    assert daemon.number("select count(*) from rejects") == 0


def test_stopped_in_order_it_says_so_itself(daemon: DaemonProcess) -> None:
    daemon.start()
    with lamp_at(daemon) as lamp:
        wait_until(lambda: lamp.at_work() is True, "it is at work")
        assert daemon.end() == 0
        wait_until(lambda: lamp.at_work() is False, "it says goodbye")
        assert lamp.seen["status"]["orderly"] is True
        assert lamp.seen["status"]["since"].endswith("Z")


def test_a_broker_that_forgot_everything_is_told_all_of_it(
    daemon: DaemonProcess, tmp_path: Path
) -> None:
    daemon.start()
    with lamp_at(daemon) as lamp:
        wait_until(lambda: lamp.look().seen.keys() >= EVERYTHING, "all is said")
    daemon.broker.kill()
    for kept in tmp_path.glob("mosquitto.db*"):
        kept.unlink()
    daemon.broker.start()
    with lamp_at(daemon) as late:
        wait_until(lambda: late.look().seen.keys() >= EVERYTHING, "all is said anew", 40)
        assert late.at_work() is True


def test_a_sign_of_life_is_given_to_a_service(daemon: DaemonProcess) -> None:
    asked: list[str] = []
    answer = 200

    class Service(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(answer)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Service) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        url = f"http://127.0.0.1:{server.server_address[1]}/a-word-of-mine"
        daemon.settle(f'{HOUSE}\n[sign_of_life]\nurl = "{url}"\n')
        daemon.start()
        wait_until(lambda: asked == ["/a-word-of-mine"], "it calls")
        daemon.end()
        server.shutdown()
        thread.join()
    assert "a-word-of-mine" not in daemon.log()
