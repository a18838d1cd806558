"""What the API gives of weeks looked back on."""

from datetime import timedelta
from typing import Annotated

from pydantic import BaseModel, Field

from chamberwatch.core.review.calming import Setting, Suggestion
from chamberwatch.core.review.quality import (
    A_DAY,
    SPLIT,
    STALE_AT_MOST,
    Cause,
    Flood,
    Stale,
)
from chamberwatch.core.review.record import Kind
from chamberwatch.core.review_words import written
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.reviewing import TiringNow, WeekReview
from chamberwatch.web.shapes import Moment

Share = Annotated[float, Field(ge=0.0, le=1.0)]


def _hundredths(share: float | None) -> float | None:
    return None if share is None else round(share, 2)


def _minutes(length: timedelta | None) -> float | None:
    return None if length is None else round(length.total_seconds() / 60, 1)


class CauseOut(BaseModel):
    """What messages were about."""

    chamber: str
    call: Call | None
    subject: str
    kind: Kind
    about: str = Field(description="the same in words")
    messages: int

    @classmethod
    def of(cls, cause: Cause, about: str) -> "CauseOut":
        """Write a cause."""
        return cls(
            chamber=cause.chamber,
            call=cause.call,
            subject=cause.subject,
            kind=cause.kind,
            about=about,
            messages=cause.messages,
        )


class StaleOut(BaseModel):
    """A reminder that was on for longer than a day."""

    reminder: int
    title: str
    since: Moment
    lasted_h: float

    @classmethod
    def of(cls, stale: Stale, title: str) -> "StaleOut":
        """Write one."""
        hours = round(stale.lasted.total_seconds() / 3600, 1)
        return cls(reminder=stale.reminder, title=title, since=stale.since, lasted_h=hours)


class FloodOut(BaseModel):
    """More messages at once than a person can take in."""

    start: Moment
    end: Moment
    messages: int

    @classmethod
    def of(cls, flood: Flood) -> "FloodOut":
        """Write a flood."""
        return cls(start=flood.start, end=flood.end, messages=flood.messages)


class SuggestionOut(BaseModel):
    """A setting that would have calmed a reminder, by playing the week again."""

    setting: Setting
    quantity: Quantity | None
    value: float = Field(description="minutes; a deadband in the unit of its quantity")
    was: float
    written: str = Field(description="as it stands in the settings file")
    spared: int = Field(description="raises it would have spared, at least")
    raises: int

    @classmethod
    def of(cls, option: Suggestion) -> "SuggestionOut":
        """Write a suggestion."""
        return cls(
            setting=option.setting,
            quantity=option.quantity,
            value=option.value,
            was=option.was,
            written=written(option),
            spared=option.spared,
            raises=option.raises,
        )


class TiringOut(BaseModel):
    """A reminder that tires, and what would calm it."""

    reminder: int
    chamber: str
    call: Call
    subject: str
    title: str
    messages: int
    chattering: int
    fleeting: int
    raises: int
    needed_a_hand: int
    typical_min: float | None = Field(description="median length of an episode")
    suggestion: SuggestionOut | None
    advice: str

    @classmethod
    def of(cls, shown: TiringNow) -> "TiringOut":
        """Write one of the worst."""
        found = shown.tiring
        return cls(
            reminder=found.reminder,
            chamber=shown.reminder.chamber,
            call=shown.reminder.call,
            subject=shown.reminder.subject,
            title=shown.title,
            messages=found.messages,
            chattering=found.chattering,
            fleeting=found.fleeting,
            raises=found.raises,
            needed_a_hand=found.needed,
            typical_min=_minutes(found.typical),
            suggestion=SuggestionOut.of(found.suggestion) if found.suggestion else None,
            advice=shown.advice,
        )


class PrioritiesOut(BaseModel):
    """Something of each priority."""

    low: float
    medium: float
    high: float


class AimsOut(BaseModel):
    """What the figures are held against."""

    per_day_calm: float = Field(default=A_DAY[0], description="common practice for one person")
    per_day_at_most: float = A_DAY[1]
    by_priority: PrioritiesOut = PrioritiesOut(
        **{priority.word: share for priority, share in SPLIT.items()}
    )
    chattering: int = 0
    fleeting: int = 0
    stale_fewer_than: int = STALE_AT_MOST
    floods: int = 0


class WeekOut(BaseModel):
    """How the reminders did in a week."""

    week: str = Field(examples=["2026-W47"])
    start: Moment
    end: Moment
    over: bool = Field(description="else the figures are those so far")
    messages: int = Field(description="that went out; one, however many phones it went to")
    per_day: float
    by_priority: dict[str, int]
    by_cause: list[CauseOut]
    not_sent: dict[str, int] = Field(description="what else became of messages")
    episodes: int = Field(description="of the air and the sensors, shelved ones left out")
    told: int
    acknowledged: int
    acknowledged_share: Share | None
    answered: int
    median_to_action_min: float | None
    chattering: int = Field(description="raises in a row of 3 or more within an hour")
    chattering_within_a_minute: int = Field(description="the same as ANSI/ISA-18.2 has it")
    fleeting: int
    stale: list[StaleOut]
    ten_most_frequent_share: Share | None = Field(description="null where ten or fewer spoke")
    floods: list[FloodOut]
    worst: list[TiringOut]

    @classmethod
    def of(cls, shown: WeekReview) -> "WeekOut":
        """Write a week."""
        found = shown.quality
        return cls(
            week=shown.week.name,
            start=shown.start,
            end=shown.end,
            over=shown.over,
            messages=found.messages,
            per_day=round(found.per_day, 1),
            by_priority={p.word: found.by_priority[p] for p in Priority},
            by_cause=[
                CauseOut.of(c, w) for c, w in zip(found.by_cause, shown.causes, strict=True)
            ],
            not_sent={fate.value: number for fate, number in found.not_sent.items()},
            episodes=found.episodes,
            told=found.told,
            acknowledged=found.acknowledged,
            acknowledged_share=_hundredths(found.acknowledged_share),
            answered=found.answered,
            median_to_action_min=_minutes(found.median_to_action),
            chattering=found.chattering,
            chattering_within_a_minute=found.chattering_strictly,
            fleeting=found.fleeting,
            stale=[StaleOut.of(s, shown.titles[s.reminder]) for s in found.stale],
            ten_most_frequent_share=_hundredths(found.most_frequent_share),
            floods=[FloodOut.of(flood) for flood in found.floods],
            worst=[TiringOut.of(each) for each in shown.worst],
        )


class QualityOut(BaseModel):
    """How the reminders did, the newest week first."""

    aims: AimsOut
    weeks: list[WeekOut]

    @classmethod
    def of(cls, shown: tuple[WeekReview, ...]) -> "QualityOut":
        """Write weeks."""
        return cls(aims=AimsOut(), weeks=[WeekOut.of(each) for each in shown])
