"""A check of a sensor as a person tells it, and the correction that follows, in words.

What was read is always the raw value, as the sensor sends it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias, assert_never

from chamberwatch.core.air.calibration import (
    CO2_OFF_AT_MOST_PPM,
    FRESH_AIR_PPM,
    OFF_AT_MOST_PCT,
    SLOPES,
    TEMPERATURE_OFF_AT_MOST_K,
    Anchor,
    Line,
    SaltReading,
    fixed_point,
    fresh_air_line,
    humidity_line,
    reference_line,
)
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.reading import UNITS, Quantity

REFERENCE_PLUS_MINUS_K: Final = 0.2
"""Of a thermometer good enough to check another by. [K] Common practice."""

PRESSURE_OFF_AT_MOST_PA: Final = 3000.0


@dataclass(frozen=True, slots=True)
class SaltCheck:
    """Humidity read above one salt, or above two. [%]."""

    readings: tuple[SaltReading, ...]


@dataclass(frozen=True, slots=True)
class FreshAirCheck:
    """CO2 read outdoors or at an open window. [ppm]."""

    read_ppm: float
    fresh_air_ppm: float = FRESH_AIR_PPM


@dataclass(frozen=True, slots=True)
class ReferenceCheck:
    """Temperature read beside a better thermometer. [°C]."""

    read_c: float
    reference_c: float


@dataclass(frozen=True, slots=True)
class ByHand:
    """A correction that a person brings along; slope 1 and offset 0 withdraw one.

    Attributes:
        quantity: of which quantity.
        slope: 1.0 leaves it.
        offset: in the unit of the quantity.
        how: where it comes from, in free words.
    """

    quantity: Quantity
    slope: float = 1.0
    offset: float = 0.0
    how: str = ""


Check: TypeAlias = SaltCheck | FreshAirCheck | ReferenceCheck | ByHand


@dataclass(frozen=True, slots=True)
class Finding:
    """What follows from a check.

    Attributes:
        quantity: of which quantity.
        slope: 1.0 leaves it.
        offset: in the unit of the quantity.
        by: what is added where it was checked, in the unit of the quantity.
        plus_minus: how far the corrected value may still be off there; None: not known.
        kind: of the check, in a word or two.
        how: what was read, in words.
        words: the result for the person who did it.
    """

    quantity: Quantity
    slope: float
    offset: float
    by: float
    plus_minus: float | None
    kind: str
    how: str
    words: str


def quantity_of(check: Check) -> Quantity:
    """Return which quantity a check corrects."""
    match check:
        case SaltCheck():
            return Quantity.HUMIDITY
        case FreshAirCheck():
            return Quantity.CO2
        case ReferenceCheck():
            return Quantity.TEMPERATURE
        case ByHand():
            return check.quantity
        case _:  # pragma: no cover - there are no others
            assert_never(check)


def found(check: Check, factor: float) -> Finding:
    """Return what follows from a check.

    Args:
        check: what a person did and read.
        factor: what the CO2 of this sensor is multiplied by for the air pressure of the place.

    Raises:
        RefusedError: the check can't be right; the text says what to look at.
    """
    match check:
        case SaltCheck():
            return _of_salts(check)
        case FreshAirCheck():
            return _of_fresh_air(check, factor)
        case ReferenceCheck():
            return _of_reference(check)
        case ByHand():
            return _by_hand(check)
        case _:  # pragma: no cover - there are no others
            assert_never(check)


def _of_salts(check: SaltCheck) -> Finding:
    line = humidity_line(check.readings)
    how = "; ".join(
        f"{r.salt} {fixed_point(r.salt, r.temperature_c).humidity_pct:.1f} % "
        f"at {r.temperature_c:g} °C, read {r.read_pct:g} %"
        for r in check.readings
    )
    kind = "one salt" if len(check.readings) == 1 else "two salts"
    return _checked(Quantity.HUMIDITY, line, kind, how)


def _of_fresh_air(check: FreshAirCheck, factor: float) -> Finding:
    line = fresh_air_line(factor * check.read_ppm, check.fresh_air_ppm)
    how = f"fresh air {check.fresh_air_ppm:g} ppm, read {check.read_ppm:g} ppm"
    if factor != 1.0:
        how += f", for the altitude {factor * check.read_ppm:.0f} ppm"
    return _checked(Quantity.CO2, line, "fresh air", how)


def _of_reference(check: ReferenceCheck) -> Finding:
    line = reference_line(check.read_c, check.reference_c, REFERENCE_PLUS_MINUS_K)
    how = f"thermometer {check.reference_c:g} °C, read {check.read_c:g} °C"
    return _checked(Quantity.TEMPERATURE, line, "reference thermometer", how)


def _checked(quantity: Quantity, line: Line, kind: str, how: str) -> Finding:
    errors = [_error(quantity, anchor) for anchor in line.anchors]
    middle = sum(anchor.read for anchor in line.anchors) / len(line.anchors)
    by, plus_minus = line.worth(middle) - middle, line.plus_minus(middle)
    remedy = f"corrected by {signed(quantity, by)}"
    if len(line.anchors) > 1:
        remedy = (
            f"corrected by slope {line.slope:.3f} and offset {signed(quantity, line.offset)}, "
            f"which is {signed(quantity, by)} between them"
        )
    words = f"Reads {' and '.join(errors)}; {remedy} (± {_amount(quantity, plus_minus)} there)."
    return Finding(quantity, line.slope, line.offset, by, plus_minus, kind, how, words)


def _error(quantity: Quantity, anchor: Anchor) -> str:
    off = anchor.read - anchor.true
    where = f"at {_whole(quantity, anchor.true)}"
    if float(f"{abs(off):.{_DECIMALS[quantity]}f}") == 0.0:
        return f"right {where}"
    return f"{_amount(quantity, abs(off))} too {'high' if off > 0.0 else 'low'} {where}"


# Where a correction by hand is looked at, and how much it may do there.
_USUAL: Final[Mapping[Quantity, tuple[float, float]]] = {
    Quantity.HUMIDITY: (75.0, OFF_AT_MOST_PCT),
    Quantity.CO2: (FRESH_AIR_PPM, CO2_OFF_AT_MOST_PPM),
    Quantity.TEMPERATURE: (20.0, TEMPERATURE_OFF_AT_MOST_K),
    Quantity.PRESSURE: (100_000.0, PRESSURE_OFF_AT_MOST_PA),
}


def _by_hand(check: ByHand) -> Finding:
    quantity = check.quantity
    if quantity not in _USUAL:
        known = ", ".join(_USUAL)
        raise RefusedError(f"The {quantity} is not calibrated here; only {known}.")
    usual, at_most = _USUAL[quantity]
    by = check.slope * usual + check.offset - usual
    if not SLOPES[0] <= check.slope <= SLOPES[1]:
        raise RefusedError(
            f"A slope of {check.slope:g} is no correction; it lies from {SLOPES[0]} to "
            f"{SLOPES[1]}. Look at the unit in the settings, or replace the sensor."
        )
    if not abs(by) <= at_most:
        raise RefusedError(
            f"At {_whole(quantity, usual)} that changes the reading by {signed(quantity, by)}; at "
            f"most {_amount(quantity, at_most)} can be right. Look at the numbers, and at the "
            "unit in the settings; a sensor that far off is to be replaced."
        )
    neutral = (check.slope, check.offset) == (1.0, 0.0)
    words = "The correction is withdrawn: from here on readings count as without one."
    if not neutral:
        sloped = "" if check.slope == 1.0 else f"slope {check.slope:g} and offset "
        words = f"Corrected by {sloped}{signed(quantity, check.offset)}."
    kind = "correction withdrawn" if neutral else "by hand"
    return Finding(quantity, check.slope, check.offset, by, None, kind, check.how or kind, words)


# ---------------------------------------------------------------------- words

_DECIMALS: Final[Mapping[Quantity, int]] = {
    Quantity.HUMIDITY: 1,
    Quantity.CO2: 0,
    Quantity.TEMPERATURE: 1,
    Quantity.PRESSURE: 0,
}
_NAMES: Final[Mapping[Quantity, str]] = {Quantity.CO2: "CO2"}


def signed(quantity: Quantity, value: float) -> str:
    """Write a difference with its sign and unit."""
    return _written(quantity, value, "+")


def _amount(quantity: Quantity, value: float) -> str:
    return _written(quantity, value, "")


def _written(quantity: Quantity, value: float, sign: str) -> str:
    # Adding 0.0 takes the sign off a zero.
    rounded = round(value, _DECIMALS[quantity]) + 0.0
    return f"{rounded:{sign}.{_DECIMALS[quantity]}f} {UNITS[quantity]}"


def _whole(quantity: Quantity, value: float) -> str:
    return f"{value:.0f} {UNITS[quantity]}"


def noted(sensor: str, finding: Finding, who: str) -> str:
    """Say in the log what was done: “sensor top: humidity +2.1 % (two salts), by Ann”."""
    name = _NAMES.get(finding.quantity, finding.quantity.value)
    change = f"{signed(finding.quantity, finding.by)} ({finding.kind})"
    if (finding.slope, finding.offset) == (1.0, 0.0) and finding.plus_minus is None:
        change = finding.kind
    return f"sensor {sensor}: {name} {change}, by {who}"
