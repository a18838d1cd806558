"""Set-up: the broker that the sensors speak to."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError
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

BROKER: Final = f"{SET_UP}/broker"


def asked() -> tuple[Field, ...]:
    """Return the questions."""
    return (
        Field(
            "host",
            _("Name or address of the broker"),
            _("This machine, 127.0.0.1, where it is empty."),
        ),
        Field(
            "port",
            _("Its port"),
            _("1883 where it stays empty; over TLS often 8883."),
            "number",
        ),
        Field("username", _("User name"), _("Empty where it asks nobody.")),
        Field("tls", _("Uses TLS"), kind="tick"),
    )


@router.get(BROKER)
def broker(request: Request) -> Response:
    """Ask where the broker is."""
    mqtt = editing_of(desk_of(request)).content().get("mqtt", {})
    shown = {key: str(value) for key, value in mqtt.items() if not isinstance(value, bool)}
    return _form(request, {**shown, "tls": "yes" if mqtt.get("tls") else ""}, {})


@router.post(BROKER)
def changed(request: Request) -> Response:
    """Speak to another broker."""
    told = typed(request)
    editing = editing_of(desk_of(request))
    now = editing.content().get("mqtt", {})
    try:
        editing.change([SetKeys("mqtt", _answers(told, now))])
    except (SettingsError, RefusedError) as error:
        return _form(request, told, cures(error, "mqtt"))
    return RedirectResponse(f"{SET_UP}?said=kept", 303)


def _answers(told: Typed, now: Mapping[str, Any]) -> dict[str, Any]:
    port = told.get("port")
    said: dict[str, Any] = {
        "host": told.get("host") or None,
        "port": plain_number(port) if port else None,
        "username": told.get("username") or None,
    }
    if bool(told.get("tls")) != bool(now.get("tls")):
        said["tls"] = bool(told.get("tls"))
    return said


def _form(request: Request, told: Typed, errors: Mapping[str, str]) -> Response:
    health = desk_of(request).history.health()
    return page(
        "set_up_broker.html",
        NOT_VALID if errors else 200,
        title=_("The broker"),
        address=BROKER,
        fields=filled(asked(), told, errors),
        wrong=bool(errors),
        whole=elsewhere(asked(), errors),
        connected=health.broker_connected,
        troubles=[] if health.broker_connected else health.troubles,
    )
