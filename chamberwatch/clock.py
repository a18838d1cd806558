"""The only place that reads the clocks of the machine."""

import ctypes
import threading
import time
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

_BOOT_FILE: Final = Path("/proc/sys/kernel/random/boot_id")
_STA_UNSYNC: Final = 0x0040
_TIME_ERROR: Final = 5
_TIMEX_BYTES: Final = 512
"""More than `struct timex` needs on any machine; `status` is read where Linux puts it."""


def boot_id() -> str:
    """Return the identity of this boot; a made-up one where the kernel gives none."""
    try:
        return _BOOT_FILE.read_text(encoding="ascii").strip()
    except OSError:
        return str(uuid.uuid4())


def kernel_synchronised() -> bool:
    """Ask the kernel whether a time service holds the wall clock right.

    True where it can't be asked: then nothing better is known, and readings must not wait for
    ever.
    """
    try:
        adjtimex = ctypes.CDLL(None, use_errno=True).adjtimex
    except (OSError, AttributeError):
        return True
    # modes = 0 asks only. Layout of struct timex: int modes, then longs offset, freq, maxerror,
    # esterror, then int status.
    buffer = ctypes.create_string_buffer(_TIMEX_BYTES)
    state = adjtimex(buffer)
    if state < 0:
        return True
    long = ctypes.sizeof(ctypes.c_long)
    status = ctypes.c_int.from_buffer(buffer, long * 5).value
    return state != _TIME_ERROR and not status & _STA_UNSYNC


class WallClock:
    """The clocks of this machine."""

    pace = 1.0

    def __init__(self) -> None:
        """Note which boot this is."""
        self.boot = boot_id()

    def now(self) -> datetime:
        """Return the wall clock, aware UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Return seconds that never step."""
        return time.monotonic()

    def synchronised(self) -> bool:
        """Tell whether the kernel holds the wall clock to be set by a time service."""
        return kernel_synchronised()

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait for the event, at most that long; return whether it is set."""
        return event.wait(max(seconds, 0.0))


class PacedClock:
    """A clock that stands until `go`, and then runs faster than life.

    Wall and monotonic time run at the same pace, and waits are as much shorter.
    """

    def __init__(self, start: datetime, pace: float) -> None:
        """Stand at `start`; `pace` is how many times faster than life it will run."""
        self.pace = pace
        self.boot = boot_id()
        self._start = start
        self._went_s: float | None = None

    @staticmethod
    def wall() -> datetime:
        """Return the real wall clock, to start from."""
        return datetime.now(UTC)

    def go(self) -> None:
        """Begin to run."""
        if self._went_s is None:
            self._went_s = time.monotonic()

    def monotonic(self) -> float:
        """Return paced seconds that never step; while it stands, they stand."""
        return 0.0 if self._went_s is None else (time.monotonic() - self._went_s) * self.pace

    def now(self) -> datetime:
        """Return the paced wall clock, aware UTC."""
        return self._start + timedelta(seconds=self.monotonic())

    def synchronised(self) -> bool:
        """Tell that it is right: it is the only clock of its world."""
        return True

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait for the event, at most that long on this clock; return whether it is set."""
        return event.wait(max(seconds, 0.0) / self.pace)
