"""Which limits a chamber is on its way to: the last readings, made ready for the fit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.tent import saturated_g_per_m3
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.ahead import FITTED_OVER, Towards, ahead, calm_tail
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.foretold import Foreseen, Foretold
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import LONGEST_GAP, Side
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Span
from chamberwatch.service.gathering import moment, thinned
from chamberwatch.service.speaking import PAIR, air_of, air_sensors, doubted_in, in_order

OLD_AFTER: Final = timedelta(minutes=5)
"""From older readings nothing is foretold."""

SETTLES: Final = timedelta(minutes=3)
"""After a deed the air mixes, and the sensor catches up."""

LATELY: Final = timedelta(hours=12)
_DEEDS: Final = 50

_HARMLESS: Final = frozenset({Deed.NOTED, Deed.SOAKED})
"""Deeds that leave the air of the chamber as it is."""

LIMITS: Final = tuple(each for each, call in CALLS.items() if call is not Call.DRY_OFF)
"""Air on its way to too humid is what every misting looks like."""


@dataclass(frozen=True, slots=True)
class Calm:
    """How a chamber was disturbed lately.

    Attributes:
        disturbed: when deeds, and what was found in the record, began; in order.
        since: since when it is left to itself.
        now: the time of the look.
    """

    disturbed: Sequence[datetime]
    since: datetime
    now: datetime


def calm(book: Book, chamber: str, now: datetime) -> Calm:
    """Return how a chamber was disturbed lately."""
    deeds = [
        action
        for action in book.actions.recent(chamber, _DEEDS)
        if action.deed not in _HARMLESS and now - LATELY <= action.at <= now
    ]
    every = book.found.within(chamber, Span(now - LATELY, now))
    found = [f for f in every if not f.denied]
    over = [_over(action) for action in deeds] + [f.end for f in found]
    return Calm(
        sorted([a.at for a in deeds] + [f.start for f in found]),
        max([now - FITTED_OVER, *(end + SETTLES for end in over)]),
        now,
    )


def _over(action: Action) -> datetime:
    """Return when a deed was over."""
    vented = action.deed is Deed.VENTED and action.amount is not None
    return action.at + timedelta(minutes=(action.amount or 0.0) if vented else 0.0)


def limit_of(chamber: Chamber, quantity: Quantity, side: Side) -> float | None:
    """Return a limit of a chamber's air as it holds now."""
    band = chamber.band(quantity, Place.AIR)
    if band is None:
        return None
    return band.low if side is Side.LOW else band.high


def gap_of(sensor: Sensor) -> timedelta:
    """Return for how long a sensor may be silent without anything being missed."""
    return max(LONGEST_GAP, sensor.unheard_after)


@dataclass(frozen=True, slots=True)
class Coming:
    """Finds the limits that a chamber is on its way to."""

    house: House
    board: Board

    def of(self, book: Book, chamber: Chamber, left: Calm) -> tuple[Foreseen, ...]:
        """Return the limits that will be reached, the soonest first.

        The sensor that will be beyond a limit first speaks for it, as it does in a reminder.
        """
        soonest: dict[tuple[Quantity, Side], Foreseen] = {}
        for quantity, side in LIMITS:
            for sensor in self._believed(chamber, quantity):
                one = self._one(book, sensor, (quantity, side), left)
                best = soonest.get((quantity, side))
                if one and (best is None or one.foretold.likely < best.foretold.likely):
                    soonest[quantity, side] = one
        return tuple(sorted(soonest.values(), key=lambda each: each.foretold.likely))

    def _believed(self, chamber: Chamber, quantity: Quantity) -> list[Sensor]:
        doubted = doubted_in(self.board.doubts(), quantity)
        sensors = air_sensors(self.house, chamber.name, quantity)
        return [sensor for sensor in sensors if sensor.name not in doubted]

    def _one(
        self, book: Book, sensor: Sensor, which: tuple[Quantity, Side], left: Calm
    ) -> Foreseen | None:
        (quantity, side), now = which, left.now
        limit = limit_of(self.house.chambers[sensor.chamber], quantity, side)
        if limit is None or left.since >= now:
            return None
        points = thinned(book, sensor, quantity, Span(left.since, now + timedelta(seconds=1)))
        if not points or now - moment(points[-1][0]) > OLD_AFTER:
            return None
        towards = Towards(quantity, side, limit, self._end(sensor, quantity))
        found = ahead(calm_tail(points, towards, gap_of(sensor)), towards)
        if found is None:
            return None
        read_s, latest = points[-1][0], found.latest_min
        foretold = Foretold(
            id=0,
            chamber=sensor.chamber,
            sensor=sensor.name,
            quantity=quantity,
            side=side,
            limit=limit,
            at=now,
            earliest=moment(read_s + 60.0 * found.earliest_min),
            likely=moment(read_s + 60.0 * found.likely_min),
            latest=None if latest is None else moment(read_s + 60.0 * latest),
        )
        return Foreseen(foretold, found.value, found.slope_per_h)

    def _end(self, sensor: Sensor, quantity: Quantity) -> float | None:
        """Return where a quantity ends at the furthest, by the room; None: not known."""
        if quantity is not Quantity.HUMIDITY:
            return None
        newest = self.board.newest()
        around = self.house.chambers[sensor.chamber].surrounding
        speaking = () if around is None else in_order(self.house, around, (), *PAIR)
        said = (air_of(newest, one, self.house.pressure_pa) for one in speaking)
        room = next((air for air in said if air is not None), None)
        warm = newest.get((sensor.name, Quantity.TEMPERATURE))
        if room is None or warm is None:
            return None
        return 100.0 * room.absolute_humidity_g_per_m3 / saturated_g_per_m3(warm.value)
