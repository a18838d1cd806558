"""[[wired]]: a sensor that hangs on wires of this machine."""

from datetime import timedelta
from typing import Annotated, Literal

from pydantic import Field, StrictBool, field_validator

from chamberwatch.settings.values import Length, Name, Number, Part, Whole, between

Every = Annotated[
    Length, between(timedelta(seconds=5), timedelta(minutes=10), "Give 5 s to 10 min.")
]


class WiredSettings(Part):
    """One sensor on an I2C bus."""

    name: Name
    kind: Literal["scd4x", "scd30", "sht4x"]
    bus: Whole = Field(default=1, ge=0, le=99)
    address: Whole | None = Field(default=None, ge=0x08, le=0x77)
    topic: str | None = Field(default=None, min_length=1, max_length=400)
    every: Every = timedelta(seconds=10)
    self_calibration: StrictBool = False
    self_heating_k: Number | None = Field(default=None, ge=0.0, le=20.0)

    @field_validator("topic")
    @classmethod
    def _one_topic(cls, topic: str | None) -> str | None:
        if topic is not None and any(sign in topic for sign in "+#\0"):
            raise ValueError("Write the one topic it shall speak on, without + and #.")
        return topic
