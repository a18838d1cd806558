"""A backlog: what the broker kept while nobody listened, against a subscriber that only counts.

Both have a session that the broker keeps, are away while everything is sent, and come back. What
is timed is from their connection to the last message: for the daemon, until it stands in the
file, and that on top of its own start. Two payloads: JSON of three values with its own time, of
which every reading is judged and stored exactly once; and a bare number without one, which is
kept undated.
"""

import json
import statistics
import tempfile
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Final

from chamberwatch.clock import WallClock
from chamberwatch.sim.show import Report
from tests.bench.processes import START_S, Home, counting, publishing
from tests.bench.told import Told
from tests.brokers import Mosquitto, wait_until

MESSAGES: Final = 20_000
RUNS: Final = 3
AIM: Final = 0.6

HOUSE: Final = """
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "air"
chamber = "tent"
topic = "bench/air"
{reads}
"""


@dataclass(frozen=True, slots=True)
class Load:
    """What is sent.

    Attributes:
        what: in words.
        reads: how the sensor reads it.
        values: in a message.
        table: where they end up.
        aim: the ratio that is wanted; None: shown only.
    """

    what: str
    reads: str
    values: int
    table: str
    aim: float | None = None


JSON: Final = Load(
    "JSON of 3 values with its time, judged",
    """reads.temperature = { at = "/temperature" }
reads.humidity = { at = "/humidity" }
reads.co2 = { at = "/co2" }
time = { at = "/time" }""",
    3,
    "readings",
    AIM,
)
NUMBER: Final = Load(
    "a bare number without a time, kept undated",
    'payload = "number"\nreads.humidity = { unit = "%" }',
    1,
    "undated",
    AIM,
)


def reports(load: Load) -> list[Report]:
    """Return calm readings a second apart, from two days ago on."""
    start, made = WallClock().now() - timedelta(days=2), []
    for n in range(MESSAGES):
        at = start + timedelta(seconds=n)
        body = f"{88 + n % 7 / 10:.1f}"
        if load.values == 3:
            air = {"temperature": 18 + n % 7 / 10, "humidity": 88.5, "co2": 700}
            body = json.dumps({"time": at.isoformat(), **air})
        made.append(Report("bench/air", body.encode(), at, load.values))
    return made


@dataclass(frozen=True, slots=True)
class Took:
    """How long one took, by the clock and of processor. [s]."""

    wall_s: float
    cpu_s: float


def once(folder: Path, load: Load) -> tuple[Took, Took]:
    """Take in one backlog; return how long it took the bare subscriber, and the daemon."""
    with Mosquitto(folder).running() as broker:
        home = Home(folder, broker.port, HOUSE.format(reads=load.reads))
        with home.daemon() as daemon:
            daemon.await_pages()
        kept = ("--kept", "bench-bare")
        with counting(broker.port, "bench/air", *kept, "--away"):
            pass
        with publishing(broker.port) as publisher:
            for report in reports(load):
                publisher.publish(report)
            publisher.drain(START_S)
        with counting(broker.port, "bench/air", *kept, "--until", str(MESSAGES)) as counter:
            told = counter.told()
        with home.daemon() as daemon:
            question = f"select count(*) from {load.table}"  # noqa: S608 - one of ours
            assert daemon.connected.wait(START_S)
            cpu_s = daemon.process.cpu_s()
            wanted = MESSAGES * load.values
            wait_until(lambda: daemon.number(question) >= wanted, "all is stored", 2 * START_S)
            took = Took(daemon.since_connected_s(), daemon.process.cpu_s() - cpu_s)
    return Took(told["took_s"], told["cpu_s"]), took


def backlog(told: Told) -> None:
    """Both payloads, several times."""
    for load in (JSON, NUMBER):
        runs = []
        for _ in range(RUNS):
            with tempfile.TemporaryDirectory() as name:
                runs.append(once(Path(name), load))
        bare_s = statistics.median(bare.wall_s for bare, _ in runs)
        took_s = statistics.median(took.wall_s for _, took in runs)
        ratio = statistics.median(bare.wall_s / took.wall_s for bare, took in runs)
        cpu_us, bare_us = (
            statistics.median(each.cpu_s for each in side) / MESSAGES * 1e6
            for side in zip(*((took, bare) for bare, took in runs), strict=True)
        )
        told.add(
            f"backlog: {load.what}",
            f"{MESSAGES / took_s:.0f} messages/s",
            limit=f"{MESSAGES / bare_s:.0f} messages/s",
            ratio=ratio,
            aim="" if load.aim is None else f">= {load.aim}",
            met=None if load.aim is None else ratio >= load.aim,
            how=f"{MESSAGES} messages kept by the broker; limit: a bare subscriber on the same "
            f"broker; median of {RUNS}; processor a message: "
            f"{cpu_us:.0f} us against {bare_us:.0f} us",
        )
