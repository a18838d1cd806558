"""What the API gives of amounts and forecasts."""

from pydantic import BaseModel, Field

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice
from chamberwatch.core.watch.outlook import HoldAnswer
from chamberwatch.core.watch.situation import Situation
from chamberwatch.service.views import CounselNow, HoldNow
from chamberwatch.web.shapes import Moment


class FigureOut(BaseModel):
    """A number with the range it may lie in and where it came from."""

    value: float
    low: float
    high: float
    origin: str = Field(description="measured, declared or assumed")
    count: int = Field(description="measurements behind it")

    @classmethod
    def of(cls, figure: Figure) -> "FigureOut":
        """Write a figure."""
        return cls(
            value=round(figure.value, 4),
            low=round(figure.low, 4),
            high=round(figure.high, 4),
            origin=figure.origin,
            count=figure.count,
        )


class KnownOut(BaseModel):
    """What was reckoned with: the chamber's ways, its room, and the water that stands."""

    volume_l: float
    air_changes_per_h: FigureOut = Field(description="closed")
    vent_air_changes_per_h: FigureOut
    device_air_changes_per_h: float
    device_water_g_per_h: float
    co2_source_g_per_h: FigureOut | None
    wet_area_m2: FigureOut
    standing_share: FigureOut = Field(description="of water put onto walls and trays, what counts")
    spray_share: FigureOut = Field(description="of water sprayed, what the air takes at once")
    standing_g: float = Field(description="water on walls and in trays, as far as is known")
    inlet_ppm: FigureOut
    room_temperature_c: float
    room_humidity_pct: float
    room_measured: bool

    @classmethod
    def of(cls, situation: Situation) -> "KnownOut":
        """Write what was reckoned with."""
        known = situation.known
        source = known.source_g_per_h
        return cls(
            volume_l=round(known.volume_m3 * 1000.0, 3),
            air_changes_per_h=FigureOut.of(known.leak_per_h),
            vent_air_changes_per_h=FigureOut.of(known.vent_per_h),
            device_air_changes_per_h=round(situation.supply.air_changes_per_h, 3),
            device_water_g_per_h=round(situation.supply.water_g_per_h, 3),
            co2_source_g_per_h=FigureOut.of(source) if source else None,
            wet_area_m2=FigureOut.of(known.wet_area_m2),
            standing_share=FigureOut.of(known.standing_share),
            spray_share=FigureOut.of(known.spray_share),
            standing_g=round(situation.standing_g, 1),
            inlet_ppm=FigureOut.of(situation.inlet_ppm),
            room_temperature_c=round(situation.room.temperature_c, 2),
            room_humidity_pct=round(situation.room.humidity_pct, 1),
            room_measured=situation.room_measured,
        )


class MistOut(BaseModel):
    """How much to mist now, and what will come of it."""

    squeezes: int
    into_air_g: float
    standing_g: float = Field(description="to put onto walls and into trays")
    carried_off_g_per_h: float
    humidity_soon_pct: float = Field(description="a quarter of an hour later")
    settles_pct: float = Field(description="where it stays while the surfaces are wet")
    wanted_until: Moment
    holds_until: Moment
    limit: str | None = Field(description="what ends it before `wanted_until`; null: it holds")
    words: str

    @classmethod
    def of(cls, advice: MistAdvice, words: str) -> "MistOut":
        """Write advice."""
        return cls(
            squeezes=advice.squeezes,
            into_air_g=round(advice.into_air_g, 1),
            standing_g=round(advice.standing_g, 1),
            carried_off_g_per_h=round(advice.carried_off_g_per_h, 2),
            humidity_soon_pct=round(advice.reach_pct, 1),
            settles_pct=round(advice.settles_pct, 1),
            wanted_until=advice.wanted_until,
            holds_until=advice.holds_until,
            limit=advice.limit,
            words=words,
        )


class VentOut(BaseModel):
    """How long to vent now, and what will come of it."""

    minutes: int
    aim_ppm: float
    reach_ppm: float
    reachable: bool
    floor_ppm: float = Field(description="lowest CO2 that venting can reach")
    temperature_c: float = Field(description="after it")
    humidity_pct: float = Field(description="after it")
    back_at_limit: Moment | None
    humidity_cost_pct: float = Field(description="humidity that it takes away")
    full_minutes: int | None = Field(
        description="if humidity were no matter; null: that is what is advised"
    )
    mist_after: bool
    words: str

    @classmethod
    def of(cls, advice: VentAdvice, words: str) -> "VentOut":
        """Write advice."""
        return cls(
            minutes=advice.minutes,
            aim_ppm=round(advice.aim_ppm),
            reach_ppm=round(advice.reach_ppm),
            reachable=advice.reachable,
            floor_ppm=round(advice.floor_ppm),
            temperature_c=round(advice.temperature_c, 1),
            humidity_pct=round(advice.humidity_pct, 1),
            back_at_limit=advice.back_until,
            humidity_cost_pct=round(advice.costs_pct, 1),
            full_minutes=advice.full_minutes,
            mist_after=advice.mist is not None,
            words=words,
        )


class AdviceOut(BaseModel):
    """What misting and venting would do now, and from what it was reckoned."""

    time: Moment
    mist: MistOut | None
    vent: VentOut | None
    last_held_min: float | None
    known: KnownOut

    @classmethod
    def of(cls, counsel: CounselNow) -> "AdviceOut":
        """Write what can be reckoned."""
        held = counsel.last_held
        return cls(
            time=counsel.situation.now,
            mist=MistOut.of(counsel.mist, counsel.mist_words) if counsel.mist else None,
            vent=VentOut.of(counsel.vent, counsel.vent_words) if counsel.vent else None,
            last_held_min=round(held.total_seconds() / 60.0, 1) if held is not None else None,
            known=KnownOut.of(counsel.situation),
        )


class HoldOut(BaseModel):
    """Whether the air holds until a time, and what would make it."""

    asked_until: Moment
    holds: bool
    until: Moment = Field(description="until when it does, at most `asked_until`")
    limit: str | None = Field(description="what ends it; null: it holds")
    humidity_pct: float = Field(description="at `until`")
    co2_ppm: float | None = Field(description="at `until`; null: not known")
    add_water_g: float | None = Field(
        description="onto walls and trays to hold, or to hold longest; null: none is needed"
    )
    changes_per_h: float | None = Field(
        description="air changes at which it would hold with all surfaces wet; null: not needed"
    )
    load_share: float | None = Field(
        description="part of the crop whose CO2 would stay below the limit; null: all, or unknown"
    )
    words: str

    @classmethod
    def of(cls, hold: HoldNow) -> "HoldOut":
        """Write an answer."""
        answer: HoldAnswer = hold.answer
        return cls(
            asked_until=answer.asked_until,
            holds=answer.holds,
            until=answer.until,
            limit=answer.limit,
            humidity_pct=round(answer.humidity_pct, 1),
            co2_ppm=round(answer.co2_ppm) if answer.co2_ppm is not None else None,
            add_water_g=round(answer.mist.standing_g, 1) if answer.mist is not None else None,
            changes_per_h=(
                round(answer.changes_per_h, 2) if answer.changes_per_h is not None else None
            ),
            load_share=round(answer.load_share, 2) if answer.load_share is not None else None,
            words=hold.words,
        )
