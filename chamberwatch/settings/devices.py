"""[[device]]: a fan, humidifier or heater that runs on a timer of its own."""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Annotated, Final, Self

from pydantic import Field, model_validator

from chamberwatch.core.watch.device import Device, Kind, Timetable
from chamberwatch.settings.values import Length, Name, Number, Part, Window, between

AMOUNTS: Final[Mapping[Kind, str]] = {
    Kind.FAN: "flow_m3_per_h",
    Kind.HUMIDIFIER: "water_g_per_h",
    Kind.HEATER: "power_w",
}
"""The key that says how much a device of a kind gives."""

# Any day on which the clocks do not change shows whether it ever runs.
_START: Final = datetime(2026, 1, 1, tzinfo=UTC)
_DAY: Final = timedelta(days=1)

Cycle = Annotated[Length, between(timedelta(seconds=1), _DAY, "Give 1 s to 24 h.")]


class DeviceSettings(Part):
    """One device."""

    name: Name
    chamber: str
    kind: Kind
    flow_m3_per_h: Number | None = Field(default=None, gt=0.0, le=5000.0)
    water_g_per_h: Number | None = Field(default=None, gt=0.0, le=20_000.0)
    power_w: Number | None = Field(default=None, gt=0.0, le=5000.0)
    windows: tuple[Window, ...] = Field(default=(), max_length=24)
    on: Cycle | None = None
    every: Cycle | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        wrong = [*self._amounts(), *self._cycle()]
        if wrong:
            raise ValueError(" ".join(wrong))
        return self

    def _amounts(self) -> Iterator[str]:
        needed = AMOUNTS[self.kind]
        others = [key for key in AMOUNTS.values() if key != needed]
        stray = [key for key in others if getattr(self, key) is not None]
        if getattr(self, needed) is None:
            yield f"A {self.kind} needs {needed}; add it."
        if stray:
            yield f"A {self.kind} has no {' and no '.join(stray)}; take it out."

    def _cycle(self) -> Iterator[str]:
        if self.on is None and self.every is None:
            return
        if self.on is None or self.every is None:
            missing = "on" if self.on is None else "every"
            yield f'on and every go together, as in on = "5 min", every = "30 min"; add {missing}.'
        elif self.on > self.every:
            yield "on is longer than every; swap them."
        elif not self.timetable().share(_START, _START + _DAY, UTC):
            yield (
                "It would never run: on begins at midnight and again after each every, "
                "and all of that falls outside windows; widen them."
            )

    def timetable(self) -> Timetable:
        """Return when it runs."""
        return Timetable(self.windows, self.on, self.every)

    def device(self) -> Device:
        """Return it in the words of the core."""
        return Device(
            name=self.name,
            chamber=self.chamber,
            kind=self.kind,
            timetable=self.timetable(),
            flow_m3_per_h=self.flow_m3_per_h or 0.0,
            water_g_per_h=self.water_g_per_h or 0.0,
            power_w=self.power_w or 0.0,
        )
