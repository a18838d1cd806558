"""What is heard on the broker beside what the sensors say: plain values, and who listens."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Heard:
    """The newest message of one topic.

    Attributes:
        topic: its topic.
        payload: its bytes, at most so many as are kept.
        size: how many it had. [byte]
        count: messages since it is listened to, without what the broker had kept.
        first: when the first of all came, aware UTC.
        last: when this one came, aware UTC.
        old: the broker had kept it: nobody knows how old it is.
        every_s: mean time from message to message; None before the second. [s]
    """

    topic: str
    payload: bytes
    size: int
    count: int
    first: datetime
    last: datetime
    old: bool
    every_s: float | None

    @property
    def whole(self) -> bool:
        """Tell whether all of it was kept."""
        return len(self.payload) == self.size


@dataclass(frozen=True, slots=True)
class HeardNow:
    """All that was heard up to now.

    Attributes:
        now: aware UTC, on the clock that dates the messages.
        since: from when on it was listened; None while no connection stands.
        trouble: what keeps us from listening, with the cure; None where nothing does.
        heard: by topic.
        left_out: messages on further topics, for which there was no room.
    """

    now: datetime
    since: datetime | None
    trouble: str | None
    heard: Sequence[Heard]
    left_out: int = 0


class Listener(Protocol):
    """Listens to everything on the broker, as long as somebody asks."""

    def hear(self) -> HeardNow:
        """Return what was heard, and go on listening for another while."""
        ...
