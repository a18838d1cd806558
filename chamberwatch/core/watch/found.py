"""Mistings and ventings as the readings show them, and what each taught about the chamber."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from chamberwatch.core.watch.action import Deed


class Kind(StrEnum):
    """What was found."""

    MISTING = "misting"
    VENTING = "venting"


DEEDS: Final[Mapping[Kind, Deed]] = {Kind.MISTING: Deed.MISTED, Kind.VENTING: Deed.VENTED}
"""What a person did, where it was one."""


@dataclass(frozen=True, slots=True)
class Found:
    """One misting or venting in the record of a chamber.

    Attributes:
        id: given by the book; 0 before it is stored.
        chamber: name of the chamber.
        kind: which of the two.
        start: when the air began to change.
        end: when that change was over (peak of the humidity, lowest CO2).
        action: id of the recorded deed it belongs to, None where nobody recorded one.
        confirmed: what the grower answered to “was it?”; None while not asked or not answered.
        humidity_before_pct: just before. [%]
        humidity_after_pct: at `end`. [%]
        vapour_gain_g_per_m3: change of the water in the air from `start` to `end`. [g/m3]
        co2_before_ppm: just before, None without a CO2 sensor. [ppm]
        co2_after_ppm: at `end`. [ppm]
        held: of a misting: how long from `end` until the humidity fell below the band's low
            limit; None while it holds or where the record breaks off before.
        amount: grams of a misting or minutes of a venting, where they were recorded.
    """

    id: int
    chamber: str
    kind: Kind
    start: datetime
    end: datetime
    action: int | None = None
    confirmed: bool | None = None
    humidity_before_pct: float | None = None
    humidity_after_pct: float | None = None
    vapour_gain_g_per_m3: float | None = None
    co2_before_ppm: float | None = None
    co2_after_ppm: float | None = None
    held: timedelta | None = None
    amount: float | None = None

    @property
    def denied(self) -> bool:
        """Tell whether the grower said that it was none."""
        return self.confirmed is False


@dataclass(frozen=True, slots=True)
class Exchange:
    """The air changes of a chamber over one stretch, from its CO2.

    Attributes:
        id: given by the book; 0 before it is stored.
        chamber: name of the chamber.
        start: first reading used.
        end: last reading used.
        vented: the front was open or a fan on; else the chamber was closed.
        per_h: air changes, None where the fit was refused. [1/h]
        low: lower end of the 95 % interval. [1/h]
        high: upper end. [1/h]
        r2: share of the variance that the fit explains.
        end_ppm: where the CO2 would settle. [ppm]
        inlet_ppm: of the air that comes in. [ppm]
        inlet_measured: by a sensor in the surrounding, else assumed.
        source_g_per_h: CO2 given off inside. [g/h]
        refusal: why there is no figure, in words; empty where there is one.
    """

    id: int
    chamber: str
    start: datetime
    end: datetime
    vented: bool
    per_h: float | None = None
    low: float | None = None
    high: float | None = None
    r2: float | None = None
    end_ppm: float | None = None
    inlet_ppm: float | None = None
    inlet_measured: bool = False
    source_g_per_h: float | None = None
    refusal: str = ""
