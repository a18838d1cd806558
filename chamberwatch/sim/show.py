"""An invented grower's tent in winter: a room with a radiator, a tent that dries, a person."""

import json
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from chamberwatch.core.air.tent import RoomAir, TentSpec, TentState, mist, state_of, step, wet

STEP: Final = timedelta(minutes=1)
LEAKAGE_PER_H: Final = 0.7
VENTING_PER_H: Final = 30.0
LEFT_OPEN_PER_H: Final = 5.0
MISTING_G: Final = 13.0
SQUEEZE_G: Final = 1.0
SQUEEZES: Final = 2
"""At least so many go into the air."""
ENOUGH_PCT: Final = 90.0
"""Up to here he goes on spraying; the rest of the water goes onto walls and tray."""
WANTED_PCT: Final = 85.0
WANTED_PPM: Final = 1000.0
FORGOTTEN: Final = 0.12
"""So often one of the grower's rounds falls out."""

VISITS_H: Final = (7.2, 9.5, 12.6, 15.5, 17.9, 19.6, 21.4, 22.9)
"""Hours of the day at which the grower usually comes by."""


@dataclass(frozen=True, slots=True)
class Report:
    """One message of one simulated or logged sensor.

    Attributes:
        topic: where it goes.
        payload: the message.
        time: of the values in it.
        values: how many values it holds.
    """

    topic: str
    payload: bytes
    time: datetime
    values: int


class TentShow:
    """Lives on from step to step; the same seed, start and step always live the same life."""

    def __init__(
        self, seed: int, start: datetime, spec: TentSpec | None = None, every: timedelta = STEP
    ) -> None:
        """Begin at `start` with a freshly misted tent, whose sensors report `every` so often."""
        self.time = start
        self.every = every
        self.spec = spec or TentSpec(wet_area_m2=0.4, fruit_kg=0.3, block_kg=2.0)
        self.state: TentState = state_of(19.0, 90.0, 650.0, 15.0)
        self.patience = timedelta(minutes=25)
        self._chance = random.Random(seed)  # noqa: S311 - a made-up week, no secret
        self._start = start
        self._venting_until = start
        self._mists_then_g = 0.0
        self._left_open = False
        self._forgets_from: datetime | None = None
        self._out_since: datetime | None = None
        self._planned: date | None = None
        self._visits: list[datetime] = []
        self._noise = {"middle": 0.0, "top": 0.0}

    # ------------------------------------------------------------ what people do

    def forget_from(self, time: datetime) -> None:
        """Let the grower leave the front open at that time and forget his rounds from then on.

        He comes only when the air has been outside its band for as long as his `patience`.
        """
        self._forgets_from = time
        self._left_open = True

    def mist(self, grams: float = MISTING_G) -> None:
        """Mist now as a message advises, and close the front if it was left open. [g].

        Two squeezes for the air, more after a vent; the rest wets the walls and the tray.
        """
        squeezes = 0
        while grams > 0.0 and (squeezes < SQUEEZES or self.state.humidity_pct < ENOUGH_PCT):
            squeeze = min(grams, SQUEEZE_G)
            self.state = mist(self.state, self.spec, squeeze)
            grams -= squeeze
            squeezes += 1
        self.pour(grams)

    def spray(self, grams: float, standing_g: float = 0.0) -> None:
        """Spray so much into the air and wet walls and tray with the rest. [g]."""
        self.state = mist(self.state, self.spec, grams)
        self.pour(standing_g)

    def pour(self, grams: float) -> None:
        """Wet the walls and the tray now, and close the front if it was left open. [g]."""
        self.state = wet(self.state, self.spec, grams)
        self._answered()

    def vent(self, minutes: float = 4.0) -> None:
        """Open the front for some minutes from now, and close it then. [min]."""
        self._venting_until = self.time + timedelta(minutes=minutes)
        self._answered()

    def _answered(self) -> None:
        self._out_since = None
        if self._forgotten():
            self._left_open = False

    def _forgotten(self) -> bool:
        return self._forgets_from is not None and self.time >= self._forgets_from

    # ------------------------------------------------------------ time

    def advance_to(self, time: datetime) -> list[Report]:
        """Live on to a time; return what the sensors reported on the way."""
        reports: list[Report] = []
        while self.time + self.every <= time:
            # What the air did up to the next report follows from how things stand now.
            changes = self._air_changes_per_h()
            self.time += self.every
            self.state = step(
                self.state, self.spec, self.room(), changes, self.every.total_seconds()
            )
            self._look_after()
            reports += self._reports()
        return reports

    def _air_changes_per_h(self) -> float:
        if self.time < self._venting_until:
            return VENTING_PER_H
        return LEFT_OPEN_PER_H if self._left_open and self._forgotten() else LEAKAGE_PER_H

    def room(self) -> RoomAir:
        """Return the air of the room: a winter's day with a radiator and people."""
        hours = (self.time - self._start) / timedelta(hours=1)
        of_day = self.time.hour + self.time.minute / 60
        day = 2 * math.pi * (of_day - 15.0) / 24
        radiator = 0.35 * math.sin(2 * math.pi * hours / 1.4)
        people = max(0.0, math.cos(2 * math.pi * (of_day - 21.0) / 24))
        return RoomAir(
            temperature_c=19.5 + 0.7 * math.cos(day) + radiator,
            humidity_pct=43.0 + 5.0 * math.sin(2 * math.pi * hours / 61.0) - 2.0 * radiator,
            co2_ppm=520.0 + 330.0 * people,
        )

    def _look_after(self) -> None:
        """Let the grower do his rounds, or come at last when the tent has called for long."""
        # The front is closed before he mists: else the room would have most of it.
        if self._mists_then_g and self.time >= self._venting_until:
            self.mist(self._mists_then_g)
            self._mists_then_g = 0.0
        if self._forgotten():
            self._come_when_called()
            return
        if self._planned != self.time.date():
            self._planned = self.time.date()
            self._visits = [at for at in self._plan_day() if at >= self.time]
        if self._visits and self._visits[0] <= self.time:
            self._visits.pop(0)
            self.vent(self._chance.uniform(2.0, 4.0))
            self._mists_then_g = self._chance.uniform(0.7, 1.2) * MISTING_G

    def _plan_day(self) -> list[datetime]:
        """Return when he comes today; now and then a round falls out."""
        midnight = self.time.replace(hour=0, minute=0, second=0, microsecond=0)
        planned: list[datetime] = []
        for hour in VISITS_H:
            late = self._chance.gauss(0.0, 0.3)
            if self._chance.random() > FORGOTTEN:
                # Never past midnight: that day has rounds of its own.
                minutes = min(round((hour + late) * 60), 24 * 60 - 1)
                planned.append(midnight + timedelta(minutes=minutes))
        return sorted(planned)

    def _come_when_called(self) -> None:
        low, high = WANTED_PCT, WANTED_PPM
        if self.state.humidity_pct >= low and self.state.co2_ppm <= high:
            self._out_since = None
        elif self._out_since is None:
            self._out_since = self.time
        elif self.time - self._out_since >= self.patience:
            self.vent(3.0 if self.state.co2_ppm > high else 0.0)
            self._mists_then_g = MISTING_G

    # ------------------------------------------------------------ sensors

    def _reports(self) -> list[Report]:
        air, room = self.state, self.room()
        # Slow wander of a sensor, a few tenths of a per cent.
        for name in self._noise:
            self._noise[name] = 0.9 * self._noise[name] + self._chance.gauss(0.0, 0.15)
        middle = {
            "temperature": round(air.temperature_c + self._chance.gauss(0.0, 0.04), 1),
            "humidity": round(min(air.humidity_pct + self._noise["middle"], 100.0), 1),
            "co2": round(air.co2_ppm + self._chance.gauss(0.0, 6.0)),
        }
        top = {
            "temperature": round(air.temperature_c + 0.4 + self._chance.gauss(0.0, 0.04), 1),
            "humidity": round(min(air.humidity_pct - 0.8 + self._noise["top"], 100.0), 1),
        }
        around = {
            "temperature": round(room.temperature_c + self._chance.gauss(0.0, 0.04), 1),
            "humidity": round(room.humidity_pct + self._chance.gauss(0.0, 0.3), 1),
            "co2": round(room.co2_ppm + self._chance.gauss(0.0, 8.0)),
        }
        told = (("tent/middle", middle), ("tent/top", top), ("room/shelf", around))
        return [self._report(topic, values) for topic, values in told]

    def _report(self, topic: str, values: dict[str, float]) -> Report:
        body = {"time": self.time.isoformat(), **values}
        return Report(topic, json.dumps(body).encode(), self.time, len(values))


def reports(seed: int, start: datetime, end: datetime, every: timedelta) -> Iterator[Report]:
    """Yield what the sensors of a tent that is looked after report between two times."""
    show = TentShow(seed, start, every=every)
    while show.time + every <= end:
        yield from show.advance_to(show.time + every)
