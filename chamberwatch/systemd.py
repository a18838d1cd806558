"""What systemd is told, by the sd_notify protocol."""

import logging
import os
import socket
from collections.abc import Mapping
from typing import Final

log = logging.getLogger(__name__)

WATCH_EVERY_S: Final = 10.0


def watch_every_s(environment: Mapping[str, str], pid: int) -> float:
    """Return how often to feed the watchdog: twice as often as systemd asks, where it asks us.

    Source: sd_watchdog_enabled(3).
    """
    asked, whom = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", str(pid))
    if not asked.isdecimal() or int(asked) == 0 or whom != str(pid):
        return WATCH_EVERY_S
    return min(WATCH_EVERY_S, int(asked) / 1e6 / 2)


def tell_systemd(state: str) -> None:
    """Say how we are to systemd, where it asked (sd_notify protocol)."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    target = "\0" + address[1:] if address.startswith("@") else address
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        try:
            channel.sendto(state.encode(), target)
        except OSError as error:
            log.warning("systemd can't be told %s: %s", state, error)
