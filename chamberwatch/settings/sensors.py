"""[[sensor]]: what a device sends, where it hangs, and how far it is to be believed."""

import difflib
import re
from collections.abc import Iterator
from dataclasses import asdict
from datetime import timedelta
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, StrictBool, field_validator, model_validator

from chamberwatch.core.air.accuracy import CLASSES, DIGITAL, Accuracy
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.units import SCALES
from chamberwatch.settings.values import Length, Name, Number, Part, between

Lag = Annotated[
    Length, between(timedelta(seconds=1), timedelta(minutes=30), "Give 1 s to 30 min.")
]


class AccuracySettings(Part):
    """What a sensor is good for, each as ±; what is not given is that of a digital one."""

    temperature_k: Number = Field(default=DIGITAL.temperature_k, gt=0.0, le=10.0)
    humidity_pct: Number = Field(default=DIGITAL.humidity_pct, gt=0.0, le=30.0)
    humidity_wet_pct: Number = Field(default=DIGITAL.humidity_wet_pct, gt=0.0, le=30.0)
    co2_ppm: Number = Field(default=DIGITAL.co2_ppm, gt=0.0, le=1000.0)
    co2_share: Number = Field(default=DIGITAL.co2_share, ge=0.0, le=0.5)
    surface_k: Number = Field(default=DIGITAL.surface_k, gt=0.0, le=10.0)


def _of_class(given: object) -> object:
    """Return what a class of sensors is good for; a table is taken as it stands."""
    if isinstance(given, dict):
        return given
    if isinstance(given, str) and given in CLASSES:
        return asdict(CLASSES[given])
    close = difflib.get_close_matches(str(given), CLASSES, n=1, cutoff=0.6)
    raise ValueError(
        f"Write one of {', '.join(CLASSES)}, or a table such as {{ humidity_pct = 3.0 }}."
        + (f" Did you mean {close[0]}?" if close else "")
    )


class ReadSettings(Part):
    """Where a quantity stands in a message."""

    at: str = ""
    unit: str | None = None


class TimeSettings(Part):
    """Where the time stands in a message."""

    at: str


class SensorSettings(Part):
    """One sensor."""

    name: Name
    chamber: str
    place: str = "air"
    topic: str = Field(min_length=1, max_length=400)
    payload: Literal["json", "number", "senml"] = "json"
    unheard_after: Length = timedelta(minutes=5)
    reads: dict[Quantity, ReadSettings] = Field(min_length=1)
    time: TimeSettings | None = None
    accuracy: Annotated[AccuracySettings, BeforeValidator(_of_class)] = AccuracySettings()
    co2_lag: Lag = timedelta(seconds=90)
    corrects_pressure: StrictBool = True
    battery_low_v: Number | None = Field(default=None, gt=0.0, le=60.0)

    @field_validator("topic")
    @classmethod
    def _filter(cls, topic: str) -> str:
        levels = topic.split("/")
        stray = any(c in level and level != c for level in levels for c in "+#")
        if stray or "#" in levels[:-1] or "\0" in topic:
            raise ValueError(
                "A + stands for one whole level and a # only for the end, as in tent/+/climate."
            )
        return topic

    @model_validator(mode="after")
    def _payload_fits(self) -> Self:
        wrong = list(self._misfits())
        if wrong:
            raise ValueError(" ".join(wrong))
        return self

    def _misfits(self) -> Iterator[str]:
        if self.payload == "number" and len(self.reads) != 1:
            yield "A number is one quantity: read one, or use a topic for each."
        if self.time is not None and self.payload != "json":
            yield "Only json takes a time of its own here; senml brings its own."
        if self.time is not None and not _pointer(self.time.at):
            yield f'time.at "{self.time.at}" is no pointer (RFC 6901); write it like /time.'
        for quantity, read in self.reads.items():
            if read.unit is not None and read.unit not in SCALES[quantity]:
                known = ", ".join(SCALES[quantity])
                yield f'{quantity} can\'t be in "{read.unit}"; write one of {known}.'
            if self.payload == "json" and not _pointer(read.at):
                yield f'{quantity}: "{read.at}" is no pointer (RFC 6901); write /{quantity}.'
            if self.payload == "senml" and not read.at:
                yield f"{quantity}: name its SenML record in `at`."

    def sensor(self) -> Sensor:
        """Return it in the words of the core."""
        on_shelf = self.place not in {place.value for place in Place}
        return Sensor(
            name=self.name,
            chamber=self.chamber,
            place=Place.AIR if on_shelf else Place(self.place),
            shelf=self.place if on_shelf else None,
            unheard_after=self.unheard_after,
            quantities=tuple(self.reads),
            accuracy=Accuracy(**self.accuracy.model_dump()),
            co2_lag_s=self.co2_lag.total_seconds(),
            corrects_pressure=self.corrects_pressure,
            battery_low_v=self.battery_low_v,
        )


def _pointer(text: str) -> bool:
    return text.startswith("/") and re.search(r"~(?![01])", text) is None
