"""Nothing lost: killed at many moments while messages come in."""

import random
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

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
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, visiting
from tests.faults.flow import HOUSE, PAUSE_S, Sender, assert_all_kept, taken_in, three_hours_ago
from tests.faults.processes import DaemonProcess, daemon_at
from tests.make import TENT

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

SEED: Final = 20
MIST_MOVES: Final = (
    "select m.event, m.time from moves m join reminders r on r.id = m.reminder "
    "where r.call = 'mist' order by m.id"
)


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


def kill_again_and_again(daemon: DaemonProcess, kills: int) -> None:
    """Kill it while it takes messages in, and start it again, except after the last time."""
    moments, pause = random.Random(SEED), threading.Event()  # noqa: S311 - no secret
    for kill in range(kills):
        if kill:
            daemon.start()
        pause.wait(moments.uniform(0.15, 0.7))
        daemon.kill()


@pytest.mark.parametrize(
    ("kills", "pause_s"), [(10, PAUSE_S), pytest.param(100, 6 * PAUSE_S, marks=pytest.mark.long)]
)
def test_nothing_accepted_is_lost_or_doubled(
    tmp_path: Path, kills: int, pause_s: float, record_property: Callable[[str, object], None]
) -> None:
    with daemon_at(tmp_path, log="log_type all\n") as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        with visiting(daemon.broker) as client:
            sender = Sender(client, three_hours_ago(), pause_s)
            with sender.sending():
                kill_again_and_again(daemon, kills)
            accepted = sender.accepted()
        daemon.start()
        taken_in(daemon, accepted)
        assert daemon.end() == 0, daemon.log()
        sendings = daemon.broker.log().count("Sending PUBLISH to faults (")
    expected = sender.timed()
    moves = daemon.rows(MIST_MOVES)
    record_property(
        "told",
        f"{kills} kills, {2 * accepted} accepted, {sendings - 2 * accepted} redelivered, "
        f"{len(moves)} moves of the reminder",
    )
    assert_all_kept(daemon, sender, accepted)
    assert moves == reference_moves(tmp_path, expected)
    assert len(moves) >= 10
    assert sendings > 2 * accepted
    assert daemon.number("select count(*) from outbox") == 0
