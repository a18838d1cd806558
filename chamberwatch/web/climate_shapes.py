"""What the API gives of the air of a week."""

from typing import Annotated

from pydantic import BaseModel, Field

from chamberwatch.core.review.climate import Freshness, Holding, HourOfDay, Share, Spell
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.service.climate import ClimateWeek
from chamberwatch.web.shapes import Moment

Part = Annotated[float, Field(ge=0.0, le=1.0)]


def _minutes(seconds: float) -> float:
    return round(seconds / 60.0, 1)


class ShareOut(BaseModel):
    """How the samples of one quantity lay against the bands that held for them."""

    quantity: Quantity
    unit: str
    heard_min: float = Field(description="quarter-hours with a sample, in minutes")
    judged: int = Field(description="samples that a band held for")
    within: int
    below: int
    above: int
    in_band: Part | None = Field(description="within / judged; null where no band held")
    least: float
    mean: float = Field(description="per sample")
    most: float
    words: str

    @classmethod
    def of(cls, share: Share, words: str) -> "ShareOut":
        """Write a share."""
        return cls(
            quantity=share.quantity,
            unit=UNITS[share.quantity],
            heard_min=_minutes(share.heard.total_seconds()),
            judged=share.judged,
            within=share.within,
            below=share.below,
            above=share.above,
            in_band=share.in_band,
            least=share.least,
            mean=share.mean,
            most=share.most,
            words=words,
        )


class SpellOut(BaseModel):
    """A stretch outside the band, on one side."""

    quantity: Quantity
    side: Standing
    start: Moment
    end: Moment
    extreme: float = Field(description="the value furthest outside")
    limit: float = Field(description="of the band it was outside of")
    harm: bool = Field(description="it passed a harm limit")
    words: str

    @classmethod
    def of(cls, spell: Spell, words: str) -> "SpellOut":
        """Write a spell."""
        return cls(
            quantity=spell.quantity,
            side=spell.side,
            start=spell.start,
            end=spell.end,
            extreme=spell.extreme,
            limit=spell.limit,
            harm=spell.harm,
            words=words,
        )


class HourOut(BaseModel):
    """One hour of the clock over all days of the week."""

    hour: int = Field(ge=0, le=23, description="by the clock of the site")
    mean: float | None
    judged: int
    within: int
    below: int
    above: int

    @classmethod
    def of(cls, hour: HourOfDay) -> "HourOut":
        """Write an hour."""
        return cls(
            hour=hour.hour,
            mean=hour.mean,
            judged=hour.judged,
            within=hour.within,
            below=hour.below,
            above=hour.above,
        )


class HoldingOut(BaseModel):
    """The mistings of the week."""

    found: int
    unrecorded: int
    held_min: list[float] = Field(description="of those whose end is known, the shortest first")
    words: str

    @classmethod
    def of(cls, holding: Holding, words: str) -> "HoldingOut":
        """Write what they came to."""
        return cls(
            found=holding.found,
            unrecorded=holding.unrecorded,
            held_min=[_minutes(held.total_seconds()) for held in holding.held],
            words=words,
        )


class FreshnessOut(BaseModel):
    """The air changes of the week."""

    ventings: int
    closed_per_h: float | None = Field(description="median of the closed chamber's fits [1/h]")
    closed_low: float | None
    closed_high: float | None
    fits: int
    words: str

    @classmethod
    def of(cls, found: Freshness, words: str) -> "FreshnessOut":
        """Write what they came to."""
        return cls(
            ventings=found.ventings,
            closed_per_h=found.closed_per_h,
            closed_low=found.closed_low,
            closed_high=found.closed_high,
            fits=found.fits,
            words=words,
        )


class ClimateOut(BaseModel):
    """The air of one chamber over a week."""

    chamber: str
    week: str
    start: Moment
    end: Moment
    over: bool
    shares: list[ShareOut]
    spells: list[SpellOut] = Field(description="the worst, the worst first")
    day: dict[Quantity, list[HourOut]] = Field(description="the typical day")
    mistings: HoldingOut
    air_changes: FreshnessOut
    changes: list[str] = Field(description="what to change, the most needed first")

    @classmethod
    def of(cls, found: ClimateWeek) -> "ClimateOut":
        """Write a week."""
        climate = found.climate
        return cls(
            chamber=climate.chamber,
            week=found.week.name,
            start=climate.start,
            end=climate.end,
            over=found.over,
            shares=[
                ShareOut.of(share, in_band)
                for share, (_, in_band, _) in zip(climate.shares, found.shares, strict=True)
            ],
            spells=[
                SpellOut.of(spell, words)
                for spell, words in zip(climate.spells, found.spells, strict=True)
            ],
            day={q: [HourOut.of(hour) for hour in hours] for q, hours in climate.day.items()},
            mistings=HoldingOut.of(climate.holding, found.holding),
            air_changes=FreshnessOut.of(climate.freshness, found.freshness),
            changes=list(found.changes),
        )
