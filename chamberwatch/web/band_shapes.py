"""What the API gives of the band of a chamber: each limit, whose wish it is, who disagrees."""

from collections.abc import Iterable
from datetime import datetime
from typing import Literal

from pydantic import BaseModel, Field

from chamberwatch.core.growing.band import HOME_BANDS, Stage
from chamberwatch.core.growing.band_words import disagreement_words, limit_words, stated_words
from chamberwatch.core.growing.wants import Following, Grown, Limits, Voice
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.web.shapes import Moment

Follows = Literal["batches", "stated stage", "nothing"]


class BecauseOut(BaseModel):
    """Whose wish a limit is."""

    batch: int
    species: str
    stage: Stage
    words: str = Field(description="such as: pinning, grey oyster, batch 14")
    source: str = Field(description="who says so of low and high")
    note: str = Field(description="how the limit differs from what the source says, or empty")

    @classmethod
    def of(cls, voice: Voice) -> "BecauseOut":
        """Write whose wish it is."""
        return cls(
            batch=voice.batch,
            species=voice.species,
            stage=voice.stage,
            words=voice.words,
            source=voice.source,
            note=voice.note,
        )


class LimitOut(BaseModel):
    """One limit."""

    value: float
    because: BecauseOut | None = Field(description="null: general band of the stated stage")

    @classmethod
    def of(cls, value: float | None, voice: Voice | None) -> "LimitOut | None":
        """Write a limit, null where there is none."""
        if value is None:
            return None
        return cls(value=round(value, 2), because=BecauseOut.of(voice) if voice else None)


class LimitsOut(BaseModel):
    """The band of one quantity."""

    quantity: Quantity
    unit: str
    low: LimitOut | None
    high: LimitOut | None
    harm_low: LimitOut | None
    harm_high: LimitOut | None
    high_after_min: float | None = Field(
        description="how long it must stay above high, where that is longer than usual"
    )
    words: str = Field(description="the same in a sentence, with the source")

    @classmethod
    def of(cls, quantity: str, limits: Limits, words: str) -> "LimitsOut":
        """Write the band of one quantity."""
        band = limits.band
        after = band.high_after
        return cls(
            quantity=Quantity(quantity),
            unit=UNITS[Quantity(quantity)],
            low=LimitOut.of(band.low, limits.low),
            high=LimitOut.of(band.high, limits.high),
            harm_low=LimitOut.of(band.harm_low, limits.harm_low),
            harm_high=LimitOut.of(band.harm_high, limits.harm_high),
            high_after_min=None if after is None else after.total_seconds() / 60.0,
            words=words,
        )


class StandsOut(BaseModel):
    """A batch that stands in the chamber."""

    batch: int
    species: str
    stage: Stage
    sealed: bool = Field(description="it keeps its own air, so only temperature is asked of it")

    @classmethod
    def of(cls, grown: Grown) -> "StandsOut":
        """Write a batch."""
        return cls(
            batch=grown.batch,
            species=grown.species.title,
            stage=grown.stage,
            sealed=grown.sealed,
        )


class CompromiseOut(BaseModel):
    """The band that holds where none suits all."""

    low: float | None
    high: float | None


class DisagreementOut(BaseModel):
    """A quantity in which no air suits all."""

    quantity: Quantity
    words: str
    batches: list[int] = Field(description="those that it does not suit")
    compromise: CompromiseOut

    @classmethod
    def of(cls, quantity: str, limits: Limits) -> "DisagreementOut":
        """Write a disagreement."""
        return cls(
            quantity=Quantity(quantity),
            words=disagreement_words(quantity, limits, UNITS[Quantity(quantity)]),
            batches=[voice.batch for voice in limits.against],
            compromise=CompromiseOut(low=limits.band.low, high=limits.band.high),
        )


class BandOut(BaseModel):
    """The band of a chamber as it holds now, and why."""

    chamber: str
    follows: Follows = Field(
        description="batches; the stated stage while none was ever recorded there; nothing where "
        "it is empty, or a room"
    )
    limits: list[LimitsOut] = Field(description="a quantity that is missing is not judged")
    batches: list[StandsOut] = Field(description="open ones first")
    disagreements: list[DisagreementOut]
    settles_until: Moment | None = Field(
        description="after a change of the band the chamber is left in peace until then"
    )

    @classmethod
    def of(cls, chamber: Chamber, settles_until: datetime | None) -> "BandOut":
        """Write the band of a chamber."""
        following = chamber.following
        limits = _stated(chamber.stage) if following is None else _followed(following)
        disagreements = {} if following is None else following.disagreements
        return cls(
            chamber=chamber.name,
            follows=_follows(chamber),
            limits=list(limits),
            batches=[StandsOut.of(grown) for grown in following.grown] if following else [],
            disagreements=[DisagreementOut.of(name, each) for name, each in disagreements.items()],
            settles_until=settles_until,
        )


class BandWordsOut(BaseModel):
    """What the air of a chamber must be, for who has just told something."""

    chamber: str
    words: list[str] = Field(description="one sentence for each quantity that is judged")
    disagreements: list[str]

    @classmethod
    def of(cls, chamber: Chamber) -> "BandWordsOut":
        """Write the band in sentences alone."""
        band = BandOut.of(chamber, None)
        return cls(
            chamber=band.chamber,
            words=[limits.words for limits in band.limits],
            disagreements=[each.words for each in band.disagreements],
        )


def _follows(chamber: Chamber) -> Follows:
    if chamber.following is None:
        return "nothing" if chamber.stage is None else "stated stage"
    return "batches" if chamber.following.grown else "nothing"


def _followed(following: Following) -> Iterable[LimitsOut]:
    for quantity, limits in following.limits.items():
        unit = UNITS[Quantity(quantity)]
        yield LimitsOut.of(quantity, limits, limit_words(quantity, limits, unit))


def _stated(stage: Stage | None) -> Iterable[LimitsOut]:
    if stage is None:
        return
    for quantity, band in HOME_BANDS.get(stage, {}).items():
        unit = UNITS[Quantity(quantity)]
        yield LimitsOut.of(quantity, Limits(band), stated_words(quantity, stage, band, unit))
