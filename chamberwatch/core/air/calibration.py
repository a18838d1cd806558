"""Checking a sensor against something known: salts, fresh air, a reference thermometer.

A check gives a line: what a value of the sensor is worth is slope x read + offset. Each line is
refused where the sensor can hardly be that wrong, because then the check went wrong.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import hypot
from typing import Final

from chamberwatch.core.air.psychrometrics import STANDARD_PRESSURE_PA
from chamberwatch.core.air.vent import OUTDOOR_PPM
from chamberwatch.core.errors import RefusedError

SCATTER_PCT: Final = 0.5
"""How far a humidity sensor at rest wanders. [%] Common practice."""

OFF_AT_MOST_PCT: Final = 15.0
APART_AT_LEAST_PCT: Final = 5.0
SLOPES: Final = (0.8, 1.25)

FRESH_AIR_PPM: Final = OUTDOOR_PPM

FRESH_AIR_RANGE_PPM: Final = (380.0, 600.0)
FRESH_AIR_PLUS_MINUS_PPM: Final = 35.0
"""Between country and town: 430 to 500 ppm. [ppm] Common practice."""

CO2_OFF_AT_MOST_PPM: Final = 300.0
TEMPERATURE_OFF_AT_MOST_K: Final = 5.0


class Salt(StrEnum):
    """A salt whose saturated solution holds the air above it at a known humidity."""

    LICL = "LiCl"
    MGCL2 = "MgCl2"
    K2CO3 = "K2CO3"
    NABR = "NaBr"
    NACL = "NaCl"
    KCL = "KCl"
    K2SO4 = "K2SO4"


NAMES: Final[Mapping[Salt, str]] = {
    Salt.LICL: "lithium chloride",
    Salt.MGCL2: "magnesium chloride",
    Salt.K2CO3: "potassium carbonate",
    Salt.NABR: "sodium bromide",
    Salt.NACL: "table salt without additives",
    Salt.KCL: "potassium chloride",
    Salt.K2SO4: "potassium sulfate",
}

TEMPERATURES_C: Final = (10.0, 15.0, 20.0, 25.0, 30.0, 35.0)

# Humidity and its uncertainty [%] at TEMPERATURES_C. Source: L. Greenspan, Humidity Fixed Points
# of Binary Saturated Aqueous Solutions, J. Res. NBS 81A(1):89-96, 1977, Table 2. The second
# decimals and the uncertainties are from memory; 10 to 25 °C agree to 0.1 % with the table of
# T. Padfield, but for NaCl at 20 °C, where that one prints 75.7 between 75.6 and 75.3.
TABLE: Final[Mapping[Salt, tuple[tuple[float, float], ...]]] = {
    Salt.LICL: (
        (11.29, 0.41), (11.30, 0.35), (11.31, 0.31), (11.30, 0.27), (11.28, 0.24), (11.25, 0.22),
    ),
    Salt.MGCL2: (
        (33.47, 0.24), (33.30, 0.21), (33.07, 0.18), (32.78, 0.16), (32.44, 0.14), (32.05, 0.13),
    ),
    Salt.K2CO3: (
        (43.14, 0.39), (43.15, 0.33), (43.16, 0.33), (43.16, 0.39), (43.17, 0.50),
    ),
    Salt.NABR: (
        (62.15, 0.60), (60.68, 0.51), (59.14, 0.44), (57.57, 0.40), (56.03, 0.38), (54.55, 0.38),
    ),
    Salt.NACL: (
        (75.67, 0.22), (75.61, 0.18), (75.47, 0.14), (75.29, 0.12), (75.09, 0.11), (74.87, 0.12),
    ),
    Salt.KCL: (
        (86.77, 0.39), (85.92, 0.33), (85.11, 0.29), (84.34, 0.26), (83.62, 0.25), (82.95, 0.25),
    ),
    Salt.K2SO4: (
        (98.18, 0.76), (97.89, 0.63), (97.59, 0.53), (97.30, 0.45), (97.00, 0.40), (96.71, 0.38),
    ),
}  # fmt: skip

STEPS: Final = (
    (
        "Put two spoons of salt into a small jar or bag that closes tightly, and add water drop "
        "by drop until it is a wet slush. Most of it must stay undissolved: a clear solution "
        "holds another humidity."
    ),
    (
        "Hang the sensor above the slush, never in it, close the jar, and let only the cable out, "
        "sealed."
    ),
    (
        "Leave it for at least an hour (a small bare sensor needs 20 minutes), until the reading "
        "no longer moves."
    ),
    (
        "Keep it where the temperature stays even: no sun, no heater, no hands. One degree "
        "between slush and sensor is a fault of about 5 %."
    ),
    (
        "Write down the temperature beside the jar and the humidity as the sensor sends it (the "
        "raw value), without opening the jar."
    ),
    (
        "For a chamber that fruits, take NaCl (75 %) and then KCl (about 85 %): they stand on "
        "both sides of its band. One salt alone corrects by a fixed amount. K2SO4 (97 %) is "
        "easily spoilt by condensing water."
    ),
)
"""What to do, in order. Source: T. Padfield on salt checks; times and doses common practice."""

_LOOK: Final = (
    "Wait an hour with the jar closed; look that there is wet slush and not a clear solution, "
    "that it is as warm as the sensor, and that the salt is the one you named"
)


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """The humidity above a salt, with its ±. [%]."""

    humidity_pct: float
    plus_minus_pct: float


@dataclass(frozen=True, slots=True)
class SaltReading:
    """What a sensor said above a salt.

    Attributes:
        salt: which.
        temperature_c: of slush and sensor. [°C]
        read_pct: what the sensor said. [%]
        scatter_pct: how far it wandered at rest. [%]
    """

    salt: Salt
    temperature_c: float
    read_pct: float
    scatter_pct: float = SCATTER_PCT


@dataclass(frozen=True, slots=True)
class Anchor:
    """A value of the sensor beside what is true, in one unit.

    Attributes:
        read: what the sensor said.
        true: what it should have said.
        plus_minus: of the two together.
    """

    read: float
    true: float
    plus_minus: float


@dataclass(frozen=True, slots=True)
class Line:
    """What a value of the sensor is worth: slope x read + offset.

    Attributes:
        slope: 1.0 leaves it.
        offset: in the unit of the quantity.
        anchors: one or two that it goes through, the lower first.
    """

    slope: float
    offset: float
    anchors: tuple[Anchor, ...]

    def worth(self, read: float) -> float:
        """Return what a value is worth, in its own unit."""
        return self.slope * read + self.offset

    def plus_minus(self, read: float) -> float:
        """Return the ± of what a value is worth; it grows away from the anchors.

        First-order propagation of independent errors of the anchors.
        """
        low, high = self.anchors[0], self.anchors[-1]
        if low == high:
            return low.plus_minus
        share = (read - low.read) / (high.read - low.read)
        return hypot((1.0 - share) * low.plus_minus, share * high.plus_minus)


# ---------------------------------------------------------------------- humidity


def fixed_point(salt: Salt, temperature_c: float) -> FixedPoint:
    """Return the humidity above a saturated salt, and its ±. [%].

    Args:
        salt: which.
        temperature_c: 10 to 35 °C, K2CO3 to 30 °C; straight lines between the table's points.

    Source: Greenspan 1977, Table 2.

    Raises:
        RefusedError: the table does not reach that temperature.
    """
    points = tuple(zip(TEMPERATURES_C, TABLE[salt], strict=False))
    for (t0, (h0, u0)), (t1, (h1, u1)) in pairwise(points):
        if t0 <= temperature_c <= t1:
            share = (temperature_c - t0) / (t1 - t0)
            return FixedPoint(h0 + share * (h1 - h0), u0 + share * (u1 - u0))
    raise RefusedError(
        f"The humidity above {salt} is known from {points[0][0]:.0f} to {points[-1][0]:.0f} °C, "
        f"not at {temperature_c:g} °C. Do the check in a room of about 20 °C."
    )


def salts_at(temperature_c: float) -> Mapping[Salt, FixedPoint]:
    """Return the humidity above every salt whose table reaches that temperature.

    Raises:
        RefusedError: none does.
    """
    highest = {salt: TEMPERATURES_C[len(points) - 1] for salt, points in TABLE.items()}
    reached = [s for s in Salt if TEMPERATURES_C[0] <= temperature_c <= highest[s]]
    # Outside, the most usual of them says what the range is.
    return {salt: fixed_point(salt, temperature_c) for salt in reached or [Salt.NACL]}


def humidity_line(readings: Sequence[SaltReading]) -> Line:
    """Return the line of a humidity sensor from one salt (offset) or two (slope and offset).

    Raises:
        RefusedError: the check can't be right; the text says what to look at.
    """
    if len(readings) not in (1, 2):
        raise RefusedError("Give the reading above one salt, or above two different ones.")
    anchors = sorted(map(_anchor, readings), key=lambda anchor: anchor.true)
    low, high = anchors[0], anchors[-1]
    if len(anchors) == 1:
        return Line(1.0, low.true - low.read, (low,))
    if high.true - low.true < APART_AT_LEAST_PCT:
        raise RefusedError(
            f"{low.true:.1f} and {high.true:.1f} % lie too close together for a slope. Take two "
            f"salts at least {APART_AT_LEAST_PCT:.0f} % apart, such as NaCl and KCl, or one alone."
        )
    rise = high.read - low.read
    slope = (high.true - low.true) / rise if rise > 0.0 else 0.0
    if not SLOPES[0] <= slope <= SLOPES[1]:
        raise RefusedError(
            f"From {low.true:.1f} to {high.true:.1f} % the sensor went from {low.read:g} to "
            f"{high.read:g} %, which is too far from the truth for a slope. {_LOOK}. Or keep to "
            "one salt."
        )
    return Line(slope, low.true - slope * low.read, (low, high))


def _anchor(reading: SaltReading) -> Anchor:
    point = fixed_point(reading.salt, reading.temperature_c)
    off = reading.read_pct - point.humidity_pct
    if not abs(off) <= OFF_AT_MOST_PCT:
        raise RefusedError(
            f"Above {reading.salt} the sensor should say {point.humidity_pct:.1f} %, and says "
            f"{reading.read_pct:g} %. {_LOOK}. If all of that is right, the sensor is worn out "
            "or wet: dry it for a day, or replace it."
        )
    both = hypot(point.plus_minus_pct, reading.scatter_pct)
    return Anchor(reading.read_pct, point.humidity_pct, both)


# ---------------------------------------------------------------------- CO2, temperature


def pressure_factor(pressure_pa: float) -> float:
    """Return what the CO2 of a sensor is multiplied by that knows no pressure but sea level's.

    Its cell counts molecules, so what it says falls with their number: C_true = C_read x P_ref/P.
    The term T/T_ref of the ideal gas is left out: these sensors measure the temperature of their
    own cell and correct for it, and the few kelvin of a chamber are 2 %, less than their accuracy.

    Args:
        pressure_pa: 60 000 to 110 000 Pa.

    Source: ideal gas law, first order; P_ref is the standard atmosphere, 101 325 Pa.
    """
    return STANDARD_PRESSURE_PA / pressure_pa


def fresh_air_line(read_ppm: float, fresh_air_ppm: float) -> Line:
    """Return the line of a CO2 sensor that was read in fresh air.

    Args:
        read_ppm: what it said, after `pressure_factor`. [ppm]
        fresh_air_ppm: what is true. [ppm]

    Raises:
        RefusedError: the check can't be right; the text says what to look at.
    """
    low, high = FRESH_AIR_RANGE_PPM
    if not low <= fresh_air_ppm <= high:
        raise RefusedError(
            f"Fresh air holds {low:.0f} to {high:.0f} ppm, not {fresh_air_ppm:g}. Leave it out "
            f"for {FRESH_AIR_PPM:.0f}; in a town up to 500 is usual."
        )
    offset = fresh_air_ppm - read_ppm
    if not abs(offset) <= CO2_OFF_AT_MOST_PPM:
        raise RefusedError(
            f"In fresh air of {fresh_air_ppm:.0f} ppm the sensor says {read_ppm:.0f} ppm, too far "
            "off. Leave it outdoors or at a wide open window for half an hour, out of anybody's "
            "breath; and turn off its own automatic baseline."
        )
    return Line(1.0, offset, (Anchor(read_ppm, fresh_air_ppm, FRESH_AIR_PLUS_MINUS_PPM),))


def reference_line(read_c: float, reference_c: float, plus_minus_k: float) -> Line:
    """Return the line of a thermometer that was read beside a better one.

    Args:
        read_c: what it said. [°C]
        reference_c: what the better one said. [°C]
        plus_minus_k: how good the better one is. [K]

    Raises:
        RefusedError: the check can't be right; the text says what to look at.
    """
    offset = reference_c - read_c
    if not abs(offset) <= TEMPERATURE_OFF_AT_MOST_K:
        raise RefusedError(
            f"The thermometers differ by {abs(offset):.1f} K, too much. Put both side by side in "
            "still air, out of the sun and away from hands, and wait half an hour; look whether "
            "one of them shows °F."
        )
    return Line(1.0, offset, (Anchor(read_c, reference_c, plus_minus_k),))
