"""Nothing lost: killed at twenty moments while messages come in."""

import json
import random
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest
from paho.mqtt.client import MQTTMessageInfo

from chamberwatch.clock import WallClock
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.board import Board
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.ports import Arrival
from chamberwatch.service.telling import Teller
from chamberwatch.storage.book import open_books
from chamberwatch.storage.columns import to_micros
from tests import fakes
from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.faults.processes import DaemonProcess, daemon_at
from tests.make import TENT

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

KILLS: Final = 20
SEED: Final = 20
PAIRS: Final = 3
"""One timed and one untimed message each, sent every `PAUSE_S`: about 300 messages a second."""
PAUSE_S: Final = 0.02
PAIRS_AT_MOST: Final = 9000
"""Two and a half hours of reading time, so that on a slow machine none becomes live either."""

# Humidity is below 80 % for 3 min before it is a dry spell, and back for 2 min before that ends.
DRY_S: Final = 190
FINE_S: Final = 130

HOUSE: Final = """
[[chamber]]
name = "tent"
title = "Tent"
stage = "fruiting"
[[sensor]]
name = "timed"
chamber = "tent"
topic = "t/timed"
unheard_after = "1 h"
[sensor.reads.humidity]
at = "/humidity"
[sensor.time]
at = "/time"
[[sensor]]
name = "untimed"
chamber = "tent"
topic = "t/untimed"
payload = "number"
unheard_after = "1 h"
[sensor.reads.co2]
unit = "ppm"
"""

READINGS: Final = (
    "select r.time, r.value from readings r join series s on s.id = r.series where s.sensor = '{}'"
)
UNTIMED: Final = (
    "select distinct value from readings r join series s on s.id = r.series "
    "where s.sensor = 'untimed' union select value from undated where sensor = 'untimed'"
)
MIST_MOVES: Final = (
    "select m.event, m.time from moves m join reminders r on r.id = m.reminder "
    "where r.call = 'mist' order by m.id"
)


def humidity_at(second: int) -> float:
    """Return the humidity of a second: dry and fine spells in turn. [%]."""
    return 75.0 if second % (DRY_S + FINE_S) < DRY_S else 90.0


@dataclass
class Sender:
    """Sends pairs until told to stop, and keeps what the broker confirms.

    Attributes:
        client: connected.
        begin: time of the first timed reading; the others follow a second apart.
    """

    client: Client
    begin: datetime
    pairs: list[tuple[MQTTMessageInfo, MQTTMessageInfo]] = field(default_factory=list)
    _stopping: threading.Event = field(default_factory=threading.Event)

    @contextmanager
    def sending(self) -> Iterator[None]:
        """Send beside the block."""
        thread = threading.Thread(target=self._send)
        thread.start()
        try:
            yield
        finally:
            self._stopping.set()
            thread.join(DEADLINE_S)

    def _send(self) -> None:
        publish = self.client.client.publish
        while not self._stopping.wait(PAUSE_S) and len(self.pairs) < PAIRS_AT_MOST:
            for _ in range(PAIRS):
                second = len(self.pairs)
                time = self.begin + timedelta(seconds=second)
                body = {"time": time.isoformat(), "humidity": humidity_at(second)}
                timed = publish("t/timed", json.dumps(body), qos=1)
                self.pairs.append((timed, publish("t/untimed", str(second + 1), qos=1)))

    def accepted(self) -> int:
        """Return how many pairs the broker has confirmed: all that were sent."""
        for pair in self.pairs:
            for info in pair:
                info.wait_for_publish(DEADLINE_S)
                assert info.is_published()
        return len(self.pairs)

    def timed(self) -> list[tuple[datetime, float]]:
        """Return the timed readings in order."""
        return [
            (self.begin + timedelta(seconds=s), humidity_at(s)) for s in range(len(self.pairs))
        ]


def reference_moves(folder: Path, readings: list[tuple[datetime, float]]) -> list[tuple[str, int]]:
    """Return the moves of an undisturbed run on the same readings."""
    clock = fakes.HandClock(wall=WallClock().now())
    board = Board(clock.monotonic())
    house = House({"tent": TENT}, {"timed": Sensor("timed", "tent")})
    books = open_books(f"sqlite:///{folder / 'reference.db'}", clock.now())
    intake = Intake(
        IntakeParts(
            books=books,
            reader=fakes.PlainReader(),
            acknowledger=fakes.Broker(),
            clock=clock,
            house=house,
            board=board,
            teller=Teller(house, board, ("terminal",), UTC),
            commit_every=timedelta(hours=1),
            window=100_000,
            wake_delivery=threading.Event(),
        )
    )
    for mid, (time, value) in enumerate(readings):
        said = f"timed {Quantity.HUMIDITY} {value} {time.isoformat()}".encode()
        intake.take(Arrival("t", said, False, mid, 1, 1, clock.now(), clock.monotonic()))
        if intake.must_commit():
            intake.commit()
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
        moves = book.reminders.moves(mist.id, limit=100_000)
    books.close()
    return [(move.event.value, to_micros(move.time)) for _, move in moves]


def kill_again_and_again(daemon: DaemonProcess) -> None:
    """Kill it while it takes messages in, and start it again, except after the last time."""
    moments, pause = random.Random(SEED), threading.Event()  # noqa: S311 - no secret
    for kill in range(KILLS):
        if kill:
            daemon.start()
        pause.wait(moments.uniform(0.15, 0.7))
        daemon.kill()


def test_nothing_accepted_is_lost_or_doubled(tmp_path: Path) -> None:
    begin = WallClock().now().replace(microsecond=0) - timedelta(hours=3)
    with daemon_at(tmp_path, log="log_type all\n") as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        with visiting(daemon.broker) as client:
            sender = Sender(client, begin)
            with sender.sending():
                kill_again_and_again(daemon)
            accepted = sender.accepted()
        daemon.start()
        wait_until(
            lambda: (
                len(daemon.rows(READINGS.format("timed"))) >= accepted
                and len(daemon.rows(UNTIMED)) >= accepted
            ),
            "all is taken in",
        )
        assert daemon.end() == 0, daemon.log()
        sendings = daemon.broker.log().count("Sending PUBLISH to faults (")
    expected = sender.timed()
    moves = daemon.rows(MIST_MOVES)
    print(
        f"{KILLS} kills, {2 * accepted} accepted, {sendings - 2 * accepted} redelivered, "
        f"{len(moves)} moves of the reminder"
    )
    kept = Counter(daemon.rows(READINGS.format("timed")))
    assert kept == Counter((to_micros(time), value) for time, value in expected)
    assert {value for (value,) in daemon.rows(UNTIMED)} == set(range(1, accepted + 1))
    assert moves == reference_moves(tmp_path, expected)
    assert len(moves) >= 24
    assert sendings > 2 * accepted
    assert daemon.number("select count(*) from outbox") == 0
    assert daemon.number("select count(*) from rejects") == 0
