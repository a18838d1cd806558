"""Ten thousand messages that nobody can read, among good ones."""

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, visiting, wait_until
from tests.faults.flow import HOUSE, three_hours_ago
from tests.faults.processes import daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

BAD: Final = 10_000
GOOD_EVERY: Final = 10
SEED: Final = 7
DEADLINE_S: Final = 120.0
LARGE: Final = 1_000_000

SHAPES: Final = (
    b"",
    b"null",
    b"[]",
    b"{",
    b'{"time": "yesterday", "humidity": 85}',
    b'{"time": "2026-01-10T10:00:00Z", "humidity": "wet"}',
    b'{"time": "2026-01-10T10:00:00Z", "humidity": 1e400}',
    b'{"time": "2026-01-10T10:00:00Z", "humidity": NaN}',
    b'{"time": "2026-01-10T10:00:00Z", "humidity": true}',
    b'{"time": "2026-01-10T10:00:00Z", "humidity": 4000}',
    b'{"time": 99999999999999999999, "humidity": 85}',
    b'{"humidity": {"humidity": {"humidity": 85}}}',
    b"[" * 5_000,
    b'{"a":' * 5_000,
    "humidité: 85 %".encode("latin-1"),
    '{"humidity": 85}'.encode("utf-16"),
    b"\x00\x01\x02\xff\xfe",
    b"'; drop table readings; --",
    b"<script>alert(1)</script>",
)


def bad_messages() -> Iterator[bytes]:
    """Yield known shapes, and noise in between; the same at every run."""
    noise = random.Random(SEED)  # noqa: S311 - no secret
    for number in range(BAD):
        shape = SHAPES[number % (len(SHAPES) + 1) - 1]
        yield noise.randbytes(noise.randrange(1, 200)) if number % 3 == 0 else shape


def test_every_good_one_is_stored_and_every_bad_one_is_counted(tmp_path: Path) -> None:
    with daemon_at(tmp_path) as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        begin, good = int(three_hours_ago().timestamp()), 0
        with visiting(daemon.broker) as client:
            sent = []
            for number, body in enumerate(bad_messages()):
                sent.append(client.client.publish("t/timed", body, qos=1))
                if number % GOOD_EVERY == 0:
                    fine = json.dumps({"time": begin + good, "humidity": 85.0})
                    sent.append(client.client.publish("t/timed", fine, qos=1))
                    good += 1
            sent.append(client.client.publish("t/timed", b"8" * LARGE, qos=1))
            for each in sent:
                each.wait_for_publish(DEADLINE_S)
        counted = "select value from counters where name = 'rejects'"
        wait_until(
            lambda: (
                daemon.number("select count(*) from readings") >= good
                and bool(daemon.rows(counted))
                and daemon.number(counted) >= BAD + 1
            ),
            "all is taken in",
            DEADLINE_S,
        )
        assert daemon.number("select count(*) from readings") == good == BAD // GOOD_EVERY
        assert daemon.number(counted) == BAD + 1
        # Of the bad ones the newest are kept to be looked at, and no more.
        assert daemon.number("select count(*) from rejects") == 200
        assert daemon.troubles() == []
        assert daemon.end() == 0, daemon.log()
        assert "Traceback" not in daemon.log()
