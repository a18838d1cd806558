"""An invented grower's tent in winter: a room with a radiator, a tent that dries, a person."""

import json
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.tent import RoomAir, TentSpec, TentState, mist, state_of, step

STEP: Final = timedelta(minutes=1)
LEAKAGE_PER_H: Final = 0.7
VENTING_PER_H: Final = 30.0
MISTING_G: Final = 14.0

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
    """Lives on from minute to minute; the same seed and start always live the same life."""

    def __init__(self, seed: int, start: datetime, spec: TentSpec | None = None) -> None:
        """Begin at `start` with a freshly misted tent."""
        self.time = start
        self.spec = spec or TentSpec(wet_area_m2=0.4, fruit_kg=0.3, block_kg=2.0)
        self.state: TentState = state_of(19.0, 90.0, 650.0, 15.0)
        self._chance = random.Random(seed)  # noqa: S311 - a made-up week, no secret
        self._start = start
        self._venting_until = start
        self._forgets_from: datetime | None = None
        self._out_since: datetime | None = None
        self._visits: list[datetime] = []
        self._noise = {"middle": 0.0, "top": 0.0}
        self.patience = timedelta(minutes=25)

    # ------------------------------------------------------------ what people do

    def forget_from(self, time: datetime) -> None:
        """Let the grower forget his rounds from now on; he comes only when called long enough."""
        self._forgets_from = time
        # The last rounds were a while ago: the air is still inside, and on its way out.
        self.state = state_of(self.state.temperature_c, 84.0, 880.0, 0.5)

    def mist(self, grams: float = MISTING_G) -> None:
        """Mist now. [g]."""
        self.state = mist(self.state, self.spec, grams)
        self._out_since = None

    def vent(self, minutes: float = 4.0) -> None:
        """Open the front for some minutes from now. [min]."""
        self._venting_until = self.time + timedelta(minutes=minutes)
        self._out_since = None

    # ------------------------------------------------------------ time

    def advance_to(self, time: datetime) -> list[Report]:
        """Live on to a time; return what the sensors reported on the way."""
        reports: list[Report] = []
        while self.time + STEP <= time:
            self.time += STEP
            self._live_a_minute()
            reports += self._reports()
        return reports

    def _live_a_minute(self) -> None:
        changes = VENTING_PER_H if self.time <= self._venting_until else LEAKAGE_PER_H
        self.state = step(self.state, self.spec, self.room(), changes, STEP.total_seconds())
        self._look_after()

    def room(self) -> RoomAir:
        """Return the air of the room: a winter's day with a radiator and people."""
        hours = (self.time - self._start) / timedelta(hours=1)
        day = 2 * math.pi * ((self.time.hour + self.time.minute / 60) - 15.0) / 24
        radiator = 0.35 * math.sin(2 * math.pi * hours / 1.4)
        people = max(0.0, math.cos(2 * math.pi * (self.time.hour - 21.0) / 24))
        return RoomAir(
            temperature_c=19.4 + 0.9 * math.cos(day) + radiator,
            humidity_pct=43.0 + 5.0 * math.sin(2 * math.pi * hours / 61.0) - 2.0 * radiator,
            co2_ppm=520.0 + 330.0 * people,
        )

    def _look_after(self) -> None:
        """Let the grower do his rounds, or come at last when the tent has called for long."""
        if self._forgets_from is not None and self.time >= self._forgets_from:
            self._come_when_called()
            return
        if not self._visits or self._visits[-1].date() < self.time.date():
            self._visits += self._plan_day()
        if self.time in self._visits:
            self.vent(self._chance.uniform(2.0, 4.0))
            self.mist(self._chance.uniform(0.7, 1.2) * MISTING_G)

    def _plan_day(self) -> Iterator[datetime]:
        midnight = self.time.replace(hour=0, minute=0, second=0, microsecond=0)
        for hour in VISITS_H:
            late = self._chance.gauss(0.0, 0.3)
            if self._chance.random() > 0.12:
                # Never past midnight: that day has rounds of its own.
                minutes = min(round((hour + late) * 60), 24 * 60 - 1)
                yield midnight + timedelta(minutes=minutes)

    def _come_when_called(self) -> None:
        outside = self.state.humidity_pct < 80.0 or self.state.co2_ppm > 1000.0
        if not outside:
            self._out_since = None
            return
        if self._out_since is None:
            self._out_since = self.time
        elif self.time - self._out_since >= self.patience:
            if self.state.co2_ppm > 900.0:
                self.vent(3.0)
            self.mist()

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
