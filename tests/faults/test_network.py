"""The network between the daemon and its broker is cut and mended, in namespaces of our own."""

import os
import subprocess
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Final

import pytest

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, visiting
from tests.faults.flow import HOUSE, Sender, assert_all_kept, sent_more, taken_in, three_hours_ago
from tests.faults.processes import daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

CABLE: Final = "cable"
PORT: Final = 1883
BROKERS, OURS = "192.0.2.1", "192.0.2.2"
"""Addresses set aside for documentation (RFC 5737), so that they are nobody's."""
BACK_S: Final = 90.0
CUT_S: Final = 8.0


def ip(*words: str, check: bool = True) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(["ip", *words], check=check, capture_output=True, text=True)


@contextmanager
def two_rooms() -> Iterator[tuple[str, str]]:
    """Have two network namespaces with a cable between them; yield their names."""
    near, far = f"cw{os.getpid()}near", f"cw{os.getpid()}far"
    with ExitStack() as stack:
        for room in (near, far):
            try:
                made = ip("netns", "add", room, check=False)
            except FileNotFoundError:
                pytest.skip("the command ip is missing: sudo apt install iproute2")
            if made.returncode:
                pytest.skip(f"only root may make a network namespace: {made.stderr.strip()}")
            stack.callback(ip, "netns", "del", room)
            ip("-n", room, "link", "set", "lo", "up")
        cable = ("link", "add", CABLE, "type", "veth", "peer", CABLE, "netns", far)
        laid = ip("-n", near, *cable, check=False)
        if laid.returncode:
            pytest.skip(f"this kernel lays no cable between namespaces: {laid.stderr.strip()}")
        for room, address in ((near, BROKERS), (far, OURS)):
            ip("-n", room, "addr", "add", f"{address}/24", "dev", CABLE)
            ip("-n", room, "link", "set", CABLE, "up")
        yield near, far


def test_a_cut_cable_costs_nothing(tmp_path: Path) -> None:
    with (
        two_rooms() as rooms,
        daemon_at(tmp_path, log=f"listener {PORT} {BROKERS}\n", rooms=rooms) as daemon,
    ):
        daemon.reaches = BROKERS, PORT
        daemon.settle(HOUSE)
        daemon.start()
        with visiting(daemon.broker) as client:
            sender = Sender(client, three_hours_ago())
            with sender.sending():
                sent_more(sender)
                ip("-n", rooms[1], "link", "set", CABLE, "down")
                threading.Event().wait(CUT_S)
                ip("-n", rooms[1], "link", "set", CABLE, "up")
                sent_more(sender)
            accepted = sender.accepted()
        taken_in(daemon, accepted, BACK_S)
        assert_all_kept(daemon, sender, accepted)
        assert daemon.end() == 0, daemon.log()
