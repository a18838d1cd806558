"""Fans, humidifiers and heaters that run on timers of their own."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from enum import StrEnum


class Kind(StrEnum):
    """What a device does to the air."""

    FAN = "fan"
    HUMIDIFIER = "humidifier"
    HEATER = "heater"


@dataclass(frozen=True, slots=True)
class Timetable:
    """When a device runs, in local time.

    Attributes:
        windows: from .. to of each day; one that ends before it starts goes over midnight; empty
            means the whole day.
        on: within a window it runs so long ...
        every: ... in each stretch of this length, counted from local midnight; both None: all
            the time.
    """

    windows: tuple[tuple[time, time], ...] = ()
    on: timedelta | None = None
    every: timedelta | None = None

    def running(self, at: datetime, zone: tzinfo) -> bool:
        """Tell whether it runs at a moment."""
        raise NotImplementedError

    def share(self, start: datetime, end: datetime, zone: tzinfo) -> float:
        """Return the share of a span in which it runs, 0 to 1."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Device:
    """One device. Exactly one of the three amounts is given, as its kind says.

    Attributes:
        name: short, unique.
        chamber: name of the chamber it works in.
        kind: what it does.
        timetable: when.
        flow_m3_per_h: fresh air of a fan. [m3/h]
        water_g_per_h: of a humidifier. [g/h]
        power_w: of a heater. [W]
    """

    name: str
    chamber: str
    kind: Kind
    timetable: Timetable = Timetable()
    flow_m3_per_h: float = 0.0
    water_g_per_h: float = 0.0
    power_w: float = 0.0


@dataclass(frozen=True, slots=True)
class Supply:
    """What all devices of a chamber give on average over a span.

    Attributes:
        air_changes_per_h: of the fans. [1/h]
        water_g_per_h: of the humidifiers. [g/h]
        heat_w: of the heaters. [W]
    """

    air_changes_per_h: float = 0.0
    water_g_per_h: float = 0.0
    heat_w: float = 0.0
