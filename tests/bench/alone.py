"""One tent left alone: three sensors of three values every five seconds, under usual settings.

The share of the processor and the memory are those of a real window of time, since what a daemon
does while nothing comes costs the same at any pace. What is written a day is counted by the kernel
(`write_bytes` in /proc/PID/io) over some hours that run faster than life, with the commits of
30 s and all summing up in them, and scaled to a day. It is that of the daemon's process alone: not
the broker's, nor the journal's.
"""

import json
import math
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

from chamberwatch.clock import WallClock
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report
from tests.bench.processes import Daemon, Home, Process, counting, publishing
from tests.bench.told import Told
from tests.brokers import Mosquitto

SENSORS: Final = ("low", "middle", "top")
EVERY_S: Final = 5.0
WINDOW_S: Final = 90.0
SETTLE_S: Final = 15.0
PACE: Final = 60.0
PACED_H: Final = 2.0
WARM_UP_H: Final = 0.5
DAY_S: Final = 86_400.0
COMMIT_S: Final = 30.0
USUAL_WINDOW: Final = 15

CHAMBER: Final = """
[[chamber]]
name = "tent"
stage = "fruiting"
volume_l = 500
"""
SENSOR: Final = """
[[sensor]]
name = "{name}"
chamber = "tent"
topic = "bench/{name}"
reads.temperature = {{ at = "/temperature" }}
reads.humidity = {{ at = "/humidity" }}
reads.co2 = {{ at = "/co2" }}
"""
HOUSE: Final = CHAMBER + "".join(SENSOR.format(name=name) for name in SENSORS)


def report(publisher: Publisher, second: float) -> None:
    """Let each sensor report once, with a misting every two and a half hours."""
    misted = math.exp(-(second % 9000) / 2500)
    for number, name in enumerate(SENSORS):
        wave = math.sin(second / 40 + number)
        body = {
            "temperature": round(18.0 + 0.4 * number + 0.1 * wave, 1),
            "humidity": round(86.0 + 8.0 * misted + 0.3 * wave, 1),
            "co2": round(700.0 + 8.0 * wave),
        }
        now = WallClock().now()
        publisher.publish(Report(f"bench/{name}", json.dumps(body).encode(), now, 3))


def reporting(publisher: Publisher, pace: float, until: Callable[[float], bool]) -> None:
    """Report at a pace until told to stop, by the seconds gone at that pace."""
    began, rounds, pause = time.monotonic(), 0, threading.Event()
    while not until(gone_s := (time.monotonic() - began) * pace):
        while rounds * EVERY_S <= gone_s:
            report(publisher, rounds * EVERY_S)
            rounds += 1
        pause.wait(min(EVERY_S / pace, 0.5))


def _beside(window_s: float, *processes: Process) -> list[float]:
    """Return which share of a core each process takes over a time."""
    before, began = [p.cpu_s() for p in processes], time.monotonic()
    threading.Event().wait(window_s)
    took = time.monotonic() - began
    return [(p.cpu_s() - was) / took for p, was in zip(processes, before, strict=True)]


def live(told: Told, folder: Path) -> None:
    """Share of the processor and memory, at life's own pace."""
    with Mosquitto(folder).running() as broker:
        home = Home(folder, broker.port, HOUSE, window=USUAL_WINDOW)
        with (
            home.daemon() as daemon,
            counting(broker.port, "bench/+", "--until", "0") as bare,
            publishing(broker.port) as publisher,
        ):
            daemon.await_pages()
            over = threading.Event()
            thread = threading.Thread(
                target=reporting, args=(publisher, 1.0, lambda _: over.is_set()), daemon=True
            )
            thread.start()
            threading.Event().wait(SETTLE_S)
            share, limit = _beside(WINDOW_S, daemon.process, bare.process)
            over.set()
            thread.join(10)
            resident_mb, bare_mb = daemon.process.resident_mb(), bare.process.resident_mb()
    how = f"3 sensors of 3 values every {EVERY_S:.0f} s, real {WINDOW_S:.0f} s, nobody looks"
    told.add(
        "one tent: share of a core",
        f"{share:.2%}",
        limit=f"{limit:.2%}",
        ratio=share / limit if limit else None,
        aim="< 1%",
        met=share < 0.01,
        how=f"{how}; limit: a bare subscriber beside it",
    )
    told.add(
        "one tent: resident memory",
        f"{resident_mb:.0f} MB",
        limit=f"{bare_mb:.0f} MB",
        ratio=resident_mb / bare_mb,
        aim="< 110 MB",
        met=resident_mb < 110,
        how=f"{how}; limit: a bare subscriber",
    )


def paced_mb(folder: Path) -> float:
    """Return what a daemon has written in a day, from some paced hours. [MB]."""
    with Mosquitto(folder).running() as broker:
        home = Home(folder, broker.port, HOUSE, window=USUAL_WINDOW)
        line = (sys.executable, "-m", "tests.bench.paced", str(PACE))
        with home.daemon(*line) as daemon, publishing(broker.port) as publisher:
            daemon.await_pages()
            reporting(publisher, PACE, lambda gone_s: gone_s >= WARM_UP_H * 3600)
            before = daemon.process.written_mb()
            reporting(publisher, PACE, lambda gone_s: gone_s >= PACED_H * 3600)
            _assert_summed(daemon)
            return (daemon.process.written_mb() - before) * DAY_S / (PACED_H * 3600)


def _assert_summed(daemon: Daemon) -> None:
    summed = daemon.number("select count(*) from summaries where length_s = 900")
    assert summed >= 9 * (4 * PACED_H - 1), summed


def bare_mb(folder: Path) -> float:
    """Return what plain SQL writes in a day for the same readings and commits. [MB]."""
    own, commits = Process(0), round(PACED_H * 3600 / COMMIT_S)
    with closing(sqlite3.connect(folder / "bare.db")) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute(
            "CREATE TABLE readings (time INTEGER, series INTEGER, value REAL, "
            "PRIMARY KEY (time, series)) WITHOUT ROWID"
        )
        before = own.written_mb()
        for commit in range(commits):
            for step in range(round(COMMIT_S / EVERY_S)):
                at = round((commit * COMMIT_S + step * EVERY_S) * 1_000_000)
                rows = [(at, series, 60.0) for series in range(9)]
                db.executemany("INSERT INTO readings VALUES (?, ?, ?)", rows)
            db.commit()
        return (own.written_mb() - before) * DAY_S / (PACED_H * 3600)


def alone(told: Told) -> None:
    """A tent at its usual pace, then what it writes."""
    with tempfile.TemporaryDirectory() as name:
        live(told, Path(name))
    with tempfile.TemporaryDirectory() as name:
        written, limit = paced_mb(Path(name)), bare_mb(Path(name))
    told.add(
        "one tent: written a day",
        f"{written:.0f} MB",
        limit=f"{limit:.0f} MB",
        ratio=written / limit if limit else None,
        aim="< 100 MB",
        met=written < 100 if limit else None,
        how=f"write_bytes of {PACED_H:.0f} h at {PACE:.0f} times life, scaled to 24 h, summaries "
        "in it; limit: plain SQL with as many rows and commits",
    )
