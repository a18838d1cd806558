"""Waiting for a service, but not for ever.

A time-out counts the silence between two bytes, so a service that answers a byte at a time is
never late. Such a try is left to itself after a while: a thread can't be ended from outside. While
it hangs nothing more is sent there, so that one service never takes more than one thread; and if
it does end well after all, the same message is not sent once more.
"""

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Final

from chamberwatch.service.ports import Outcome

TOO_LONG: Final = Outcome(
    ok=False, reason="the service did not finish its answer; the message may have arrived"
)
STILL_HANGS: Final = Outcome(
    ok=False, reason="the service has still not finished its answer to the message before"
)


@dataclass(slots=True)
class _Try:
    """One message on its way."""

    message: Hashable
    outcome: Outcome = TOO_LONG
    done: threading.Event = field(default_factory=threading.Event)


class Patience:
    """Waits for one service. Safe to use from several threads."""

    def __init__(self, limit_s: float) -> None:
        """Wait no longer than this. [s]."""
        self._limit_s = limit_s
        self._left: _Try | None = None
        self._lock = threading.Lock()

    def call(self, message: Hashable, send: Callable[[], Outcome]) -> Outcome:
        """Send a message, known by `message`; `send` must not raise."""
        with self._lock:
            left = self._left
            if left is not None and not left.done.is_set():
                return STILL_HANGS
            self._left = None
        if left is not None and left.message == message and left.outcome.ok:
            return left.outcome
        return self._begin(message, send)

    def _begin(self, message: Hashable, send: Callable[[], Outcome]) -> Outcome:
        trial = _Try(message)

        def work() -> None:
            try:
                trial.outcome = send()
            finally:
                trial.done.set()

        threading.Thread(target=work, name="a message on its way", daemon=True).start()
        if trial.done.wait(self._limit_s):
            return trial.outcome
        with self._lock:
            self._left = trial
        return TOO_LONG
