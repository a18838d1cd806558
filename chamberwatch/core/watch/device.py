"""Fans, humidifiers and heaters that run on timers of their own.

A timer goes by the clock on the wall: on the night that clocks go forward the hour that is left
out does not run, and on the night that they go back the hour that comes twice runs twice.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from enum import StrEnum
from typing import Final

DAY_S: Final = 86_400.0

Span = tuple[float, float]
"""From .. to, in seconds since local midnight by the clock on the wall. [s]"""


class Kind(StrEnum):
    """What a device does to the air."""

    FAN = "fan"
    HUMIDIFIER = "humidifier"
    HEATER = "heater"


@dataclass(frozen=True, slots=True)
class Timetable:
    """When a device runs, in local time.

    Attributes:
        windows: from .. to of each day; one that ends before it starts goes over midnight, one
            that ends when it starts is the whole day; empty means the whole day.
        on: within a window it runs so long ...
        every: ... in each stretch of this length, counted from local midnight; both None: all
            the time.
    """

    windows: tuple[tuple[time, time], ...] = ()
    on: timedelta | None = None
    every: timedelta | None = None

    def on_duty(self, at: datetime, zone: tzinfo) -> bool:
        """Tell whether a moment lies in a window, pauses between two runs included."""
        wall_s = _wall_s(at.astimezone(zone).time())
        return any(start <= wall_s < end for start, end in self._spans())

    def running(self, at: datetime, zone: tzinfo) -> bool:
        """Tell whether it runs at a moment."""
        if not self.on_duty(at, zone):
            return False
        if self.on is None or self.every is None:
            return True
        into_s = _wall_s(at.astimezone(zone).time()) % self.every.total_seconds()
        return into_s < self.on.total_seconds()

    def share(self, start: datetime, end: datetime, zone: tzinfo) -> float:
        """Return the share of a span in which it runs, 0 to 1; of no span, whether it runs."""
        # In UTC: times of one zone are subtracted as the clock on the wall shows them.
        first, last = start.astimezone(UTC), end.astimezone(UTC)
        length_s = (last - first).total_seconds()
        if length_s <= 0.0:
            return float(self.running(start, zone))
        running_s = sum(self._within_day_s(span) for span in _wall_spans(first, last, zone))
        return min(running_s / length_s, 1.0)

    def _spans(self) -> list[Span]:
        """Return the windows within one day, in order; where they overlap, as one. [s]."""
        spans: list[Span] = []
        for start, end in sorted(_cut_at_midnight(self.windows)):
            if spans and start <= spans[-1][1]:
                spans[-1] = (spans[-1][0], max(spans[-1][1], end))
            else:
                spans.append((start, end))
        return spans or [(0.0, DAY_S)]

    def _within_day_s(self, span: Span) -> float:
        """Return how long it runs within a span of one day. [s]."""
        cut = ((max(s, span[0]), min(e, span[1])) for s, e in self._spans())
        return sum(self._since_midnight_s(e) - self._since_midnight_s(s) for s, e in cut if s < e)

    def _since_midnight_s(self, wall_s: float) -> float:
        """Return how long it would have run since midnight if there were no windows. [s]."""
        if self.on is None or self.every is None:
            return wall_s
        on_s = self.on.total_seconds()
        runs, into_s = divmod(wall_s, self.every.total_seconds())
        return runs * on_s + min(into_s, on_s)


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


NO_DEVICES: Final = Supply()


def working_in(devices: Iterable[Device], chamber: str) -> tuple[Device, ...]:
    """Return the devices of a chamber in the order they were declared."""
    return tuple(device for device in devices if device.chamber == chamber)


def serving(
    devices: Iterable[Device], kind: Kind, at: datetime, zone: tzinfo
) -> tuple[Device, ...]:
    """Return the devices of a kind that see to the air at a moment.

    One that pauses between two runs of its timetable serves as well: it will run again by itself.
    """
    return tuple(d for d in devices if d.kind is kind and d.timetable.on_duty(at, zone))


def supply(
    devices: Iterable[Device],
    volume_m3: float | None,
    start: datetime,
    end: datetime,
    zone: tzinfo,
) -> Supply:
    """Return what the devices of a chamber give on average over a span.

    Args:
        devices: of that chamber.
        volume_m3: free air of the chamber; None: not known, and then fans count for nothing. [m3]
        start: of the span.
        end: of the span; the same as start for the moment itself.
        zone: in which the timetables are kept.
    """
    flow_m3_per_h = water_g_per_h = heat_w = 0.0
    for device in devices:
        share = device.timetable.share(start, end, zone)
        flow_m3_per_h += share * device.flow_m3_per_h
        water_g_per_h += share * device.water_g_per_h
        heat_w += share * device.power_w
    air_changes_per_h = flow_m3_per_h / volume_m3 if volume_m3 else 0.0
    return Supply(air_changes_per_h, water_g_per_h, heat_w)


def in_words(device: Device) -> str:
    """Say what a device gives and when.

    Such as `fan, 20 m3/h, 5 min in every 30 min from 07:00 to 22:00`.
    """
    amount = {
        Kind.FAN: f"{device.flow_m3_per_h:g} m3/h",
        Kind.HUMIDIFIER: f"{device.water_g_per_h:g} g/h",
        Kind.HEATER: f"{device.power_w:g} W",
    }[device.kind]
    return f"{device.kind}, {amount}, {_timetable_in_words(device.timetable)}"


def _timetable_in_words(timetable: Timetable) -> str:
    cycle = ""
    if timetable.on is not None and timetable.every is not None:
        cycle = f"{_length_in_words(timetable.on)} in every {_length_in_words(timetable.every)}"
    windows = [f"from {start:%H:%M} to {end:%H:%M}" for start, end in timetable.windows]
    if not windows:
        return f"{cycle}, day and night" if cycle else "all the time"
    return f"{cycle} {' and '.join(windows)}".lstrip()


def _length_in_words(length: timedelta) -> str:
    """Write a length in the largest unit that needs no decimals."""
    seconds = length.total_seconds()
    for size, unit in ((3600.0, "h"), (60.0, "min")):
        if seconds % size == 0.0:
            return f"{seconds / size:g} {unit}"
    return f"{seconds:g} s"


def _wall_s(wall: time) -> float:
    """Return the seconds since midnight by the clock on the wall. [s]."""
    return wall.hour * 3600.0 + wall.minute * 60.0 + wall.second + wall.microsecond / 1e6


def _cut_at_midnight(windows: Iterable[tuple[time, time]]) -> Iterator[Span]:
    for start, end in windows:
        start_s, end_s = _wall_s(start), _wall_s(end)
        if start_s < end_s:
            yield start_s, end_s
        else:
            yield start_s, DAY_S
            yield 0.0, end_s


def _wall_spans(start: datetime, end: datetime, zone: tzinfo) -> Iterator[Span]:
    """Yield a span of UTC as the clock on the wall shows it, cut at midnight and where it jumps.

    Between two cuts the clock runs as fast as time does, so each piece keeps its length.
    """
    at = start
    while at < end:
        wall_s = _wall_s(at.astimezone(zone).time())
        till = min(at + timedelta(seconds=DAY_S - wall_s), end)
        till = min(_jump(at, till, zone), till)
        yield wall_s, wall_s + (till - at).total_seconds()
        at = till


def _jump(at: datetime, till: datetime, zone: tzinfo) -> datetime:
    """Return the first second within a day at which the clock has jumped, `till` if it hasn't."""
    before = at.astimezone(zone).utcoffset()
    # A moment before the end: a jump right at the end belongs to what comes after it.
    if (till - timedelta(microseconds=1)).astimezone(zone).utcoffset() == before:
        return till
    # Clocks jump on whole seconds (RFC 9636), so halving between those finds the very moment.
    low, high = int(at.timestamp()), int(till.timestamp()) + 1
    while high - low > 1:
        middle = (low + high) // 2
        if datetime.fromtimestamp(middle, zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    return datetime.fromtimestamp(high, UTC)
