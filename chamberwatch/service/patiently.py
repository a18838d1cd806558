"""A look at what may never answer: a folder on a network that is away, a disk that dies."""

import threading
from collections.abc import Callable
from concurrent.futures import Future
from concurrent.futures import TimeoutError as LateError
from functools import partial
from typing import Final

WITHIN_S: Final = 2.0


class Patiently:
    """Looks in a thread of its own, so that whoever asks is answered soon. Safe from any thread.

    However often it is asked, one look at most is under way.
    """

    def __init__(self, look: Callable[[str], str], late: str, within_s: float = WITHIN_S) -> None:
        """Make it.

        Args:
            look: what may take for ever.
            late: what to say then.
            within_s: how long to wait. [s]
        """
        self._look, self._late, self._within_s = look, late, within_s
        self._lock = threading.Lock()
        self._under_way: Future[str] | None = None

    def __call__(self, at: str) -> str:
        """Return what a look at something finds, or that it is late."""
        with self._lock:
            under_way = self._under_way or self._begun(at)
        try:
            return under_way.result(self._within_s)
        except LateError:
            return self._late

    def _begun(self, at: str) -> "Future[str]":
        begun: Future[str] = Future()
        threading.Thread(target=self._find, args=(begun, at), name="look", daemon=True).start()
        self._under_way = begun
        return begun

    def _find(self, found: "Future[str]", at: str) -> None:
        try:
            tell = partial(found.set_result, self._look(at))
        except BaseException as error:  # noqa: BLE001 - it is raised again where it was asked for
            tell = partial(found.set_exception, error)
        # Before it is told: who asks after that is told anew.
        with self._lock:
            self._under_way = None
        tell()
