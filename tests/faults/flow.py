"""A steady flow of messages into a daemon, and what must have become of each of them."""

import json
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.clock import WallClock
from chamberwatch.storage.columns import to_micros
from tests.brokers import DEADLINE_S, Client, wait_until
from tests.faults.processes import DaemonProcess

PAIRS: Final = 3
"""One timed and one untimed message each, sent every `PAUSE_S`: about 300 messages a second."""
PAUSE_S: Final = 0.02
PAIRS_AT_MOST: Final = 9000
"""Two and a half hours of reading time, so that on a slow machine none becomes live either."""

MORE: Final = 150
"""How many more pairs make “a while”."""

# Humidity is below 80 % for 3 min before it is a dry spell, and back for 2 min before that ends.
DRY_S: Final = 190
FINE_S: Final = 130

TIMED: Final = """
[[sensor]]
name = "timed"
chamber = "tent"
topic = "t/timed"
unheard_after = "1 h"
[sensor.reads.humidity]
at = "/humidity"
[sensor.time]
at = "/time"
"""
"""A sensor whose messages carry their time."""
TENT_TIMED: Final = f"""
[[chamber]]
name = "tent"
title = "Tent"
stage = "fruiting"
{TIMED}"""
HOUSE: Final = f"""{TENT_TIMED}[[sensor]]
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


def humidity_at(second: int) -> float:
    """Return the humidity of a second: dry and fine spells in turn. [%]."""
    return 75.0 if second % (DRY_S + FINE_S) < DRY_S else 90.0


@dataclass
class Sender:
    """Sends pairs until told to stop, and keeps what the broker confirms.

    Attributes:
        client: connected.
        begin: time of the first timed reading; the others follow a second apart.
        pause_s: between `PAIRS` of them. [s]
        pairs: numbers of the messages that were sent, timed and untimed.
    """

    client: Client
    begin: datetime
    pause_s: float = PAUSE_S
    pairs: list[tuple[int, int]] = field(default_factory=list)
    _confirmed: set[int] = field(default_factory=set)
    _stopping: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        # Asked for, a message that was handed over without a link would be called failed, though
        # it goes out with the next link.
        self.client.client.on_publish = lambda _client, _data, mid, *_: self._confirmed.add(mid)

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
        while not self._stopping.wait(self.pause_s) and len(self.pairs) < PAIRS_AT_MOST:
            for _ in range(PAIRS):
                second = len(self.pairs)
                time = self.begin + timedelta(seconds=second)
                body = {"time": time.isoformat(), "humidity": humidity_at(second)}
                timed = publish("t/timed", json.dumps(body), qos=1).mid
                self.pairs.append((timed, publish("t/untimed", str(second + 1), qos=1).mid))

    def confirmed(self, pairs: int) -> bool:
        """Tell whether the broker has confirmed the first so many."""
        return {mid for pair in self.pairs[:pairs] for mid in pair} <= self._confirmed

    def accepted(self) -> int:
        """Return how many pairs the broker has confirmed: all that were sent."""
        sent = {mid for pair in self.pairs for mid in pair}
        assert len(sent) == 2 * len(self.pairs)
        wait_until(lambda: sent <= self._confirmed, "the broker confirms all")
        return len(self.pairs)

    def timed(self) -> list[tuple[datetime, float]]:
        """Return the timed readings in order."""
        return [
            (self.begin + timedelta(seconds=s), humidity_at(s)) for s in range(len(self.pairs))
        ]


def three_hours_ago() -> datetime:
    """Return when a flow begins whose readings are old: stored, and never spoken of."""
    return WallClock().now().astimezone(UTC).replace(microsecond=0) - timedelta(hours=3)


def sent_more(sender: Sender) -> None:
    """Wait until the flow has gone on for a while."""
    least = len(sender.pairs) + MORE
    wait_until(lambda: len(sender.pairs) >= least, "more is sent")


def taken_in(daemon: DaemonProcess, accepted: int, deadline_s: float = DEADLINE_S) -> None:
    """Wait until as many of each kind are stored."""
    wait_until(
        lambda: (
            len(daemon.rows(READINGS.format("timed"))) >= accepted
            and len(daemon.rows(UNTIMED)) >= accepted
        ),
        f"all is taken in: {daemon.log()[-2000:]}",
        deadline_s,
    )


def assert_all_kept(daemon: DaemonProcess, sender: Sender, accepted: int) -> None:
    """Check that timed readings are there exactly once, and untimed ones at least once."""
    kept = Counter(daemon.rows(READINGS.format("timed")))
    assert kept == Counter((to_micros(time), value) for time, value in sender.timed())
    assert {value for (value,) in daemon.rows(UNTIMED)} == set(range(1, accepted + 1))
    assert daemon.number("select count(*) from rejects") == 0
