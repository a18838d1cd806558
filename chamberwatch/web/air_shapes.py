"""What the API gives of the air: its state, its ±, and how close the walls are to wet."""

from pydantic import BaseModel, Field

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.uncertainty import Spread
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import UNITS
from chamberwatch.service.views import ChamberNow
from chamberwatch.web.shapes import Moment


class JudgementOut(BaseModel):
    """A value held against a band, in the unit given."""

    sensor: str
    where: str
    quantity: str
    value: float
    unit: str
    time: Moment
    standing: str
    by: float
    harm: bool
    low: float | None
    high: float | None
    harm_low: float | None
    harm_high: float | None
    source: str

    @classmethod
    def of(cls, judgement: Judgement) -> "JudgementOut":
        """Write a judgement."""
        reading, band = judgement.reading, judgement.band
        return cls(
            sensor=reading.sensor,
            where=judgement.where,
            quantity=reading.quantity,
            value=reading.value,
            unit=UNITS[reading.quantity],
            time=reading.time,
            standing=judgement.standing,
            by=round(judgement.by, 6),
            harm=judgement.harm,
            low=band.low,
            high=band.high,
            harm_low=band.harm_low,
            harm_high=band.harm_high,
            source=band.source,
        )


class DoubtOut(BaseModel):
    """A sensor that is not to be believed: why, since when, and what to look at."""

    sensor: str
    kind: str
    since: Moment
    words: str

    @classmethod
    def of(cls, doubt: Doubt) -> "DoubtOut":
        """Write a doubt."""
        return cls(
            sensor=doubt.sensor, kind=doubt.kind.value, since=doubt.since, words=doubt.words
        )


class PlusMinusOut(BaseModel):
    """How far the values may be off, each as ±, from the accuracy of the sensor."""

    temperature_k: float
    humidity_pct: float
    dew_point_k: float
    vpd_kpa: float
    co2_ppm: float | None

    @classmethod
    def of(cls, spread: Spread) -> "PlusMinusOut":
        """Write the ± of an air state."""
        return cls(
            temperature_k=_fine(spread.temperature_k),
            humidity_pct=_fine(spread.humidity_pct),
            dew_point_k=_fine(spread.dew_point_k),
            vpd_kpa=_kilo(spread.vpd_pa),
            co2_ppm=_fine(spread.co2_ppm) if spread.co2_ppm is not None else None,
        )


class CondensationOut(BaseModel):
    """How close the coldest surface is to being wet."""

    surface_c: float
    margin_k: float = Field(description="surface less dew point; wet at 0 and below")
    plus_minus_k: float = Field(description="± of the margin")
    origin: str = Field(
        description="measured: by a sensor of its own; assumed: from the room through the cover"
    )
    wet: bool
    certain: bool = Field(description="the margin is larger than its ±")

    @classmethod
    def of(cls, margin: Margin) -> "CondensationOut":
        """Write a margin."""
        return cls(
            surface_c=_fine(margin.surface_c),
            margin_k=_fine(margin.margin_k),
            plus_minus_k=_fine(margin.spread_k),
            origin=margin.origin,
            wet=margin.wet,
            certain=margin.certain,
        )


def _fine(value: float) -> float:
    return round(value, 3)


def _kilo(pascals: float) -> float:
    return round(pascals / 1000.0, 4)


class AirOut(BaseModel):
    """The air of one chamber; the derived quantities follow from the first ones."""

    time: Moment | None
    temperature_c: float | None
    humidity_pct: float | None
    co2_ppm: float | None
    pressure_pa: float | None
    dew_point_c: float | None
    frost_point: bool | None = Field(description="the dew point lies below 0 °C: frost forms")
    vpd_kpa: float | None
    wet_bulb_c: float | None
    humidity_ratio_g_per_kg: float | None
    enthalpy_kj_per_kg: float | None = Field(description="for 1 kg of dry air, 0 at 0 °C and dry")
    density_kg_per_m3: float | None
    absolute_humidity_g_per_m3: float | None
    plus_minus: PlusMinusOut | None
    condensation: CondensationOut | None = Field(
        description="of the coldest surface; null: it can't be told"
    )
    judgements: list[JudgementOut]
    stale: bool = Field(description="nothing heard lately: these are old values")
    doubts: list[DoubtOut] = Field(description="sensors not to be believed, with the reason")

    @classmethod
    def of(cls, now: ChamberNow) -> "AirOut":
        """Write the air of a chamber."""
        air = now.air
        return cls(
            time=now.time,
            temperature_c=now.temperature_c,
            humidity_pct=now.humidity_pct,
            co2_ppm=now.co2_ppm,
            pressure_pa=float(round(now.pressure_pa)),
            dew_point_c=_fine(air.dew_point_c) if air else None,
            frost_point=air.frost if air else None,
            vpd_kpa=_kilo(air.vpd_pa) if air else None,
            wet_bulb_c=_fine(air.wet_bulb_c) if air else None,
            humidity_ratio_g_per_kg=round(air.humidity_ratio * 1000.0, 4) if air else None,
            enthalpy_kj_per_kg=_fine(air.enthalpy_j_per_kg / 1000.0) if air else None,
            density_kg_per_m3=_fine(air.density_kg_per_m3) if air else None,
            absolute_humidity_g_per_m3=_fine(air.absolute_humidity_g_per_m3) if air else None,
            plus_minus=PlusMinusOut.of(now.spread) if now.spread is not None else None,
            condensation=CondensationOut.of(now.margin) if now.margin is not None else None,
            judgements=[JudgementOut.of(judgement) for judgement in now.judgements],
            stale=now.stale,
            doubts=[DoubtOut.of(s.doubt) for s in now.sensors if s.doubt is not None],
        )
