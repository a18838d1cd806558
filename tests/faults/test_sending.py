"""The message that was on its way when the daemon was killed."""

import json
import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.clock import WallClock
from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.faults.processes import by_day, daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

HOUSE: Final = """
[[notify]]
name = "phone"
to = "json://127.0.0.1:{port}"
"""
CHAMBER: Final = """
[[chamber]]
name = "{name}"
title = "{title}"
stage = "fruiting"
[[sensor]]
name = "{name}-air"
chamber = "{name}"
topic = "{name}/air"
unheard_after = "1 h"
[sensor.reads.humidity]
at = "/humidity"
[sensor.time]
at = "/time"
"""
ROWS: Final = "select state, title, again from outbox where address = 'phone' order by id"


@dataclass
class SlowService:
    """A service that takes a message and does not answer until it is let go.

    Attributes:
        titles: of the requests, in order of their coming.
        let_go: set it, and every request is answered.
    """

    titles: "queue.Queue[str]" = field(default_factory=queue.Queue)
    let_go: threading.Event = field(default_factory=threading.Event)
    port: int = 0

    @contextmanager
    def running(self) -> Iterator[None]:
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                service.titles.put(str(json.loads(body)["title"]))
                service.let_go.wait(DEADLINE_S)
                try:
                    self.send_response(200)
                    self.send_header("Content-Length", "0")
                    self.end_headers()
                except OSError:  # whoever asked was killed
                    self.close_connection = True

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
            self.port = server.server_address[1]
            thread = threading.Thread(target=server.serve_forever)
            thread.start()
            try:
                yield
            finally:
                self.let_go.set()
                server.shutdown()
                thread.join(DEADLINE_S)


def report(sensor: Client, chamber: str, humidity: float, minutes: int) -> None:
    """Report the same humidity once a minute, over so many minutes up to now."""
    now = WallClock().now()
    for ago in range(minutes, -1, -1):
        time = now - timedelta(minutes=ago)
        body = {"time": time.isoformat(), "humidity": humidity}
        sensor.publish(f"{chamber}/air", json.dumps(body))


@pytest.mark.parametrize(
    ("humidity", "minutes", "again", "state"),
    [
        pytest.param(75.0, 9, [], "uncertain", id="medium is not sent again"),
        # Harm takes 10 min, so what is older than that raises it in silence, and what is live
        # tells it.
        pytest.param(60.0, 25, ["Perhaps again"], "sent", id="high is sent once more"),
    ],
)
def test_killed_while_sending(
    tmp_path: Path, humidity: float, minutes: int, again: list[str], state: str
) -> None:
    service = SlowService()
    with service.running(), daemon_at(tmp_path) as daemon, visiting(daemon.broker) as sensor:
        chambers = [("tent", "Tent"), ("shelf", "Dark shelf")]
        daemon.settle(
            by_day()
            + HOUSE.format(port=service.port)
            + "".join(CHAMBER.format(name=name, title=title) for name, title in chambers)
        )
        daemon.start()
        report(sensor, "tent", humidity, minutes)
        first = service.titles.get(timeout=DEADLINE_S)
        assert first.startswith("Tent: mist now")
        assert [row[0] for row in daemon.rows(ROWS)] == ["sending"]
        daemon.kill()
        service.let_go.set()
        daemon.start()
        # A later message to the same phone shows that the earlier one has had its turn.
        report(sensor, "shelf", 75.0, 9)
        wait_until(
            lambda: daemon.rows(ROWS)[-1][:2] == ("sent", "Dark shelf: mist now"),
            "the later message is sent",
        )
        assert daemon.end() == 0, daemon.log()
        titles = list(service.titles.queue)
        assert titles[-1] == "Dark shelf: mist now"
        assert len(titles) == len(again) + 1
        for title, start in zip(titles, again, strict=False):
            assert title.startswith(start)
            assert title.endswith(first)
        rows = daemon.rows(ROWS)
        assert rows[0] == (state, first, len(again))
        assert len(rows) == 2
