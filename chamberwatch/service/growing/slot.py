"""What was reckoned once, as long as it is asked of the very same thing."""

from collections.abc import Callable
from typing import Generic, TypeVar

_Made = TypeVar("_Made")


class Slot(Generic[_Made]):
    """Keeps one answer. Safe from any thread: at worst two of them reckon the same."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._kept: tuple[object, _Made] | None = None

    def of(self, source: object, make: Callable[[], _Made]) -> _Made:
        """Return what is made of a source; made anew when it is another object than before.

        Args:
            source: never changed in place. It is held, so that no other can take its identity.
            make: reckons the answer.
        """
        kept = self._kept
        if kept is None or kept[0] is not source:
            # Read and put back as one, so that nobody sees half a change.
            kept = self._kept = source, make()
        return kept[1]
