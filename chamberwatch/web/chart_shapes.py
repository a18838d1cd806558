"""The shape of what a chart shows; it describes the answer, which is written without it."""

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, Field


class ChartLineOut(BaseModel):
    """One quantity, in columns of equal length, oldest first; null is a gap."""

    quantity: str
    unit: str
    at: list[int] = Field(description="middle of each step, or time of the reading, s since 1970")
    least: list[float | None]
    mean: list[float | None] = Field(description="per sample")
    most: list[float | None]


class BandThenOut(BaseModel):
    """The band of a quantity over a stretch in which it did not change."""

    quantity: str
    from_: datetime = Field(alias="from")
    to: datetime
    low: float | None
    high: float | None
    harm_low: float | None
    harm_high: float | None
    why: str = Field(description="whose band it is")


class MarkOut(BaseModel):
    """Something that happened."""

    kind: Literal["deed", "found", "reminder", "growing"]
    at: datetime
    until: datetime | None = Field(description="null for a moment, or where it still lasts")
    word: str
    text: str


class ChartOut(BaseModel):
    """Lines, bands and marks of one chamber over one stretch of time."""

    chamber: str
    from_: datetime = Field(alias="from")
    to: datetime
    step_s: int = Field(description="length of what is summed up; 0: single readings")
    lines: list[ChartLineOut]
    bands: list[BandThenOut]
    marks: list[MarkOut] = Field(
        description="beyond 62 days only what was told of batches, and no nights"
    )
    nights: list[tuple[datetime, datetime]] = Field(
        description="22:00 to 06:00 by the clock of the site"
    )
    left_out: tuple[datetime, datetime] | None = Field(
        description="the lines lack readings of this time, which are still being summed up; "
        "null: they lack none"
    )
