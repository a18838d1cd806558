"""A night under load: backup and thinning while messages come in, and none is lost or late."""

import json
import re
import signal
import sqlite3
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import pytest
from paho.mqtt.client import MQTTMessageInfo

from chamberwatch.clock import WallClock
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.thinning import STEADY_FOR
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.service.thinning import STEADY
from chamberwatch.storage.backup_folder import BackupFolder
from chamberwatch.storage.book import open_books
from chamberwatch.storage.columns import to_micros
from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.fakes import HandClock
from tests.faults.flow import TENT_TIMED
from tests.faults.processes import (
    DaemonProcess,
    clear_of_midnight,
    command,
    daemon_at,
    environment,
)

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

PAUSE_S: Final = 0.01
OLD: Final = 30_000
"""Readings of a day 41 days ago, of which all go."""
BALLAST: Final = 20_000_000
"""Bytes in the database, so that a copy takes a while."""
COMMIT_S: Final = 1.0
LATE_S: Final = 2.0
"""So much later than in the day, at the most, is a message kept: a transaction of the night takes
50 ms, the rest is for the disk and the processor of whoever runs this."""
BACKUPS: Final = """
[backup]
folder = "{folder}"
"""
NEWEST: Final = "select max(time) from readings"
COUNT: Final = "select count(*) from readings where time > {0}"
GONE: Final = "select count(*) from readings where time < {0}"
SUMS: Final = "select * from summaries where start_s < {0} order by 1, 2, 3, 4"


@dataclass
class Sender:
    """Sends a message every `PAUSE_S`, dated now, until told to stop."""

    client: Client
    sent: list[MQTTMessageInfo] = field(default_factory=list)
    _stopping: threading.Event = field(default_factory=threading.Event)

    @contextmanager
    def sending(self) -> Iterator[None]:
        thread = threading.Thread(target=self._send)
        thread.start()
        try:
            yield
        finally:
            self._stopping.set()
            thread.join(DEADLINE_S)

    def _send(self) -> None:
        while not self._stopping.wait(PAUSE_S):
            body = {"time": WallClock().now().isoformat(), "humidity": 90.0}
            self.sent.append(self.client.client.publish("t/timed", json.dumps(body), qos=1))


def prepare(file: Path, now: datetime) -> None:
    """Make a database in which a day is old, and the clock was seen for a week of nights."""
    books, clock = open_books(f"sqlite:///{file}", now), HandClock(wall=now)
    old = (now - timedelta(days=41)).replace(hour=0)
    with books.write() as book:
        book.readings.add(
            Reading(old + n * timedelta(seconds=1), "timed", Quantity.HUMIDITY, 80.0 + n % 7)
            for n in range(OLD)
        )
        book.readings.add([Reading(now - timedelta(hours=1), "timed", Quantity.HUMIDITY, 90.0)])
        seen = [now - STEADY_FOR, now - timedelta(days=1)]
        book.kept.keep_text(STEADY, json.dumps([each.isoformat() for each in seen]))
        book.kept.keep_text("ballast", "x" * BALLAST)
    summing = SummingUp(books, clock, BandsThen(House({}, {}), SpeciesTable({}, {})))
    while summing.look():
        pass
    books.close()


def settle(daemon: DaemonProcess, folder: Path) -> None:
    daemon.settle(BACKUPS.format(folder=folder) + TENT_TIMED)
    path = daemon.folder / "cw.toml"
    kept = path.read_text(encoding="utf-8").replace("[mqtt]", 'keep_raw = "30 days"\n[mqtt]', 1)
    path.write_text(kept, encoding="utf-8")


@dataclass
class Watcher:
    """Looks how far the newest reading that is kept lies behind. [s]"""

    file: Path

    def latest_s(self, until: object) -> float:
        """Return how late it was at the worst, until something holds (asked ever so often)."""
        assert callable(until)
        worst, pause, clock = 0.0, threading.Event(), WallClock()
        end_s = clock.monotonic() + DEADLINE_S
        with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True)) as file:
            while not until():
                assert clock.monotonic() < end_s
                (newest,) = file.execute(NEWEST).fetchone()
                worst = max(worst, (to_micros(clock.now()) - newest) / 1e6)
                pause.wait(0.02)
        return worst


@pytest.mark.parametrize(
    "in_time",
    [
        # How long something takes depends on who else is busy: asked only where that was chosen.
        pytest.param(False, id="nothing is lost"),
        pytest.param(True, id="nothing is late", marks=pytest.mark.long),
    ],
)
def test_a_night_under_load(
    tmp_path: Path, in_time: bool, record_property: Callable[[str, object], None]
) -> None:
    clear_of_midnight()
    now = WallClock().now()
    prepare(tmp_path / "cw.db", now)
    place = BackupFolder(tmp_path / "stick", tmp_path / "cw.db")
    place.begin()
    old_before = (now - timedelta(days=30)).replace(hour=0, minute=0, second=0, microsecond=0)
    sums = SUMS.format(round(old_before.timestamp()))
    with daemon_at(tmp_path) as daemon:
        daemon.program = "tests.faults.at_night"
        settle(daemon, place.folder)
        daemon.start()
        before = daemon.rows(sums)
        with visiting(daemon.broker) as client:
            sender, watcher = Sender(client), Watcher(daemon.file)
            with sender.sending():
                wait_until(
                    lambda: daemon.number(COUNT.format(to_micros(now))) > 0, "the first is kept"
                )
                day = WallClock().monotonic() + 2.0
                by_day_s = watcher.latest_s(lambda: WallClock().monotonic() > day)
                daemon.signal(signal.SIGUSR1)
                by_night_s = watcher.latest_s(lambda: "what they came to stays" in daemon.log())
                # And one by hand at the same time.
                by_hand = subprocess.run(
                    command("backup", "--config", str(daemon.folder / "cw.toml")),
                    cwd=daemon.folder,
                    env=environment(),
                    capture_output=True,
                    text=True,
                    check=False,
                    timeout=DEADLINE_S,
                )
            for info in sender.sent:
                info.wait_for_publish(DEADLINE_S)
        accepted = len(sender.sent)
        wait_until(
            lambda: daemon.number(COUNT.format(to_micros(now))) >= accepted, "all is taken in"
        )
        assert daemon.end() == 0, daemon.log()
        said = daemon.log()
    record_property(
        "told",
        f"{accepted} messages; kept {by_day_s:.2f} s late at the most by day, "
        f"{by_night_s:.2f} s in the night",
    )
    assert daemon.number(COUNT.format(to_micros(now))) == accepted
    assert by_day_s >= COMMIT_S / 2
    assert not in_time or by_night_s <= by_day_s + LATE_S
    # The old ones are gone, and what they came to is as it was.
    assert f"{OLD} readings older than {old_before:%Y-%m-%d} went" in said
    assert daemon.number(GONE.format(to_micros(old_before))) == 0
    assert daemon.rows(sums) == before
    assert before
    held = re.search(r"held for (\d+) ms at the longest", said)
    assert held is not None
    # By night the backup was made first, so it holds what went after it.
    assert by_hand.returncode == 0, by_hand.stderr
    assert "Backup made: " in said
    newest, *older = (path for _, path in place.all())
    assert not older, "both are of one day: the newest of it stays"
    with closing(sqlite3.connect(newest)) as copy:
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        (kept,) = copy.execute("SELECT count(*) FROM readings").fetchone()
    assert 0 < kept <= accepted + 1
