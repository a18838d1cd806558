"""What the API gives of deeds and their effects."""

from collections.abc import Sequence
from datetime import timedelta

from pydantic import BaseModel, Field

from chamberwatch.core import effect_words
from chamberwatch.core.watch.effect import Effect, Outcome
from chamberwatch.core.watch.reading import UNITS
from chamberwatch.service.views import DeedDone
from chamberwatch.web.shapes import ActionOut, tenths


class EffectOut(BaseModel):
    """What came of a deed."""

    outcome: Outcome = Field(
        description="none: the sensor was heard throughout, and no change exceeds its noise"
    )
    quantity: str = Field(description="what was looked at: humidity after a misting, and so on")
    unit: str
    before: float | None
    after: float | None
    change: float | None = Field(description="below 0: it fell")
    minutes: float | None = Field(description="until nine tenths of the change were there")
    held_minutes: float | None = Field(
        description="of a misting: until the humidity stayed below the band; null: not known"
    )
    words: str | None

    @classmethod
    def of(cls, effect: Effect) -> "EffectOut":
        """Write an effect."""
        held = effect.held / timedelta(minutes=1) if effect.held is not None else None
        return cls(
            outcome=effect.outcome,
            quantity=effect.quantity,
            unit=UNITS[effect.quantity],
            before=tenths(effect.before),
            after=tenths(effect.after),
            change=tenths(effect.change),
            minutes=tenths(effect.minutes),
            held_minutes=tenths(held),
            words=effect_words.said(effect) or None,
        )


class DeedOut(ActionOut):
    """What a person did, and what came of it."""

    effect: EffectOut | None = Field(
        description="null: nothing is known of it, or such a deed has none that a sensor shows"
    )

    @classmethod
    def with_effect(cls, done: DeedDone) -> "DeedOut":
        """Write a deed with its effect."""
        effect = EffectOut.of(done.effect) if done.effect is not None else None
        return cls(**ActionOut.of(done.action).model_dump(), effect=effect)


class ActionsOut(BaseModel):
    """Deeds, newest first."""

    actions: list[DeedOut]

    @classmethod
    def of(cls, done: Sequence[DeedDone]) -> "ActionsOut":
        """Write deeds."""
        return cls(actions=[DeedOut.with_effect(each) for each in done])
