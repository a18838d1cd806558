"""The way onto the phone: a code to point its camera at, and a place on its home screen."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import urlsplit

from fastapi import APIRouter, Depends, Form, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError
from chamberwatch.settings import SetKeys
from chamberwatch.web.desk import Desk, desk_of, editing_of
from chamberwatch.web.gate import by_people, keeper_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.faults import in_one
from chamberwatch.web.qr import Code, code_of
from chamberwatch.web.rendering import NOT_VALID, page, static_url
from chamberwatch.web.whence import is_loopback

router = APIRouter(include_in_schema=False)

PHONE: Final = "/set-up/phone"
HOST: Final = "web.host"
EVERYWHERE: Final = "0.0.0.0"  # noqa: S104 - asked for by whoever knows the passcode
NOT_OURS: Final = marked("That address is not shown here any more; take one of these.")
MANIFEST: Final = "/manifest.webmanifest"
PAPER: Final = "#e4e3de"
ICONS: Final = (
    ("icon-192.png", "192x192", "any"),
    ("icon-512.png", "512x512", "any"),
    ("icon-512.png", "512x512", "maskable"),
)
"""The drawing keeps to the inner four fifths, so that it may be cut round (W3C, Web Application
Manifest, icon masks)."""


@dataclass(frozen=True, slots=True)
class Way:
    """An address under which a phone may reach the page.

    Attributes:
        address: in full.
        code: of it.
        why: what it is, in words.
    """

    address: str
    code: Code
    why: str


@router.get(PHONE)
def phone(request: Request) -> Response:
    """Show how to open the page on a phone."""
    return _shown(request)


def _shown(request: Request, refused: str = "") -> Response:
    desk = desk_of(request)
    stated = stated_address(desk)
    return page(
        "phone.html",
        NOT_VALID if refused else 200,
        title=_("This page on a phone"),
        ways=ways_of(desk),
        guarded=keeper_of(request).admission.mark() is not None,
        stated=stated,
        over_tls=urlsplit(stated).scheme == "https",
        editable=desk.editing is not None,
        waits=desk.editing is not None and HOST in desk.editing.stand().waits,
        refused=refused,
    )


@router.post(f"{PHONE}/let-in", dependencies=[Depends(by_people)])
def let_in(request: Request) -> Response:
    """Let the home network in, from the next start on."""
    return _changed(request, {"host": EVERYWHERE})


@router.post(f"{PHONE}/in-messages", dependencies=[Depends(by_people)])
def in_messages(request: Request, address: Annotated[str, Form(max_length=300)] = "") -> Response:
    """State one of the addresses that are shown as the one that messages carry."""
    if address not in [way.address for way in ways_of(desk_of(request))]:
        return _shown(request, _(NOT_OURS))
    return _changed(request, {"address": address})


def _changed(request: Request, keys: Mapping[str, str]) -> Response:
    try:
        editing_of(desk_of(request)).change([SetKeys("web", keys)])
    except (SettingsError, RefusedError) as error:
        return _shown(request, in_one(error))
    return RedirectResponse(PHONE, 303)


def stated_address(desk: Desk) -> str:
    """Return the address that is stated, empty where a phone would only find itself there."""
    address = desk.address or ""
    return "" if is_loopback(urlsplit(address).hostname or "localhost") else address


def ways_of(desk: Desk) -> tuple[Way, ...]:
    """Return the addresses a phone may use, the surest first."""
    if stated := stated_address(desk):
        return (Way(stated, code_of(stated), _("the one that messages carry")),)
    reach = desk.reach
    if reach is None or reach.near:
        return ()
    numbers = [
        (a, _("in numbers; it may change when the router starts anew")) for a in reach.by_number()
    ]
    name = (reach.by_name(), _("by this machine's name; not every phone and router knows it"))
    return tuple(Way(address, code_of(address), why) for address, why in (*numbers, name))


@router.get(MANIFEST)
def manifest() -> Response:
    """Describe the shortcut (W3C, Web Application Manifest)."""
    icons = [
        {"src": static_url(name), "sizes": sizes, "type": "image/png", "purpose": purpose}
        for name, sizes, purpose in ICONS
    ]
    described = {
        "id": "/",
        "name": "chamberwatch",
        "short_name": "chamberwatch",
        "description": _("The air of a small mushroom chamber, and what to do about it."),
        "lang": "en",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    return JSONResponse(described, media_type="application/manifest+json")
