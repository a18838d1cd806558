"""A sign of life to a service elsewhere, which notices when it stays away.

It is given only while everything that the watch looks at is alive: a daemon that goes on calling
while its rounds hang would be worse than none.
"""

import logging
import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Final

from chamberwatch.service.ports import Clock, Outcome

log = logging.getLogger(__name__)

FIRST_AFTER_S: Final = 10.0
"""By then a part that can't start has shown it."""


class SignOfLife:
    """Calls an address every so often."""

    def __init__(
        self,
        call: Callable[[], Outcome],
        every: timedelta,
        ailing: Callable[[], str],
        clock: Clock,
    ) -> None:
        """Prepare.

        Args:
            call: makes the call; never raises for what a network may do.
            every: how often.
            ailing: what has died or hangs; empty when all is alive.
            clock: the time.
        """
        self._call = call
        self._every_s = every.total_seconds()
        self._ailing = ailing
        self._clock = clock
        self._trouble = ""

    def run(self, stopping: threading.Event) -> None:
        """Call until told to stop."""
        wait_s = FIRST_AFTER_S
        while not self._clock.wait(stopping, wait_s):
            self.give()
            wait_s = self._every_s

    def give(self) -> None:
        """Give a sign, where there is life."""
        if ailing := self._ailing():
            self._note(f"The sign of life is held back: {ailing}")
            return
        outcome = self._call()
        self._note("" if outcome.ok else f"The sign of life does not arrive: {outcome.reason}.")

    def trouble(self) -> str | None:
        """Return why no sign of life arrives, with the cure and without the address."""
        return self._trouble or None

    def _note(self, trouble: str) -> None:
        if trouble != self._trouble:
            if trouble:
                log.warning("%s", trouble)
            else:
                log.warning("The sign of life arrives again.")
        self._trouble = trouble
