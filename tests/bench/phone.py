"""From the message of a sensor to the phone's service, beyond the on-delay.

A chamber's first report says that it was dry already when its on-delay began; the second, sent
now, ends the delay. What is timed is from handing over the second until a service on this machine
has the message: broker, understanding, judging, commit, outbox, phone library and its request. In
turn with it a bare subscriber hands a message of its own to the same library at once.
"""

import json
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

from chamberwatch.clock import WallClock
from chamberwatch.sim.show import Report
from tests.bench.processes import Home, publishing, running
from tests.bench.told import Told
from tests.brokers import Mosquitto, wait_until

MESSAGES: Final = 150
APART_S: Final = 0.15
DELAY: Final = timedelta(seconds=11)
AIM_S: Final = 0.25

ADDRESS: Final = """
[[notify]]
name = "phone"
to = "{to}"
pictures = {pictures}
"""
CHAMBER: Final = """
[[chamber]]
name = "c{n}"
title = "Chamber {n}"
stage = "fruiting"
patience.humidity = {{ on_delay = "10 s", priority = "high" }}
[[sensor]]
name = "s{n}"
chamber = "c{n}"
topic = "bench/{n}"
reads.humidity = {{ at = "/humidity" }}
time = {{ at = "/time" }}
"""


@dataclass
class Service:
    """A phone's service that notes when each title came.

    Attributes:
        came_s: by title, on the monotonic clock. [s]
        port: where it listens.
    """

    came_s: dict[str, float] = field(default_factory=dict)
    port: int = 0

    @contextmanager
    def serving(self) -> Iterator[str]:
        """Listen until the block is left; yield the address for the phone library."""
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                came_s = time.monotonic()
                body = self.rfile.read(int(self.headers["Content-Length"]))
                service.came_s.setdefault(str(json.loads(body)["title"]).split(":")[0], came_s)
                self.send_response(200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
            thread = threading.Thread(target=server.serve_forever, daemon=True)
            thread.start()
            try:
                yield f"json://127.0.0.1:{server.server_address[1]}"
            finally:
                server.shutdown()
                thread.join(10)


def _dry(n: int, ago: timedelta) -> Report:
    at = WallClock().now() - ago
    body = {"time": at.isoformat(), "humidity": 74.0}
    return Report(f"bench/{n}", json.dumps(body).encode(), at, 1)


def latencies(folder: Path, *, pictures: bool) -> tuple[list[float], list[float]]:
    """Return how long messages took through a daemon, and through a bare subscriber. [s]."""
    service, sent_s, pause = Service(), dict[str, float](), threading.Event()
    with service.serving() as to, Mosquitto(folder).running() as broker:
        house = ADDRESS.format(to=to, pictures=str(pictures).lower())
        house += "".join(CHAMBER.format(n=n) for n in range(MESSAGES))
        line = (sys.executable, "-m", "tests.bench.calling", str(broker.port), "bare/+", to)
        home = Home(folder, broker.port, house)
        with home.daemon() as daemon, running(*line) as (_, said), publishing(broker.port) as way:
            assert said.readline() == "listening\n", said.read()
            daemon.await_pages()
            for n in range(MESSAGES):
                way.publish(_dry(n, DELAY))
                pause.wait(APART_S)
                sent_s[f"Chamber {n}"] = time.monotonic()
                way.publish(_dry(n, timedelta(0)))
                pause.wait(APART_S)
                sent_s[f"bare/{n}"] = time.monotonic()
                way.publish(Report(f"bare/{n}", b"Mist.", WallClock().now(), 1))
            wait_until(lambda: set(sent_s) <= set(service.came_s), "all came", 60.0)
    took = {title: service.came_s[title] - at_s for title, at_s in sent_s.items()}
    return (
        [took_s for title, took_s in took.items() if title.startswith("Chamber")],
        [took_s for title, took_s in took.items() if title.startswith("bare")],
    )


def _percentiles_ms(took_s: list[float]) -> tuple[float, float]:
    """Return the 50th and the 99th. [ms]."""
    found = statistics.quantiles(took_s, n=100, method="inclusive")
    return found[49] * 1000, found[98] * 1000


def phone(told: Told) -> None:
    """Messages with and without a picture."""
    for pictures in (False, True):
        with tempfile.TemporaryDirectory() as name:
            ours, bare = latencies(Path(name), pictures=pictures)
        (p50, p99), (bare_p50, bare_p99) = _percentiles_ms(ours), _percentiles_ms(bare)
        what = "with its picture" if pictures else "in words"
        told.add(
            f"message to phone library, {what}: p50 / p99",
            f"{p50:.0f} / {p99:.0f} ms",
            limit=f"{bare_p50:.0f} / {bare_p99:.0f} ms",
            ratio=p99 / bare_p99,
            aim=f"p99 < {AIM_S * 1000:.0f} ms",
            met=p99 < AIM_S * 1000,
            how=f"beyond the on-delay; {MESSAGES} messages; limit: a bare subscriber that calls "
            "the library at once",
        )
