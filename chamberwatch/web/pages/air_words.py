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
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, marked

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


def plus_minus(spread: float, most: int, figures: Figures) -> str:
    """Write a ± in the unit it is given in, never as nothing."""
    decimals = decimals_for(spread, most)
    shown = figures.number(max(spread, 10.0**-decimals), decimals)
    return f"{PLUS_MINUS}{words.GAP}{shown}"


def derived(shown: ChamberNow, figures: Figures) -> tuple[Derived, ...]:
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
            _("a wall colder than this gets wet"),
            figures,
        ),
        _fact(
            _("vapour-pressure deficit"),
            (air.vpd_pa / PA_PER_KPA, "kPa"),
            vpd_spread,
            VPD_KPA_DECIMALS,
            _("how hard the air pulls water out of pins and caps"),
            figures,
        ),
        _fact(
            _("wet bulb"),
            (air.wet_bulb_c, "°C"),
            None,
            1,
            _("misting can cool the air this far, no further"),
            figures,
        ),
    ]
    if shown.margin is not None:
        facts.append(margin_fact(shown.margin, _point(shown), figures))
    return tuple(facts)


def _point(shown: ChamberNow) -> str:
    return _("frost point") if shown.air is not None and shown.air.frost else _("dew point")


def _fact(
    name: str,
    amount: tuple[float, str],
    spread: float | None,
    most: int,
    hint: str,
    figures: Figures,
) -> Derived:
    value, unit = amount
    decimals = most if spread is None else decimals_for(spread, most)
    if unit == "°C":
        said = figures.temperature(value, decimals)
        spread = None if spread is None else figures.shown_in.difference_of(spread)
    else:
        said = f"{figures.number(value, decimals)}{words.GAP}{unit}"
    off = "" if spread is None else plus_minus(spread, most, figures)
    return Derived(name, said, hint, off)


_FROM: Final[dict[Origin, str]] = {
    Origin.MEASURED: marked("measured on the surface"),
    Origin.DECLARED: marked("reckoned from what you stated"),
    Origin.ASSUMED: marked("reckoned from the room through the cover"),
}


def margin_fact(margin: Margin, point: str, figures: Figures) -> Derived:
    """Say how far the coldest surface is from being wet.

    Args:
        margin: of the coldest surface.
        point: dew point or frost point.
        figures: how values are written.
    """
    what = _("surface") if margin.origin is Origin.MEASURED else _("walls")
    decimals = decimals_for(margin.spread_k, DEW_POINT_DECIMALS)
    by = figures.margin(abs(margin.margin_k), decimals)
    side = _("above") if margin.margin_k > 0.0 else _("below")
    hint = _(_FROM[margin.origin])
    if not margin.certain:
        said, shape = (
            _(
                "can't be told: %(what)s %(by)s %(side)s the %(point)s",
                what=what,
                by=by,
                side=side,
                point=point,
            ),
            "unsure",
        )
        hint = _("%(hint)s; look whether there are drops", hint=hint)
    elif margin.wet:
        said, shape = (
            _("wet: %(what)s %(by)s below the %(point)s", what=what, by=by, point=point),
            "wet",
        )
    else:
        said, shape = (
            _("dry: %(what)s %(by)s above the %(point)s", what=what, by=by, point=point),
            "dry",
        )
    spread = figures.shown_in.difference_of(margin.spread_k)
    off = plus_minus(spread, DEW_POINT_DECIMALS, figures)
    return Derived(_("condensation margin"), said, hint, off, shape)


def reading_spread(sensor: Sensor, quantity: Quantity, value: float, figures: Figures) -> str:
    """Write how far a reading may be off by its sensor's claim; empty where it claims nothing."""
    claim = sensor.accuracy
    match quantity:
        case Quantity.TEMPERATURE:
            on_a_wall = sensor.place is Place.SURFACE
            off = claim.surface_k if on_a_wall else claim.temperature_k
            return plus_minus(figures.shown_in.difference_of(off), 1, figures)
        case Quantity.HUMIDITY:
            return plus_minus(claim.humidity_at_pct(value), 1, figures)
        case Quantity.CO2:
            # No finer than tens: the claim itself is a round number.
            return plus_minus(max(round(claim.co2_at_ppm(value), -1), 10.0), 0, figures)
        case _:
            return ""
