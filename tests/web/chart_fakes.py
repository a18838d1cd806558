"""Tents whose air has a day behind it: for the chart of the air."""

import math
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.core.air.uncertainty import spread
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.situation import Situation
from chamberwatch.service.books import Span
from chamberwatch.service.views import ChamberNow, SeriesPage, SeriesPoint
from tests.make import NOON, ROOM, SHELF, TENT
from tests.web.air_fakes import counsel, held_till, situation
from tests.web.desk_fakes import IN_ROOM, TOP, FakeHistory, Played, chamber_now, sensor_now

Q = Quantity
QUARTER = timedelta(minutes=15)


@dataclass
class DayBehind(FakeHistory):
    """A history that knows how the last day of each chamber went, in quarters of an hour."""

    days: dict[tuple[str, str], tuple[SeriesPoint, ...]] = field(default_factory=dict)

    def series(
        self, chamber: str, quantity: str, span: Span, step: timedelta | None, limit: int
    ) -> SeriesPage:
        page = super().series(chamber, quantity, span, step, limit)
        points = self.days.get((chamber, quantity), ())
        within = tuple(p for p in points if span.start <= p.time < span.end)
        return replace(page, points=within[:limit])


def a_day(
    temperature_c: float, humidity_pct: float, swing_c: float = 1.6, swing_pct: float = 6.0
) -> dict[str, tuple[SeriesPoint, ...]]:
    """Return a day that ends at noon with these values: cool nights, mistings that wear off."""
    warm, humid = [], []
    for n in range(96, 0, -1):
        at = NOON - n * QUARTER
        hours = n / 4.0
        cool = 0.5 * swing_c * (1.0 - math.cos(2.0 * math.pi * hours / 24.0))
        worn = swing_pct * (1.0 - math.exp(-(hours % 8.0) / 3.0))
        warm.append(_point(at, temperature_c - cool))
        humid.append(_point(at, min(humidity_pct + worn, 99.0)))
    return {"temperature_c": tuple(warm), "humidity_pct": tuple(humid)}


def _point(at: datetime, value: float) -> SeriesPoint:
    return SeriesPoint(at, None, 180, value - 0.1, value, value + 0.1)


def tent_at(
    temperature_c: float = 18.2,
    humidity_pct: float = 88.0,
    co2_ppm: float = 840.0,
    room: tuple[float, float] | None = (20.6, 41.0),
    pressure_pa: float = 101_325.0,
) -> Played:
    """Return a fruiting tent with a day behind it, everything known of it, in a room."""
    played = Played()
    history = DayBehind(played.clock)
    of = replace(
        situation(humidity_pct, co2_ppm), air=air_state(temperature_c, humidity_pct, pressure_pa)
    )
    if room is not None:
        of = replace(of, room=air_state(*room, pressure_pa))
    values = {Q.TEMPERATURE: temperature_c, Q.HUMIDITY: humidity_pct, Q.CO2: co2_ppm}
    heard = sensor_now(TOP, played.clock, values)
    history.rooms["tent"] = replace(
        chamber_now(TENT, [heard], of.air),
        pressure_pa=pressure_pa,
        spread=spread(of.air, TOP.accuracy, co2_ppm),
        margin=wall_of(of),
        counsel=counsel(of),
    )
    history.rooms["room"] = chamber_now(ROOM)
    if room is not None:
        said = {Q.TEMPERATURE: room[0], Q.HUMIDITY: room[1], Q.CO2: 655.0}
        heard = sensor_now(IN_ROOM, played.clock, said)
        history.rooms["room"] = chamber_now(ROOM, [heard], of.room)
    for quantity, points in a_day(temperature_c, humidity_pct).items():
        history.days["tent", quantity] = points
    for quantity, points in a_day(20.6, 41.0, 3.0, 3.0).items():
        history.days["room", quantity] = points
    history.held = held_till(of, NOON + timedelta(hours=6))
    played.history = history
    played.logbook.history = history
    played.desk = replace(played.desk, history=history)
    return played


def wall_of(of: Situation, colder_k: float = 0.6, spread_k: float = 0.4) -> Margin:
    """Return the margin of a wall that is so much colder than the air."""
    surface = of.air.temperature_c - colder_k
    margin = surface - of.air.dew_point_c
    return Margin(surface, margin, spread_k, Origin.ASSUMED, wet=margin <= 0.0)


def changed(played: Played, chamber: str = "tent", **changes: object) -> Played:
    """Return it with something else known of a chamber."""
    shown: ChamberNow = played.history.rooms[chamber]
    played.put(replace(shown, **changes))  # type: ignore[arg-type]
    return played


def dry() -> Played:
    """Return a tent that is too dry."""
    return tent_at(18.2, 76.0)


def near_saturation() -> Played:
    """Return a tent that all but drips, its walls wet for sure."""
    played = tent_at(16.4, 98.0, 1450.0)
    counselled = played.history.rooms["tent"].counsel
    assert counselled is not None
    return changed(played, margin=wall_of(counselled.situation, 2.0))


def no_sensor() -> Played:
    """Return a tent in which no sensor is set up."""
    played = tent_at()
    played.history.rooms["tent"] = chamber_now(TENT)
    days_of(played).clear()
    return played


def silent(ago: timedelta = timedelta(minutes=52)) -> Played:
    """Return a tent whose sensor has been silent for a while."""
    played = tent_at()
    shown = played.history.rooms["tent"]
    values = {q: r.value for q, r in shown.sensors[0].readings.items()}
    heard = sensor_now(TOP, played.clock, values, ago)
    old = replace(chamber_now(TENT, [heard], shown.air), spread=shown.spread)
    played.history.rooms["tent"] = old
    return played


def doubted() -> Played:
    """Return a tent whose only sensor is not to be believed."""
    played = tent_at(18.2, 99.6)
    shown = played.history.rooms["tent"]
    doubt = Doubt(TOP.name, Doubted.WET, NOON - timedelta(hours=3), "wet", frozenset({Q.HUMIDITY}))
    (heard,) = shown.sensors
    return changed(played, sensors=(replace(heard, doubt=doubt),), margin=None)


def winter() -> Played:
    """Return a tent that takes its air from outdoors, in frost."""
    played = tent_at(14.5, 86.0, 1220.0, room=(-8.0, 85.0))
    outdoors = Chamber("room", "Outdoors", outdoors=True)
    shown = played.history.rooms["room"]
    played.history.rooms["room"] = replace(shown, chamber=outdoors)
    return played


def sealed() -> Played:
    """Return a shelf of sealed bags: temperature is judged, humidity is not; nothing to mist."""
    played = tent_at()
    shown = played.history.rooms.pop("tent")
    shelf = replace(SHELF, name="tent", title="The dark shelf behind the stairs for growing bags")
    played.history.rooms["tent"] = replace(shown, chamber=shelf, counsel=None, margin=None)
    return played


def only_a_room() -> Played:
    """Return a house without a chamber: one room, which has no band for its temperature."""
    played = tent_at()
    played.history.rooms.pop("tent")
    return played


def days_of(played: Played) -> dict[tuple[str, str], tuple[SeriesPoint, ...]]:
    """Return what is known of the last day, to be changed."""
    assert isinstance(played.history, DayBehind)
    return played.history.days
