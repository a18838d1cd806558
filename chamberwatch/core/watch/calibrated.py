"""A correction of one sensor, with who made it, when, and how; and what it makes of a reading."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final

from chamberwatch.core.air.calibration import pressure_factor
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import PLAUSIBLE, Quantity, Reading

DECIMALS: Final = 4
"""Of a corrected value: finer than any sensor, and without the dust of binary fractions."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """From `at` on, a reading is worth slope x raw + offset.

    Attributes:
        id: given by the book; 0 before it is stored.
        sensor: name of the sensor.
        quantity: of which quantity.
        slope: 1.0 leaves it.
        offset: in the unit of the quantity; 0.0 leaves it.
        at: readings from this time on are corrected.
        who: the person who did it.
        how: in words: salts, temperatures, what was read.
        recorded: when it was told to us.
    """

    id: int
    sensor: str
    quantity: Quantity
    slope: float
    offset: float
    at: datetime
    who: str
    how: str
    recorded: datetime

    @property
    def neutral(self) -> bool:
        """Tell whether it leaves everything as sent; that is how one is withdrawn."""
        return (self.slope, self.offset) == (1.0, 0.0)


@dataclass(frozen=True, slots=True)
class _Rule:
    """What is done to one series: the air pressure first, then the calibration of the time."""

    factor: float = 1.0
    starts: tuple[datetime, ...] = ()
    calibrations: tuple[Calibration, ...] = ()

    def in_force(self, time: datetime) -> Calibration | None:
        place = bisect_right(self.starts, time)
        return self.calibrations[place - 1] if place else None

    def worth(self, quantity: Quantity, time: datetime, raw: float) -> float:
        held = self.in_force(time)
        worth = self.factor * raw
        if held is not None:
            worth = held.slope * worth + held.offset
        if worth == raw:
            return raw
        low, high = PLAUSIBLE[quantity]
        return min(max(round(worth, DECIMALS), low), high)


@dataclass(frozen=True, slots=True)
class Corrections:
    """What every reading is worth. Never changed, so any thread may use it.

    A calibration holds from its `at` until that of the next one of the same sensor and quantity;
    of two with the same `at`, the one that was told later.
    """

    _rules: Mapping[tuple[str, Quantity], _Rule] = field(default_factory=dict)
    _factors: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, house: House, calibrations: Iterable[Calibration]) -> "Corrections":
        """Return those of a house, with the calibrations of its sensors in any order."""
        factor = pressure_factor(house.pressure_pa)
        factors = {s.name: factor for s in house.sensors.values() if not s.corrects_pressure}
        rules = {(name, Quantity.CO2): _Rule(factor) for name in factors}
        for calibration in sorted(calibrations, key=lambda c: (c.at, c.id)):
            series = (calibration.sensor, calibration.quantity)
            rule = rules.get(series, _Rule())
            rules[series] = replace(
                rule,
                starts=(*rule.starts, calibration.at),
                calibrations=(*rule.calibrations, calibration),
            )
        return cls(rules, factors)

    def factor(self, sensor: str) -> float:
        """Return what the CO2 of a sensor is multiplied by for the air pressure of the place."""
        return self._factors.get(sensor, 1.0)

    def in_force(self, sensor: str, quantity: Quantity, time: datetime) -> Calibration | None:
        """Return the calibration that holds for a reading of that time."""
        rule = self._rules.get((sensor, quantity))
        return None if rule is None else rule.in_force(time)

    def corrected(self, reading: Reading) -> Reading:
        """Return a reading as it counts, whatever was done to it before: its raw value is kept."""
        rule = self._rules.get((reading.sensor, reading.quantity))
        if rule is None and reading.raw is None:
            return reading
        raw = reading.value if reading.raw is None else reading.raw
        value = raw if rule is None else rule.worth(reading.quantity, reading.time, raw)
        return replace(reading, value=value, raw=None if value == raw else raw)
