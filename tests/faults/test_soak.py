"""A day of a daemon that nobody looks after, at sixty times life's pace.

The daemon is a process of its own that does all it does in life: the clocks of its rounds, its
scheduler, its delivery and its commits run at that pace. Sensors and broker are other processes,
so what is measured is the daemon's alone. `told` shows the figures.

    python -m tests.faults -k 2-hours    a look in two minutes; the whole day takes 25
"""

import http.client
import json
import math
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.clock import PacedClock, WallClock
from chamberwatch.sim.show import TentShow
from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, Client, beside, visiting, wait_until
from tests.browser.every_page import addresses
from tests.faults.paced import paced
from tests.faults.processes import ROOT, DaemonProcess, daemon_at, environment

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO),
]

PACE: Final = 60.0
EVERY: Final = timedelta(seconds=10)
MESSAGES_A_DAY: Final = 3 * round(timedelta(days=1) / EVERY)
HISTORY: Final = timedelta(days=2)
"""Sent first, and then taken in at full speed: what is known of a tent is drawn from so long, and
grows with it. Without, a first day would look like a leak: 17 MB were measured of it."""
LOOK_EVERY: Final = timedelta(minutes=5)
DEED_EVERY: Final = 24
"""So many looks apart the grower tells that he has misted: every two hours."""

SLOPE_MB_A_DAY: Final = 8.0
"""More is a leak: 1 kB that each message leaves behind would be 26 MB a day, and this is a
third of it."""
LONG_ENOUGH_H: Final = 12.0
RESIDENT_MB: Final = 256.0
"""Half of a board with 512 MB, after two days taken in at once and with every page opened again
and again. What a daemon takes of which nobody asks anything is another figure."""

EMPTY_BYTES: Final = 200_000
READING_BYTES: Final = 29
SUMMARY_BYTES: Final = 55
"""A file with nothing in it, and a row, as they are measured for the forecast of the card."""
SIZE_SHARE: Final = 0.25
"""So far off may the file be: reminders, findings and half empty pages are not reckoned."""

HOUSE: Final = """
[site]
altitude_m = 120
[[chamber]]
name = "tent"
title = "Tent"
volume_l = 500
stage = "fruiting"
surrounding = "room"
[[chamber]]
name = "room"
title = "Living room"
"""
SENSOR: Final = """
[[sensor]]
name = "{name}"
chamber = "{chamber}"
topic = "{topic}"
[sensor.time]
at = "/time"
"""
SENSORS: Final = (
    ("middle", "tent", "tent/middle", ("temperature", "humidity", "co2")),
    ("top", "tent", "tent/top", ("temperature", "humidity")),
    ("shelf", "room", "room/shelf", ("temperature", "humidity", "co2")),
)
FOR_PROGRAMS: Final = tuple(
    f"/api/v1/{each}"
    for each in (
        "health",
        "chambers",
        "readings?chamber=tent&quantity=humidity_pct",
        "chambers/tent/chart",
        "chambers/tent/chart.csv",
        "reminders",
        "actions",
    )
)


def house() -> str:
    """Return the settings of the simulated tent and its room."""
    parts = [HOUSE]
    for name, chamber, topic, quantities in SENSORS:
        parts.append(SENSOR.format(name=name, chamber=chamber, topic=topic))
        parts += [f'[sensor.reads.{quantity}]\nat = "/{quantity}"\n' for quantity in quantities]
    return "".join(parts)


@dataclass(frozen=True, slots=True)
class Look:
    """How it was at a moment.

    Attributes:
        after_h: since the beginning, on its own clock. [h]
        resident_mb: memory that it holds. [MB]
        descriptors: open files and sockets, without those of the database.
        connections: files of the database that are open for one.
        threads: of its process.
    """

    after_h: float
    resident_mb: float
    descriptors: int
    connections: int
    threads: int


@dataclass
class Soak:
    """A daemon at a pace, the flow into it, and what was seen of it."""

    daemon: DaemonProcess
    client: Client
    process: subprocess.Popen[bytes]
    clock: PacedClock
    show: TentShow
    looks: list[Look] = field(default_factory=list)
    values: int = 0

    def flowing(self) -> AbstractContextManager[None]:
        """Let the sensors speak beside the block."""
        return beside(self._speak)

    def _speak(self, stopping: threading.Event) -> None:
        while not self.clock.wait(stopping, EVERY.total_seconds()):
            for report in self.show.advance_to(self.clock.now()):
                self.client.client.publish(report.topic, report.payload, qos=1)
                self.values += report.values

    def live(self, hours: float) -> None:
        """Look at it now and then, for so many hours of its clock."""
        pause, step_s = threading.Event(), LOOK_EVERY.total_seconds()
        for number in range(1, round(hours * 3600 / step_s) + 1):
            self.clock.wait(pause, number * step_s - self.clock.monotonic())
            assert self.process.poll() is None, self.daemon.log()
            self.looks.append(self._look())
            self._visit()
            if number % DEED_EVERY == 0:
                self.ask("POST", "/api/v1/actions", {"chamber": "tent", "kind": "misted"}, 201)

    def _look(self) -> Look:
        proc = Path(f"/proc/{self.process.pid}")
        pages = int((proc / "statm").read_text().split()[1])
        opened = list[str]()
        for each in (proc / "fd").iterdir():
            with suppress(OSError):  # closed meanwhile
                opened.append(str(each.readlink()))
        file = str(self.daemon.file)
        return Look(
            self.clock.monotonic() / 3600,
            pages * 4096 / 1e6,
            sum(not each.startswith(file) for each in opened),
            opened.count(file),
            len(list((proc / "task").iterdir())),
        )

    def _visit(self) -> None:
        """Open every page there is, and ask what programs ask."""
        for address in (*addresses({"chamber": "tent", "sensor": "middle"}), *FOR_PROGRAMS):
            self.ask("GET", address)

    def ask(
        self, method: str, address: str, body: object = None, expected: int | None = None
    ) -> None:
        """Ask its pages for something; fail where it fails."""
        line = http.client.HTTPConnection("127.0.0.1", self.daemon.web, timeout=DEADLINE_S)
        with closing(line):
            said = None if body is None else json.dumps(body)
            line.request(method, address, said, {"content-type": "application/json"})
            answer = line.getresponse()
            answer.read()
        fine = answer.status == expected if expected else answer.status < 500
        assert fine, (method, address, answer.status, self.daemon.log()[-2000:])

    def after(self, hours: float) -> list[Look]:
        """Return what was seen after so many hours."""
        return [look for look in self.looks if look.after_h >= hours]


@contextmanager
def soaking(folder: Path) -> Iterator[Soak]:
    """Have a daemon that lives at sixty times life's pace."""
    with daemon_at(folder) as daemon, visiting(daemon.broker) as client:
        daemon.settle(house())
        # It counts the minutes of a day: so that each run sees the same, it begins at midnight.
        start = WallClock().now().replace(hour=0, minute=0, second=0, microsecond=0)
        start += timedelta(days=1)
        clock = paced(start, PACE, time.monotonic())
        told = (str(daemon.folder / "cw.toml"), start.isoformat(), str(PACE), str(clock._went_s))
        with (daemon.folder / "daemon.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "tests.faults.paced", *told],
                cwd=ROOT,
                env=environment(),
                stdout=log,
                stderr=log,
            )
        daemon._process = process
        daemon._await(at_work=True)
        yield Soak(daemon, client, process, clock, TentShow(7, start - HISTORY, every=EVERY))


def slope_a_day(looks: Sequence[Look]) -> float:
    """Return by how much its memory grows, by least squares. [MB a day]."""
    hours = [look.after_h for look in looks]
    fit = statistics.linear_regression(hours, [look.resident_mb for look in looks])
    return 24.0 * fit.slope


def predicted_bytes(soak: Soak) -> float:
    """Return how large the file should be after what was sent. [B]."""
    summaries = soak.daemon.number("select count(*) from summaries")
    return EMPTY_BYTES + soak.values * READING_BYTES + summaries * SUMMARY_BYTES


def file_bytes(soak: Soak) -> int:
    """Return how large its file is, without what is free in it. [B]."""
    ((pages,), (free,), (size,)) = (
        soak.daemon.rows(f"pragma {what}")[0]
        for what in ("page_count", "freelist_count", "page_size")
    )
    return int((pages - free) * size)


@pytest.mark.parametrize(
    ("hours", "warm_h"),
    [pytest.param(2.0, 1.0, id="2-hours"), pytest.param(24.0, 4.0, id="a-day")],
)
def test_a_day_at_sixty_times_lifes_pace(
    tmp_path: Path,
    hours: float,
    warm_h: float,
    record_property: Callable[[str, object], None],
) -> None:
    with soaking(tmp_path) as soak:
        with soak.flowing():
            soak.live(hours)
        stored = "select count(*) from readings"
        wait_until(lambda: soak.daemon.number(stored) == soak.values, "all is stored")
        size, predicted = file_bytes(soak), predicted_bytes(soak)
        warm = soak.after(warm_h)
        slope, most = slope_a_day(warm), max(look.resident_mb for look in warm)
        half = len(warm) // 2
        record_property(
            "told",
            f"{hours:g} h, {soak.values} values; resident {warm[0].resident_mb:.1f} to "
            f"{warm[-1].resident_mb:.1f} MB, at most {most:.1f}, slope {slope:+.2f} MB a day "
            f"(limit {SLOPE_MB_A_DAY:g}); file {size / 1e6:.2f} MB, predicted "
            f"{predicted / 1e6:.2f}; descriptors {min(x.descriptors for x in warm)} to "
            f"{max(x.descriptors for x in warm)} beside at most "
            f"{max(x.connections for x in warm)} connections, threads "
            f"{min(x.threads for x in warm)} to {max(x.threads for x in warm)}",
        )
        assert soak.daemon.troubles() == []
        assert soak.daemon.end() == 0, soak.daemon.log()
    assert "Traceback" not in soak.daemon.log()
    assert most < RESIDENT_MB
    # Over two hours a slope says little: a page that is asked for late looks like a leak.
    assert hours < LONG_ENOUGH_H or slope <= SLOPE_MB_A_DAY
    assert math.isclose(size, predicted, rel_tol=SIZE_SHARE)
    for each in ("descriptors", "threads"):
        # Those that a page takes come and go: what leaks raises the least of them.
        before, later = (
            min(getattr(x, each) for x in part) for part in (warm[:half], warm[half:])
        )
        assert later <= before, each
    # No thread has more than one. Those beyond the few that are kept are closed at once, but their
    # files stay open for the next one while others hold locks (SQLite's os_unix.c says why).
    assert all(look.connections <= look.threads for look in warm)
