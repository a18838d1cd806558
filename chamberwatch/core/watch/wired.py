"""Sensors on wires of this machine: what each kind is, and what has gone wrong with one.

When something is said of it is decided here: once when it begins, once when it is over, and not
for every wire that crackles.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.errors import ChamberwatchError
from chamberwatch.core.watch.reading import Quantity

LEAST_CO2_PPM: Final = 200.0
"""Air has never less: half of what there is outdoors leaves room for a sensor far off."""

SAME_AT_MOST: Final = 30
"""So many values in a row alike to the last digit come from no living sensor: its noise alone is
many digits wide."""

TOLD_AFTER: Final = 3
"""One failure is a crackle; so many in a row are told, and so many in a row well end it."""

LOOKED_BACK: Final = 100
OFTEN: Final = 20
SELDOM: Final = 5
"""Failures among the last `LOOKED_BACK` attempts: from so many on it is told, down to so few it
is over."""

RETRY_MOST_S: Final = 60.0
NOTHING_NEW_S: Final = 30.0
"""Without a new value for so long, and for three of its rounds, a sensor is set up anew."""


class WiredKind(StrEnum):
    """The kinds of wired sensors."""

    SCD4X = "scd4x"
    SCD30 = "scd30"
    SHT4X = "sht4x"


@dataclass(frozen=True, slots=True)
class Make:
    """What a kind of sensor is, as its maker's data sheet says.

    Attributes:
        title: as it is written on it.
        addresses: on the bus; the usual one first.
        believed: what each quantity it measures can be, in the units of `core.watch.reading`.
        new_every_s: how often it has a new value. [s]
        settles_s: so long after it was set up its values are held back. [s]
        pressures_pa: air pressures it can reckon its CO2 with; None: it measures none. [Pa]
    """

    title: str
    addresses: tuple[int, ...]
    believed: Mapping[Quantity, tuple[float, float]]
    new_every_s: float
    settles_s: float = 0.0
    pressures_pa: tuple[float, float] | None = None


MAKES: Final[Mapping[WiredKind, Make]] = {
    WiredKind.SCD4X: Make(
        "SCD4x",
        (0x62,),
        {
            Quantity.TEMPERATURE: (-10.0, 60.0),
            Quantity.HUMIDITY: (0.0, 100.0),
            Quantity.CO2: (LEAST_CO2_PPM, 40_000.0),
        },
        new_every_s=5.0,
        settles_s=60.0,
        pressures_pa=(70_000.0, 120_000.0),
    ),
    WiredKind.SCD30: Make(
        "SCD30",
        (0x61,),
        {
            Quantity.TEMPERATURE: (-40.0, 70.0),
            Quantity.HUMIDITY: (0.0, 100.0),
            Quantity.CO2: (LEAST_CO2_PPM, 40_000.0),
        },
        new_every_s=2.0,
        settles_s=60.0,
        pressures_pa=(70_000.0, 140_000.0),
    ),
    WiredKind.SHT4X: Make(
        "SHT4x",
        (0x44, 0x45, 0x46),
        # A thermometer that reads its end of scale, -45 or 130 °C, hangs on a broken wire.
        {Quantity.TEMPERATURE: (-40.0, 125.0), Quantity.HUMIDITY: (0.0, 100.0)},
        new_every_s=0.01,
    ),
}
"""Sources: the maker's data sheets SCD4x (2023, tables 1 to 3 and sections 3.5, 3.6), SCD30
(2020) with its interface description 1.0, SHT4x (2023, tables 1, 2 and section 4.5). How long
values are held back is ours: a CO2 sensor follows two thirds of a step within a minute."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What a sensor measured.

    Attributes:
        temperature_c: [°C].
        humidity_pct: relative humidity. [%]
        co2_ppm: None: it measures none. [ppm]
    """

    temperature_c: float
    humidity_pct: float
    co2_ppm: float | None = None

    def values(self) -> dict[Quantity, float]:
        """Return each value, in the units of `core.watch.reading.UNITS`."""
        found = {
            Quantity.TEMPERATURE: self.temperature_c,
            Quantity.HUMIDITY: self.humidity_pct,
        }
        return found if self.co2_ppm is None else {**found, Quantity.CO2: self.co2_ppm}


@dataclass(frozen=True, slots=True)
class Taken:
    """A measurement that is to be handed over.

    Attributes:
        topic: on which it is said.
        measured: the values.
        at_s: when, on the monotonic clock: the wall clock may not be right yet. [s]
    """

    topic: str
    measured: Measured
    at_s: float


def impossible(make: Make, measured: Measured) -> tuple[Quantity, float] | None:
    """Return the first value that the sensor can't have measured; None where all can be."""
    for quantity, value in measured.values().items():
        least, most = make.believed[quantity]
        if not least <= value <= most:  # what is no number is neither
            return quantity, value
    return None


def spoken(taken: Taken, time: datetime | None) -> dict[str, float | str]:
    """Return what a measurement says on MQTT.

    Args:
        taken: the measurement.
        time: of it, aware; None: not known, so that it is dated when it comes.
    """
    said: dict[str, float | str] = {}
    if time is not None:
        said["time"] = time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    for quantity, value in taken.measured.values().items():
        said[quantity.value] = round(value, 0 if quantity is Quantity.CO2 else 2)
    return said


# ------------------------------------------------------------------ what goes wrong


class Ill(StrEnum):
    """What is wrong with a sensor on a wire."""

    NO_DRIVER = "no driver"
    NO_BUS = "no bus"
    NO_RIGHT = "no right"
    IN_USE = "in use"
    NO_ANSWER = "no answer"
    WRONG_SUM = "wrong checksum"
    HUNG = "bus hangs"
    GARBLED = "garbled"
    IMPOSSIBLE = "impossible"
    STUCK = "stuck"
    NOTHING_NEW = "nothing new"
    OFTEN = "often"


AT_ONCE: Final = frozenset({Ill.NO_DRIVER, Ill.NO_BUS, Ill.NO_RIGHT})
"""These are never a crackle of a wire."""


class WireError(ChamberwatchError):
    """A sensor on a wire could not be set up or read."""

    def __init__(self, ill: Ill, detail: str = "") -> None:
        """Keep what is wrong.

        Args:
            ill: the kind of it.
            detail: what the system or the sensor said, for the sentence.
        """
        super().__init__(f"{ill.value}: {detail}" if detail else ill.value)
        self.ill, self.detail = ill, detail


@dataclass(frozen=True, slots=True)
class Course:
    """How it has gone with one sensor lately.

    Attributes:
        recent: the last attempts, oldest first; True: it went well.
        failed: attempts in a row that failed.
        well: attempts in a row that went well.
        since_s: when the failures began that are not over, on the monotonic clock. [s]
        said: what was told of them.
    """

    recent: tuple[bool, ...] = ()
    failed: int = 0
    well: int = 0
    since_s: float | None = None
    said: frozenset[Ill] = frozenset()

    def failures(self) -> int:
        """Return how many of the last attempts failed."""
        return self.recent.count(False)


def after_failing(course: Course, ill: Ill, now_s: float) -> tuple[Course, Ill | None]:
    """Return the course after an attempt that failed, and what is to be told of it.

    Args:
        course: until now.
        ill: what went wrong.
        now_s: on the monotonic clock. [s]
    """
    gone = replace(
        course,
        recent=(*course.recent, False)[-LOOKED_BACK:],
        failed=course.failed + 1,
        well=0,
        since_s=now_s if course.since_s is None else course.since_s,
    )
    news: Ill | None = None
    never_well = True not in gone.recent and not course.said
    if ill in AT_ONCE or gone.failed >= TOLD_AFTER or never_well:
        news = ill
    elif gone.failures() >= OFTEN:
        news = Ill.OFTEN
    if news is None or news in course.said or (news is Ill.OFTEN and course.said):
        return gone, None
    return replace(gone, said=course.said | {news}), news


def after_well(course: Course, now_s: float) -> tuple[Course, float | None]:
    """Return the course after an attempt that went well, and how long the trouble lasted.

    Args:
        course: until now.
        now_s: on the monotonic clock. [s]

    Returns:
        The course; and where a trouble that was told is over, how long it lasted. [s]
    """
    gone = replace(
        course,
        recent=(*course.recent, True)[-LOOKED_BACK:],
        failed=0,
        well=course.well + 1,
    )
    if not course.said:
        return replace(gone, since_s=None), None
    calm = Ill.OFTEN not in course.said or gone.failures() <= SELDOM
    if gone.well < TOLD_AFTER or not calm or course.since_s is None:
        return gone, None
    return Course(recent=(True,) * gone.well), now_s - course.since_s


def next_after_s(course: Course, every_s: float) -> float:
    """Return how long to wait before the next attempt: longer and longer while it fails. [s]."""
    if course.failed <= TOLD_AFTER:
        return every_s
    return max(every_s, min(RETRY_MOST_S, 2.0 ** min(course.failed, 6)))
