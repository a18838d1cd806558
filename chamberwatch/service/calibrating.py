"""Calibrations: recorded, listed, and brought to the readings of the past."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.checked import Check, Finding, found, noted, quantity_of
from chamberwatch.core.watch.reading import EPOCH, Quantity, Reading
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books, Span
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.ports import Clock

AHEAD_AT_MOST: Final = timedelta(minutes=2)
OLDEST: Final = timedelta(days=366)
LONGEST_NAME: Final = 80
PAGE: Final = 5000


@dataclass(frozen=True, slots=True)
class Told:
    """A check as somebody tells it.

    Attributes:
        sensor: name of the sensor.
        check: what was done and read.
        who: the person who did it.
        at: readings from this time on are corrected; None: now.
        via: api, page or command line.
    """

    sensor: str
    check: Check
    who: str
    at: datetime | None
    via: str


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was made of a check: kept, and in words."""

    calibration: Calibration
    finding: Finding
    action: Action


@dataclass(frozen=True, slots=True)
class SensorCalibrations:
    """All that was done to one sensor.

    Attributes:
        sensor: as declared.
        calibrations: all, newest `at` first.
        in_force: the one that holds now, by quantity.
        newest: its newest readings, by quantity.
        co2_factor: what its CO2 is multiplied by for the air pressure of the place.
    """

    sensor: Sensor
    calibrations: tuple[Calibration, ...]
    in_force: Mapping[Quantity, Calibration]
    newest: Mapping[Quantity, Reading]
    co2_factor: float


@dataclass(frozen=True, slots=True)
class Again:
    """Which readings to look at again.

    Attributes:
        sensor: of this one only; None: of all.
        since: from this time on; None: all.
        dry_run: only count.
    """

    sensor: str | None = None
    since: datetime | None = None
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class Recalibrated:
    """What came of it.

    Attributes:
        looked: how many readings were looked at.
        changed: how many are worth something else now.
        gone_before: readings of before this day were asked for, and were dropped as old: what was
            summed up of them stays as it was. None: all that was asked for is there.
    """

    looked: int
    changed: int
    gone_before: datetime | None = None


class Calibrating:
    """Takes in checks of sensors and applies what follows."""

    def __init__(
        self, books: Books, clock: Clock, house: House, board: Board, corrector: Corrector
    ) -> None:
        """Share the corrector with the intake, so that a new calibration holds at once."""
        self._books = books
        self._clock = clock
        self._house = house
        self._board = board
        self._corrector = corrector

    # -------------------------------------------------------------- one check

    def record(self, told: Told) -> Recorded:
        """Keep what follows from a check, and note it in the log of the chamber.

        Raises:
            UnknownNameError: no such sensor.
            RefusedError: the check can't be right; the text says what to look at.
        """
        sensor, now = self._house.sensor(told.sensor), self._clock.now()
        quantity, who, when = quantity_of(told.check), _who(told.who), _when(told.at, now)
        if sensor.quantities and quantity not in sensor.quantities:
            known = ", ".join(sensor.quantities)
            raise RefusedError(f"Sensor “{sensor.name}” reports {known}, and not {quantity}.")
        finding = found(told.check, self._corrector.table.factor(sensor.name))
        fresh = Calibration(
            0,
            sensor.name,
            quantity,
            finding.slope,
            finding.offset,
            when,
            who,
            finding.how,
            now,
        )
        note = noted(sensor.name, finding, who)
        with self._books.write() as book:
            kept = book.calibrations.add(fresh)
            action = book.actions.add(
                Action(0, sensor.chamber, Deed.NOTED, when, note, now, told.via)
            )
        # Only now: what a rolled back transaction had added must not be used.
        self.refresh()
        self._board.did(action)
        return Recorded(kept, finding, action)

    def refresh(self) -> bool:
        """Take over what was recorded elsewhere; tell whether there was anything."""
        with self._books.read() as book:
            return self._corrector.catch_up(book)

    # -------------------------------------------------------------- what there is

    def of(self, name: str) -> SensorCalibrations:
        """Return all calibrations of a sensor, and what it sent last.

        Raises:
            UnknownNameError: no such sensor.
        """
        sensor, now = self._house.sensor(name), self._clock.now()
        with self._books.read() as book:
            self._corrector.catch_up(book)
            mine = [c for c in book.calibrations.all() if c.sensor == name]
        table = self._corrector.table
        held = {q: table.in_force(name, q, now) for q in Quantity}
        newest = self._board.newest()
        return SensorCalibrations(
            sensor,
            tuple(reversed(mine)),
            {q: c for q, c in held.items() if c is not None},
            {q: newest[name, q] for q in Quantity if (name, q) in newest},
            table.factor(name),
        )

    # -------------------------------------------------------------- the past

    def must_know(self, sensor: str | None) -> None:
        """Refuse a name that belongs to no sensor, declared or only among the readings.

        Raises:
            UnknownNameError: no such sensor, neither in the settings nor among the readings.
        """
        with self._books.read() as book:
            names = {name for name, _ in book.readings.newest()} | set(self._house.sensors)
        if sensor is not None and sensor not in names:
            raise UnknownNameError(
                f"There is no sensor “{sensor}”. Known: {', '.join(sorted(names))}."
            )

    def recalibrate(self, again: Again, progress: Callable[[float], None]) -> Recalibrated:
        """Work out again what kept readings are worth, from what the sensors sent.

        It goes in small steps that each stand for themselves, beside a running daemon, and may be
        broken off: what is right already is left alone.

        Args:
            again: which readings.
            progress: told after each step how much is done, 0 to 1.

        Raises:
            UnknownNameError: no such sensor, neither in the settings nor among the readings.
        """
        self.must_know(again.sensor)
        with self._books.read() as book:
            self._corrector.catch_up(book)
            newest, gone = book.readings.newest(), book.summing.dropped_before()
        if gone is not None and again.since is not None and again.since >= gone:
            gone = None
        if not newest:
            return Recalibrated(0, 0, gone)
        end = max(reading.time for reading in newest.values()) + timedelta(microseconds=1)
        span = Span(again.since or EPOCH, end)
        looked = changed = 0
        for page in self._pages(again.sensor, span, progress):
            looked += len(page)
            changed += self._correct(page, dry_run=again.dry_run)
        progress(1.0)
        return Recalibrated(looked, changed, gone)

    def _pages(
        self, sensor: str | None, span: Span, progress: Callable[[float], None]
    ) -> Iterator[Sequence[Reading]]:
        """Yield readings in order of time, a page at a time, each read anew."""
        last: Reading | None = None
        begin: datetime | None = None
        while True:
            with self._books.read() as book:
                self._corrector.catch_up(book)
                page = book.readings.page(sensor, span, last, PAGE)
            if not page:
                return
            yield page
            begin, last = begin or page[0].time, page[-1]
            progress((last.time - begin) / (span.end - begin))

    def _correct(self, page: Sequence[Reading], *, dry_run: bool) -> int:
        pairs = [(reading, self._corrector.corrected(reading)) for reading in page]
        # `raw` is no part of what makes two readings equal.
        wrong = [new for old, new in pairs if (old.value, old.raw) != (new.value, new.raw)]
        if dry_run or not wrong:
            return len(wrong)
        with self._books.write() as book:
            return book.readings.correct(wrong)


def _who(who: str) -> str:
    name = " ".join(who.split())
    if not 1 <= len(name) <= LONGEST_NAME:
        raise RefusedError(f"Say who did it, in 1 to {LONGEST_NAME} characters.")
    return name


def _when(at: datetime | None, now: datetime) -> datetime:
    if at is None:
        return now
    if at > now + AHEAD_AT_MOST:
        raise RefusedError("That time lies in the future; give the time of the check.")
    if at < now - OLDEST:
        raise RefusedError("That time lies more than a year back; look at the year.")
    return at
