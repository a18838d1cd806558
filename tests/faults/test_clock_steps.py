"""The wall clock is stepped under a running daemon, as on a board without a battery clock.

The library libfaketime moves the wall clock of that process alone; its monotonic clock stays
true. A process under it is slow to end now and then, so the daemon is not asked to here. The
kernel is asked for real whether a time service holds the clock, so these tests need a machine
whose clock no service holds, as that of most containers is.
"""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.clock import WallClock, kernel_synchronised
from chamberwatch.service.intake import QUIET_S
from chamberwatch.storage.columns import from_micros
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, Client, visiting, wait_until
from tests.faults.flow import HOUSE, READINGS, UNTIMED
from tests.faults.processes import DaemonProcess, daemon_at

LIBRARIES: Final = tuple(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"))

pytestmark = [
    pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO),
    pytest.mark.skipif(not LIBRARIES, reason="libfaketime is missing: sudo apt install faketime"),
    pytest.mark.skipif(
        kernel_synchronised(),
        reason="a time service holds this machine's clock, so none doubts it",
    ),
]

RIGHT: Final = "+0"
STAMPS: Final = "select r.time from readings r join series s on s.id = r.series "
SLACK: Final = timedelta(seconds=60)
BEFORE_ANY: Final = "2001-02-03 04:05:06"


@contextmanager
def clocked(folder: Path, offset: str = RIGHT) -> Iterator[DaemonProcess]:
    """Have a daemon whose wall clock follows `set_clock`."""
    with daemon_at(folder) as daemon:
        daemon.surroundings = {
            "LD_PRELOAD": str(LIBRARIES[0]),
            "FAKETIME_TIMESTAMP_FILE": str(folder / "clock"),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
        }
        daemon.settle(HOUSE)
        set_clock(daemon, offset)
        daemon.start()
        yield daemon


def set_clock(daemon: DaemonProcess, offset: str) -> None:
    """Step its wall clock: seconds against the right time, or @ a time it goes on from."""
    (daemon.folder / "clock").write_text(offset, encoding="ascii")


def send(client: Client, numbers: range) -> None:
    """Send a timed and an untimed message for each number, timed by the right clock."""
    pause = threading.Event()
    for number in numbers:
        now = WallClock().now()
        client.publish("t/timed", json.dumps({"time": now.isoformat(), "humidity": 85.0}))
        client.publish("t/untimed", str(number))
        pause.wait(0.05)


def stored(daemon: DaemonProcess, accepted: int) -> None:
    """Wait until every message is in the file, in one form or the other."""
    wait_until(
        lambda: (
            len(daemon.rows(READINGS.format("timed"))) == accepted
            and len(daemon.rows(UNTIMED)) == accepted
        ),
        f"all is stored: {daemon.log()[-2000:]}",
    )


def stamps(daemon: DaemonProcess) -> list[datetime]:
    return [from_micros(time) for (time,) in daemon.rows(STAMPS + "where s.sensor = 'untimed'")]


def test_a_clock_that_is_set_back_by_hours(tmp_path: Path) -> None:
    began = WallClock().now()
    with clocked(tmp_path) as daemon, visiting(daemon.broker) as client:
        send(client, range(1, 21))
        stored(daemon, 20)
        set_clock(daemon, "-7200")
        send(client, range(21, 41))
        stored(daemon, 40)
        # What came without a time waits for a clock that can be believed.
        assert daemon.number("select count(*) from undated where boot is not null") == 20
        assert daemon.says("The clock is not set yet; readings wait to be dated.")
        set_clock(daemon, RIGHT)
        # The kernel still calls it unsynchronised: only a start of the machine, or a time
        # service, ends the doubt. Nothing is guessed meanwhile.
        send(client, range(41, 61))
        stored(daemon, 60)
        assert all(began - SLACK <= each <= WallClock().now() + SLACK for each in stamps(daemon))


def test_a_clock_that_runs_ahead_for_a_while(tmp_path: Path) -> None:
    with clocked(tmp_path) as daemon, visiting(daemon.broker) as client:
        send(client, range(1, 21))
        stored(daemon, 20)
        set_clock(daemon, "+10800")
        send(client, range(21, 41))
        stored(daemon, 40)
        assert daemon.number("select count(*) from moves") == 0
        set_clock(daemon, RIGHT)
        send(client, range(41, 61))
        stored(daemon, 60)
        # Not one reminder came of a step: no delay was fulfilled by it, and nothing fell silent.
        assert daemon.number("select count(*) from moves") == 0
        assert daemon.number("select count(*) from rejects") == 0


@pytest.mark.parametrize("known", [False, True], ids=["first start", "later start"])
def test_a_board_that_wakes_in_the_wrong_year(tmp_path: Path, known: bool) -> None:
    began = WallClock().now()
    with clocked(tmp_path) as daemon, visiting(daemon.broker) as client:
        if known:
            send(client, range(1, 11))
            stored(daemon, 10)
        daemon.kill()
        set_clock(daemon, f"@{BEFORE_ANY}")
        daemon.start()
        # While a backlog comes in nothing is dated either; this is about what comes after it.
        threading.Event().wait(16 * QUIET_S)
        send(client, range(11, 31))
        stored(daemon, 30 if known else 20)
        assert daemon.number("select count(*) from undated where boot is not null") == 20
        years = {time.year for time in stamps(daemon)}
        assert years <= {began.year, WallClock().now().year}
        assert bool(years) == known
