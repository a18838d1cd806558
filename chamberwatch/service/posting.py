"""A thread for each address that has something to send, so that none waits for another."""

import threading
from collections.abc import Callable
from typing import Final

SETTLED_WITHIN_S: Final = 2.0
"""So long those under way are waited for before the others are looked at again. [s]"""

ENDED_WITHIN_S: Final = 35.0
"""Longer than a phone service may take as a rule, so that how its message went is kept. [s]"""


class Posts:
    """What is being sent right now. Used by one thread."""

    def __init__(self, ended: Callable[[], None]) -> None:
        """Begin with nothing under way; `ended` is called whenever an address is done."""
        self._ended = ended
        self._threads: dict[str, threading.Thread] = {}
        self._broken: Exception | None = None

    def start(self, address: str, deliver: Callable[[str], None]) -> None:
        """Deliver to an address, unless that is under way already."""
        if address in self.busy():
            return

        def work() -> None:
            try:
                deliver(address)
            except Exception as error:  # noqa: BLE001 - raised again where all are waited for
                self._broken = error
            finally:
                self._ended()

        # A service that never ends its answer must not keep the whole process from ending.
        thread = threading.Thread(target=work, name=f"delivery to {address}", daemon=True)
        self._threads[address] = thread
        thread.start()

    def busy(self) -> frozenset[str]:
        """Return the addresses that are being delivered to."""
        return frozenset(name for name, thread in self._threads.items() if thread.is_alive())

    def settle(self, within_s: float = SETTLED_WITHIN_S) -> None:
        """Wait until all are done, but no longer than this altogether.

        Raises:
            Exception: what ended one of them; as it would without threads.
        """
        share_s = within_s / max(1, len(self.busy()))
        for thread in self._threads.values():
            thread.join(share_s)
        if self._broken is not None:
            broken, self._broken = self._broken, None
            raise broken
