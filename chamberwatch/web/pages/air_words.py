"""What follows from the air, in words no finer than its sensors allow."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.uncertainty import (
    DEW_POINT_DECIMALS,
    VPD_KPA_DECIMALS,
    decimals_for,
)
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.service.views import ChamberNow
from chamberwatch.web.pages import words

PLUS_MINUS: Final = "\N{PLUS-MINUS SIGN}"
PA_PER_KPA: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity that follows from the others, with what it is good for.

    Attributes:
        name: of the quantity.
        value: with its unit.
        hint: what it is good for, or where it came from.
        spread: its ±; empty where none is known.
        shape: wet, dry or unsure, drawn beside the value; empty for no shape.
    """

    name: str
    value: str
    hint: str
    spread: str = ""
    shape: str = ""


def plus_minus(spread: float, most: int) -> str:
    """Write a ± in the unit it is given in, never as nothing."""
    decimals = decimals_for(spread, most)
    return f"{PLUS_MINUS}{words.GAP}{max(spread, 10.0**-decimals):.{decimals}f}"


def derived(shown: ChamberNow) -> tuple[Derived, ...]:
    """Return what follows from the air of a chamber; nothing where that isn't known."""
    air, off = shown.air, shown.spread
    if air is None:
        return ()
    vpd_spread = off.vpd_pa / PA_PER_KPA if off else None
    facts = [
        _fact(
            _point(shown),
            (air.dew_point_c, "°C"),
            off.dew_point_k if off else None,
            DEW_POINT_DECIMALS,
            "a wall colder than this gets wet",
        ),
        _fact(
            "vapour-pressure deficit",
            (air.vpd_pa / PA_PER_KPA, "kPa"),
            vpd_spread,
            VPD_KPA_DECIMALS,
            "how hard the air pulls water out of pins and caps",
        ),
        _fact(
            "wet bulb",
            (air.wet_bulb_c, "°C"),
            None,
            1,
            "misting can cool the air this far, no further",
        ),
    ]
    if shown.margin is not None:
        facts.append(margin_fact(shown.margin, _point(shown)))
    return tuple(facts)


def _point(shown: ChamberNow) -> str:
    return "frost point" if shown.air is not None and shown.air.frost else "dew point"


def _fact(
    name: str, amount: tuple[float, str], spread: float | None, most: int, hint: str
) -> Derived:
    value, unit = amount
    decimals = most if spread is None else decimals_for(spread, most)
    off = "" if spread is None else plus_minus(spread, most)
    return Derived(name, f"{words.number(value, decimals)}{words.GAP}{unit}", hint, off)


_FROM: Final[dict[Origin, str]] = {
    Origin.MEASURED: "measured on the surface",
    Origin.DECLARED: "reckoned from what you stated",
    Origin.ASSUMED: "reckoned from the room through the cover",
}


def margin_fact(margin: Margin, point: str) -> Derived:
    """Say how far the coldest surface is from being wet.

    Args:
        margin: of the coldest surface.
        point: dew point or frost point.
    """
    what = "surface" if margin.origin is Origin.MEASURED else "walls"
    decimals = decimals_for(margin.spread_k, DEW_POINT_DECIMALS)
    by = f"{words.number(abs(margin.margin_k), decimals)}{words.GAP}K"
    side = "above" if margin.margin_k > 0.0 else "below"
    hint = _FROM[margin.origin]
    if not margin.certain:
        said, shape = f"can't be told: {what} {by} {side} the {point}", "unsure"
        hint = f"{hint}; look whether there are drops"
    elif margin.wet:
        said, shape = f"wet: {what} {by} below the {point}", "wet"
    else:
        said, shape = f"dry: {what} {by} above the {point}", "dry"
    off = plus_minus(margin.spread_k, DEW_POINT_DECIMALS)
    return Derived("condensation margin", said, hint, off, shape)


def reading_spread(sensor: Sensor, quantity: Quantity, value: float) -> str:
    """Write how far a reading may be off by its sensor's claim; empty where it claims nothing."""
    claim = sensor.accuracy
    match quantity:
        case Quantity.TEMPERATURE:
            on_a_wall = sensor.place is Place.SURFACE
            return plus_minus(claim.surface_k if on_a_wall else claim.temperature_k, 1)
        case Quantity.HUMIDITY:
            return plus_minus(claim.humidity_at_pct(value), 1)
        case Quantity.CO2:
            # No finer than tens: the claim itself is a round number.
            return plus_minus(max(round(claim.co2_at_ppm(value), -1), 10.0), 0)
        case _:
            return ""
