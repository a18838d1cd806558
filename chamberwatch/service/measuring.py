"""Sensors on wires: each is set up, read in its turn, and set up anew when something went wrong.

The sensors of one bus take turns in one thread, for a bus carries one conversation at a time.
Another bus has another thread, so that one that hangs in the system's hands blocks no other.
"""

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from chamberwatch.core import wired_words as words
from chamberwatch.core.watch.wired import (
    MAKES,
    NOTHING_NEW_S,
    SAME_AT_MOST,
    TOLD_AFTER,
    Course,
    Ill,
    Measured,
    Taken,
    WireError,
    after_failing,
    after_well,
    impossible,
    next_after_s,
)
from chamberwatch.core.wired_words import Whose
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

AGAIN_S: Final = 1.0
"""A sensor that has nothing new yet is asked again after this."""
BLOCKED_S: Final = 30.0
"""A bus that does not come back for so long is told of; the slowest honest answer takes two."""
DEAD_S: Final = 180.0
"""After this the process is of no use any more: whoever watches over it may start it anew."""


OF_ONE_READING: Final = frozenset({Ill.WRONG_SUM, Ill.IMPOSSIBLE})
"""These don't undo how a sensor was set up, unless they go on; all else may have."""


class Wire(Protocol):
    """One sensor at the end of its wires."""

    def begin(self) -> str:
        """Set it up, from whatever state it is in, and return its serial number.

        Raises:
            WireError: it can't be.
        """
        ...

    def read(self) -> Measured | None:
        """Return its newest values; None where it has none that were not read yet.

        Raises:
            WireError: it can't be read.
        """
        ...


@dataclass(frozen=True, slots=True)
class Plugged:
    """A sensor as the settings have it.

    Attributes:
        whose: its name, kind and place.
        topic: on which it speaks.
        every_s: how often it is read. [s]
    """

    whose: Whose
    topic: str
    every_s: float


class Measuring:
    """One sensor and how it goes with it."""

    def __init__(
        self, plugged: Plugged, wire: Wire, take: Callable[[Taken], None], clock: Clock
    ) -> None:
        """Begin with a sensor of which nothing is known.

        Args:
            plugged: what the settings say of it.
            wire: leads to it.
            take: is given each measurement.
            clock: the time.
        """
        self.plugged = plugged
        self.due_s = clock.monotonic()
        self._make = MAKES[plugged.whose.kind]
        self._wire = wire
        self._take = take
        self._clock = clock
        self._course = Course()
        self._serial = ""
        self._begun_s: float | None = None
        self._newest_s = 0.0
        self._last: Measured | None = None
        self._same = 0

    def turn(self) -> None:
        """Read it once; whatever the sensor does is told and never raised."""
        asked_s = self._clock.monotonic()
        try:
            new = self._read()
        except WireError as error:
            self._failed(error)
        else:
            if new:
                self._well()
            wait_s = self.plugged.every_s if new else min(AGAIN_S, self.plugged.every_s)
            self.due_s = max(asked_s + wait_s, self._clock.monotonic())

    def _read(self) -> bool:
        """Read it, and tell whether it had something new.

        Raises:
            WireError: it can't be set up or read, or says what can't be.
        """
        begun_s = self._begin() if self._begun_s is None else self._begun_s
        measured, now_s = self._wire.read(), self._clock.monotonic()
        if measured is None:
            if now_s - self._newest_s > max(NOTHING_NEW_S, 3.0 * self._make.new_every_s):
                raise WireError(Ill.NOTHING_NEW)
            return False
        self._newest_s = now_s
        self._same = self._same + 1 if measured == self._last else 0
        self._last = measured
        if self._same >= SAME_AT_MOST:
            raise WireError(Ill.STUCK)
        wrong, settled = impossible(self._make, measured), now_s - begun_s >= self._make.settles_s
        if wrong is not None and settled:
            raise WireError(Ill.IMPOSSIBLE, words.value_in_words(*wrong))
        if settled:
            self._take(Taken(self.plugged.topic, measured, now_s))
        # Right after the start a CO2 sensor may say 0 ppm: no fault, and nothing to go by.
        return wrong is None

    def _begin(self) -> float:
        serial = self._wire.begin()
        if serial != self._serial:
            self._serial = serial
            log.info("%s", words.begun(self.plugged.whose, self.plugged.topic, serial))
        self._begun_s = self._newest_s = self._clock.monotonic()
        return self._begun_s

    def _failed(self, error: WireError) -> None:
        now_s = self._clock.monotonic()
        self._course, news = after_failing(self._course, error.ill, now_s)
        if error.ill not in OF_ONE_READING or self._course.failed >= TOLD_AFTER:
            self._begun_s = None
        if news is not None:
            detail = error.detail or error.ill.value
            log.warning("%s", words.begins(self.plugged.whose, news, detail))
        self.due_s = now_s + next_after_s(self._course, self.plugged.every_s)

    def _well(self) -> None:
        self._course, lasted_s = after_well(self._course, self._clock.monotonic())
        if lasted_s is not None:
            log.info("%s", words.over(self.plugged.whose, lasted_s))


class Bus:
    """The sensors of one bus, in their turns."""

    def __init__(self, device: str, sensors: Sequence[Measuring], clock: Clock) -> None:
        """Take the sensors.

        Args:
            device: the file of the bus.
            sensors: at least one.
            clock: the time.
        """
        self._device = device
        self._sensors = sensors
        self._clock = clock
        self._asked_s: float | None = None
        self._told = False

    def run(self, stopping: threading.Event) -> None:
        """Read each sensor when it is due, until stopped."""
        while not stopping.is_set():
            sensor = min(self._sensors, key=lambda each: each.due_s)
            if self._clock.wait(stopping, sensor.due_s - self._clock.monotonic()):
                return
            self._asked_s = self._clock.monotonic()
            try:
                sensor.turn()
            except Exception:
                log.exception("%s could not be read", sensor.plugged.whose)
                sensor.due_s = self._clock.monotonic() + sensor.plugged.every_s
            finally:
                self._asked_s = None

    def blocked_s(self) -> float:
        """Return for how long the bus has not come back from its last question. [s]."""
        asked_s = self._asked_s
        return 0.0 if asked_s is None else self._clock.monotonic() - asked_s

    def look(self) -> bool:
        """Tell once when the bus blocks and once when it does no more; return whether it lives."""
        for_s = self.blocked_s()
        if for_s > BLOCKED_S and not self._told:
            self._told = True
            log.warning("%s", words.blocked(self._device, for_s))
        elif self._told and for_s <= BLOCKED_S:
            self._told = False
            log.info("%s", words.unblocked(self._device))
        return for_s <= DEAD_S
