"""Measurements on their way to the broker: kept until it has confirmed them, within bounds.

A measurement knows its time on the monotonic clock alone. Its wall time is reckoned when it is
handed over, for a machine without a battery clock does not know it earlier. While the clock was
never right, what is fresh goes without a time, since whoever takes it in dates it by its
arrival; what is older waits, because so it would be dated wrongly.
"""

import json
import logging
import threading
from collections import deque
from collections.abc import Collection
from datetime import timedelta
from typing import Final, Protocol

from chamberwatch.core import wired_words as words
from chamberwatch.core.watch.wired import Taken, spoken
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

WAITING_AT_MOST: Final = 10_000
"""Measurements that wait for the broker: more than a day of one sensor read every 10 s."""
UNDER_WAY_AT_MOST: Final = 100
"""Measurements the broker has been given and has not confirmed."""
FRESH_S: Final = 30.0
"""Not older than this a measurement may be dated by its arrival."""


class Speaker(Protocol):
    """The link to the broker."""

    def publish(self, topic: str, body: str) -> int | None:
        """Give a message to the broker; return its number, None where none can be given now."""
        ...

    def confirmed(self) -> Collection[int]:
        """Return the numbers of what the broker has confirmed since the last time."""
        ...

    def doubtful(self) -> Collection[int]:
        """Return the numbers of what it confirmed and threw away, as it seems, since then."""
        ...


class HandingOver:
    """What waits for the broker. `take` may be called from any thread, all else from one."""

    def __init__(
        self, speaker: Speaker, clock: Clock, waiting_at_most: int = WAITING_AT_MOST
    ) -> None:
        """Begin with nothing.

        Args:
            speaker: the link.
            clock: the time.
            waiting_at_most: measurements that are kept; beyond that the oldest go.
        """
        self._speaker = speaker
        self._clock = clock
        self._at_most = waiting_at_most
        self._lock = threading.Lock()
        self._waiting: deque[Taken] = deque()
        self._under_way: dict[int, Taken] = {}
        self._lost = 0
        self._told_lost = False
        self._right = False
        self._told_clock = False

    def take(self, taken: Taken) -> None:
        """Keep a measurement until the broker has it; the oldest goes if there are too many."""
        with self._lock:
            if len(self._waiting) >= self._at_most:
                self._waiting.popleft()
                self._lost += 1
            self._waiting.append(taken)

    def left(self) -> int:
        """Return how many measurements the broker has not confirmed."""
        with self._lock:
            return len(self._waiting) + len(self._under_way)

    def turn(self) -> None:
        """Hand over what can be, and note what was confirmed."""
        for number in self._speaker.confirmed():
            self._under_way.pop(number, None)
        self._take_back(self._speaker.doubtful())
        # A clock that was right once runs on well enough, also where the network goes.
        self._right = self._right or self._clock.synchronised()
        while len(self._under_way) < UNDER_WAY_AT_MOST:
            taken = self._next()
            if taken is None:
                break
            given = self._speaker.publish(taken.topic, self._body(taken))
            if given is None:
                break
            self._under_way[given] = taken
            self._sent(taken)
        self._tell()

    def _take_back(self, numbers: Collection[int]) -> None:
        back = [self._under_way.pop(number) for number in numbers if number in self._under_way]
        if back:
            with self._lock:
                again = sorted((*back, *self._waiting), key=lambda taken: taken.at_s)
                self._waiting = deque(again)

    def _next(self) -> Taken | None:
        """Return the oldest measurement that can be handed over now."""
        now_s = self._clock.monotonic()
        with self._lock:
            if self._right:
                return self._waiting[0] if self._waiting else None
            # Those that are fresh stand at the end.
            fresh = None
            for taken in reversed(self._waiting):
                if now_s - taken.at_s > FRESH_S:
                    break
                fresh = taken
            return fresh

    def _sent(self, taken: Taken) -> None:
        with self._lock:
            try:
                self._waiting.remove(taken)
            except ValueError:  # it went for want of room meanwhile, and was not lost after all
                self._lost -= 1

    def _body(self, taken: Taken) -> str:
        time = None
        if self._right:
            ago_s = self._clock.monotonic() - taken.at_s
            time = self._clock.now() - timedelta(seconds=ago_s)
        return json.dumps(spoken(taken, time))

    def _tell(self) -> None:
        """Say once that readings go or wait for the clock, and once how many went."""
        with self._lock:
            full, waiting = len(self._waiting) >= self._at_most, bool(self._waiting)
            lost, over = self._lost, self._told_lost and not full
            if over:
                self._lost = 0
        if over:
            self._told_lost = False
            log.warning("%s", words.dropped(lost))
        elif lost and not self._told_lost:
            self._told_lost = True
            log.warning("%s", words.dropping(self._at_most))
        if waiting and not self._right and not self._told_clock:
            self._told_clock = True
            log.warning("%s", words.waits_for_clock())
