"""Set-up: where the house stands, and how its people like to read figures."""

from collections.abc import Mapping
from typing import Final

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError
from chamberwatch.core.shown_in import TemperatureUnit, WeightUnit
from chamberwatch.settings import SetKeys
from chamberwatch.web.desk import desk_of, editing_of
from chamberwatch.web.gate import by_people
from chamberwatch.web.language import _
from chamberwatch.web.pages.faults import cures
from chamberwatch.web.pages.form import (
    Field,
    Typed,
    elsewhere,
    filled,
    plain_number,
    typed,
)
from chamberwatch.web.pages.set_up import SET_UP
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False, dependencies=[Depends(by_people)])

UNITS: Final = f"{SET_UP}/units"


def asked() -> tuple[Field, ...]:
    """Return the questions."""
    return (
        Field(
            "timezone",
            _("Time zone"),
            _("Such as Europe/Lisbon: for times of day in messages and on pages."),
        ),
        Field(
            "altitude_m",
            _("Altitude, metres above the sea"),
            _("It gives the air pressure where no sensor measures it."),
            "number",
        ),
        Field(
            "temperature",
            _("Temperatures in"),
            _("Pages show them so; kept and judged they are in °C always."),
            "choice",
            tuple((unit.value, unit.value) for unit in TemperatureUnit),
        ),
        Field(
            "weight",
            _("Weights in"),
            kind="choice",
            options=((WeightUnit.GRAM.value, _("g and kg")), (WeightUnit.OUNCE.value, "oz")),
        ),
    )


@router.get(UNITS)
def units(request: Request) -> Response:
    """Ask for place and units."""
    desk = desk_of(request)
    site = editing_of(desk).content().get("site", {})
    shown = {key: str(value) for key, value in site.items()}
    liked = desk.shown_in
    first = {
        "timezone": desk.zone.key,
        "altitude_m": "0",
        "temperature": liked.temperature.value,
        "weight": liked.weight.value,
    }
    return _form({**first, **shown}, {})


@router.post(UNITS)
def changed(request: Request) -> Response:
    """Change place and units."""
    told = typed(request)
    keys = {field.name: told[field.name] or None for field in asked() if field.name in told}
    altitude = keys.get("altitude_m")
    said = {**keys, "altitude_m": plain_number(altitude) if altitude else None}
    try:
        editing_of(desk_of(request)).change([SetKeys("site", said)])
    except (SettingsError, RefusedError) as error:
        return _form(told, cures(error, "site"))
    return RedirectResponse(f"{SET_UP}?said=kept", 303)


def _form(told: Typed, errors: Mapping[str, str]) -> Response:
    return page(
        "set_up_units.html",
        NOT_VALID if errors else 200,
        title=_("Place and units"),
        address=UNITS,
        fields=filled(asked(), told, errors),
        wrong=bool(errors),
        whole=elsewhere(asked(), errors),
    )
