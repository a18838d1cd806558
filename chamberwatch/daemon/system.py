"""Signals of the system."""

import signal
from collections.abc import Callable
from types import FrameType


def heed_signals() -> None:
    """Make SIGTERM and SIGINT end the process in order.

    The web server answers a signal by ending its loop and raising the signal once more; without
    handlers of ours that second one would kill the process before it has cleaned up.
    """

    def leave(_signal: int, _frame: FrameType | None) -> None:
        # A second one must not cut the cleaning up short.
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, signal.SIG_IGN)
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, leave)
    signal.signal(signal.SIGINT, leave)


def heed_hangup(renew: Callable[[], None]) -> None:
    """Make SIGHUP read the settings again, as daemons do."""
    signal.signal(signal.SIGHUP, lambda _signal, _frame: renew())
