"""What the API gives of mistings, ventings and air changes."""

from datetime import timedelta

from pydantic import BaseModel, Field

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.watch.found import Exchange
from chamberwatch.service.lookback import AirChanges, Mistings, Shown
from chamberwatch.web.given import Given
from chamberwatch.web.shapes import Moment


def _to(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


class FigureOut(BaseModel):
    """A number with its interval, where it came from, and how many measurements are behind it."""

    value: float
    low: float
    high: float
    origin: str
    count: int

    @classmethod
    def of(cls, figure: Figure, digits: int) -> "FigureOut":
        """Write a figure, rounded."""
        return cls(
            value=round(figure.value, digits),
            low=round(figure.low, digits),
            high=round(figure.high, digits),
            origin=figure.origin,
            count=figure.count,
        )


class EventOut(BaseModel):
    """What mistings and ventings have in common."""

    id: int
    start: Moment
    end: Moment
    recorded: bool = Field(description="a recorded action belongs to it")
    action: int | None = Field(description="id of that action")
    was_it: bool | None = Field(description="what the grower answered; null: not answered")
    question: str | None = Field(description="to be answered where nobody recorded it")
    humidity_before_pct: float | None
    humidity_after_pct: float | None
    vapour_gain_g_per_m3: float | None
    co2_before_ppm: float | None
    co2_after_ppm: float | None


def _event(shown: Shown) -> dict[str, object]:
    found = shown.found
    return {
        "id": found.id,
        "start": found.start,
        "end": found.end,
        "recorded": shown.recorded,
        "action": found.action,
        "was_it": found.confirmed,
        "question": shown.question or None,
        "humidity_before_pct": _to(found.humidity_before_pct, 1),
        "humidity_after_pct": _to(found.humidity_after_pct, 1),
        "vapour_gain_g_per_m3": _to(found.vapour_gain_g_per_m3, 2),
        "co2_before_ppm": _to(found.co2_before_ppm, 0),
        "co2_after_ppm": _to(found.co2_after_ppm, 0),
    }


class MistingOut(EventOut):
    """One misting."""

    amount_g: float | None = Field(description="as recorded")
    held_minutes: float | None = Field(
        description="from its end until the humidity stayed below the band; null: not known"
    )
    still_holding: bool

    @classmethod
    def of(cls, shown: Shown) -> "MistingOut":
        """Write a misting."""
        held = shown.found.held
        return cls.model_validate(
            {
                **_event(shown),
                "amount_g": _to(shown.found.amount, 1),
                "held_minutes": None if held is None else _to(held / timedelta(minutes=1), 1),
                "still_holding": shown.still_holding,
            }
        )


class VentingOut(EventOut):
    """One venting."""

    amount_minutes: float | None = Field(description="as recorded")
    minutes: float = Field(description="as the air shows it")

    @classmethod
    def of(cls, shown: Shown) -> "VentingOut":
        """Write a venting."""
        length = shown.found.end - shown.found.start
        return cls.model_validate(
            {
                **_event(shown),
                "amount_minutes": _to(shown.found.amount, 1),
                "minutes": _to(length / timedelta(minutes=1), 1),
            }
        )


class ExchangeOut(BaseModel):
    """The air changes over one stretch, or why there is no figure."""

    id: int
    start: Moment
    end: Moment
    vented: bool = Field(description="the front was open; else the chamber was closed")
    air_changes_per_h: float | None
    low: float | None = Field(description="lower end of the 95 % interval")
    high: float | None
    r2: float | None
    end_ppm: float | None = Field(description="where the CO2 would settle")
    inlet_ppm: float | None
    inlet_measured: bool = Field(description="by a sensor in the surrounding; else assumed")
    source_g_per_h: float | None = Field(description="CO2 given off inside")
    refusal: str | None = Field(description="why there is no figure")

    @classmethod
    def of(cls, exchange: Exchange) -> "ExchangeOut":
        """Write a stretch."""
        return cls(
            id=exchange.id,
            start=exchange.start,
            end=exchange.end,
            vented=exchange.vented,
            air_changes_per_h=_to(exchange.per_h, 2),
            low=_to(exchange.low, 2),
            high=_to(exchange.high, 2),
            r2=_to(exchange.r2, 3),
            end_ppm=_to(exchange.end_ppm, 0),
            inlet_ppm=_to(exchange.inlet_ppm, 0),
            inlet_measured=exchange.inlet_measured,
            source_g_per_h=_to(exchange.source_g_per_h, 3),
            refusal=exchange.refusal or None,
        )


class MistingsOut(BaseModel):
    """Mistings, newest first."""

    chamber: str
    mistings: list[MistingOut]
    typical_hold_minutes: FigureOut | None = Field(
        description="median of the last 7 days, with its middle half; null: none known yet"
    )

    @classmethod
    def of(cls, chamber: str, found: Mistings) -> "MistingsOut":
        """Write the mistings of a chamber."""
        typical = found.typical_hold_min
        return cls(
            chamber=chamber,
            mistings=[MistingOut.of(shown) for shown in found.shown],
            typical_hold_minutes=None if typical is None else FigureOut.of(typical, 1),
        )


class AirChangesOut(BaseModel):
    """Air changes, newest first, and the ventings beside them."""

    chamber: str
    best: FigureOut = Field(
        description="air changes of the closed chamber per hour, from the last 7 days"
    )
    air_changes: list[ExchangeOut]
    ventings: list[VentingOut]

    @classmethod
    def of(cls, chamber: str, found: AirChanges) -> "AirChangesOut":
        """Write the air changes of a chamber."""
        return cls(
            chamber=chamber,
            best=FigureOut.of(found.best, 2),
            air_changes=[ExchangeOut.of(exchange) for exchange in found.exchanges],
            ventings=[VentingOut.of(shown) for shown in found.ventings],
        )


class WasItIn(Given):
    """The answer to “was it?”."""

    was_it: bool = Field(strict=True)
