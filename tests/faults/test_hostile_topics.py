"""Topics that mean harm: what comes on them is taken in like all else, and harms nothing."""

import json
from pathlib import Path
from typing import Final

import pytest

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, visiting, wait_until
from tests.faults.flow import HOUSE, three_hours_ago
from tests.faults.processes import daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

LONGEST: Final = 65_535
"""Bytes of a topic at most. Source: MQTT 3.1.1, section 1.5.3."""
BELOW: Final = "t/"
TOPICS: Final = (
    "timed",
    "/" * 150,
    "'; drop table readings; --",
    "<script>alert(1)</script>",
    "$SYS/broker/uptime",
    "\N{RIGHT-TO-LEFT OVERRIDE}gnp.\N{RIGHT-TO-LEFT ISOLATE}",
    "\N{ZERO WIDTH NO-BREAK SPACE}",
    "{{ 7*7 }}%s%n${HOME}",
    "../../../etc/passwd",
    "\N{FOUR LEAF CLOVER}" * 1000,
)
WITH_MANY_LEVELS: Final = HOUSE.replace('"t/timed"', '"t/#"').replace('"t/untimed"', '"u"')


def test_what_comes_on_hostile_topics_is_taken_in(tmp_path: Path) -> None:
    with daemon_at(tmp_path) as daemon:
        daemon.settle(WITH_MANY_LEVELS)
        daemon.start()
        begin = int(three_hours_ago().timestamp())
        with visiting(daemon.broker) as client:
            for number, topic in enumerate((*TOPICS, "x" * (LONGEST - len(BELOW)))):
                client.publish(BELOW + topic, b"<b>'; drop table readings; --")
                fine = json.dumps({"time": begin + number, "humidity": 85.0})
                client.publish(BELOW + topic, fine)
        sent = len(TOPICS) + 1
        wait_until(
            lambda: daemon.number("select count(*) from readings") == sent,
            "the good ones are kept",
        )
        wait_until(
            lambda: daemon.number("select count(*) from rejects") == sent, "the bad ones are kept"
        )
        kept = {topic for (topic,) in daemon.rows("select topic from rejects")}
        assert {BELOW + topic for topic in TOPICS if len(topic) < 200} <= kept
        assert daemon.troubles() == []
        assert daemon.end() == 0, daemon.log()
        assert "Traceback" not in daemon.log()
