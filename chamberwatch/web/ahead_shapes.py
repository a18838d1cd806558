"""What the API gives of limits that are yet to be reached."""

from datetime import timedelta

from pydantic import BaseModel, Field

from chamberwatch.core.watch.foretold import Foreseen, Foretold, TrackRecord
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.service.foreseeing import AheadNow
from chamberwatch.web.shapes import Moment, significant


class LimitAhead(BaseModel):
    """A limit, and when it is reached."""

    quantity: str
    unit: str
    sensor: str
    side: str = Field(description="low or high")
    limit: float
    earliest: Moment = Field(description="reached sooner with a probability of 10 %")
    likely: Moment = Field(description="as likely sooner as later")
    latest: Moment | None = Field(
        description="reached later with a probability of 10 %; null: perhaps never"
    )


class ComingOut(LimitAhead):
    """A limit that will be reached as it looks now."""

    value: float = Field(description="of this moment, freed of noise")
    slope_per_h: float | None = Field(description="of this moment")

    @classmethod
    def of(cls, seen: Foreseen) -> "ComingOut":
        """Write a limit ahead."""
        slope = significant(seen.slope_per_h)
        return cls(**dict(_limit(seen.foretold)), value=round(seen.value, 2), slope_per_h=slope)


class ForetoldOut(LimitAhead):
    """A forecast that was kept, and what came of it."""

    number: int
    at: Moment = Field(description="when it was made")
    told: bool = Field(description="a person was told")
    came: Moment | None = Field(description="when the limit was reached")
    outcome: str = Field(description="open, came, did not, acted or unknown")

    @classmethod
    def of(cls, foretold: Foretold) -> "ForetoldOut":
        """Write a forecast."""
        return cls(
            **dict(_limit(foretold)),
            number=foretold.id,
            at=foretold.at,
            told=foretold.told,
            came=foretold.came,
            outcome=foretold.outcome,
        )


class RecordOut(BaseModel):
    """How forecasts of one quantity went: of the last twenty in thirty days that count."""

    quantity: str
    counted: int
    right: int = Field(description="the limit was reached within 10 min of the likely time")
    inside: int = Field(description="it was reached between the earliest and the latest time")
    good: bool = Field(description="good enough to tell of the next one")

    @classmethod
    def of(cls, quantity: Quantity, record: TrackRecord) -> "RecordOut":
        """Write a record."""
        return cls(
            quantity=quantity,
            counted=record.counted,
            right=record.right,
            inside=record.inside,
            good=record.good,
        )


class AheadOut(BaseModel):
    """What is known of a chamber's next hours."""

    early: timedelta | None = Field(
        description="so long before a limit the grower is told; null: not, and nothing is kept"
    )
    coming: list[ComingOut] = Field(description="the soonest first")
    records: list[RecordOut]
    last: list[ForetoldOut] = Field(description="the newest first")

    @classmethod
    def of(cls, known: AheadNow) -> "AheadOut":
        """Write what is known."""
        return cls(
            early=known.early,
            coming=[ComingOut.of(each) for each in known.coming],
            records=[RecordOut.of(quantity, each) for quantity, each in known.records.items()],
            last=[ForetoldOut.of(each) for each in known.last],
        )


def _limit(foretold: Foretold) -> LimitAhead:
    return LimitAhead(
        quantity=foretold.quantity,
        unit=UNITS[foretold.quantity],
        sensor=foretold.sensor,
        side=foretold.side,
        limit=foretold.limit,
        earliest=foretold.earliest,
        likely=foretold.likely,
        latest=foretold.latest,
    )
