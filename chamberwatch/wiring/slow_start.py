"""A start that brings a large database up to date lasts for minutes: said, and given its time."""

import logging
import math
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from chamberwatch.systemd import tell_systemd

log = logging.getLogger(__name__)

MORE_S: Final = 180
EVERY_S: Final = 60.0
"""So much more time is asked for, and so often, while it lasts: sd_notify(3). [s]"""
LONGEST_S: Final = 6 * 3600.0
"""What takes longer hangs. [s]"""


@contextmanager
def slow_start(
    every_s: float = EVERY_S, longest_s: float = LONGEST_S
) -> Iterator[Callable[[str], None]]:
    """Yield what is told the name of each step of the schema before it is taken.

    From the first on until the block is left systemd is asked for more time, again and again, but
    not for ever: a start that hangs is still found.

    Args:
        every_s: how often. [s]
        longest_s: how long at most. [s]
    """
    over, asking = threading.Event(), list[threading.Thread]()

    def ask() -> None:
        for _ in range(math.ceil(longest_s / every_s)):
            tell_systemd(f"EXTEND_TIMEOUT_USEC={MORE_S * 1_000_000}")
            if over.wait(every_s):
                return

    def told(name: str) -> None:
        log.info("The database is brought up to date (%s); a large one takes minutes.", name)
        if not asking:
            thread = threading.Thread(target=ask, name="slow start")
            thread.start()
            asking.append(thread)

    try:
        yield told
    finally:
        over.set()
        for thread in asking:
            thread.join()
