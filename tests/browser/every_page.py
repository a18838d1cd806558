"""Every page there is, and where it lies; what is no page and why it need not be looked at."""

from collections.abc import Iterator, Mapping
from typing import Final

from fastapi import FastAPI
from fastapi.routing import APIRoute

from chamberwatch.web.app import API_PREFIX

PAGES: Final[Mapping[str, tuple[str, ...]]] = {
    "/": ("/",),
    "/chamber/{name}": ("/chamber/{chamber}",),
    "/chamber/{name}/note": ("/chamber/{chamber}/note",),
    "/chamber/{name}/hold": ("/chamber/{chamber}/hold",),
    "/week": ("/week", "/week?chamber={chamber}&beside=@before"),
    "/air": ("/air",),
    "/growing": ("/growing",),
    "/growing/start": ("/growing/start",),
    "/growing/batches/{number}": (
        "/growing/batches/{batch}",
        "/growing/batches/{batch_with_photo}",
    ),
    "/growing/entries/{number}": ("/growing/entries/{entry}", "/growing/entries/{entry}?back=log"),
    "/growing/finished": ("/growing/finished",),
    "/growing/lineage": ("/growing/lineage",),
    "/growing/photos/{number}/page": ("/growing/photos/{photo}/page",),
    "/growing/rotation": ("/growing/rotation",),
    "/log": ("/log", "/log?kind=deed"),
    "/log/deed/{number}": ("/log/deed/{deed}",),
    "/look": ("/look",),
    "/reminders": ("/reminders",),
    "/reminders/{number}/service": ("/reminders/{reminder}/service",),
    "/do/{token}": ("{link}", "/do/spent"),
    "/set-up": ("/set-up",),
    "/set-up/chambers": ("/set-up/chambers",),
    "/set-up/chambers/new": ("/set-up/chambers/new",),
    "/set-up/chambers/{name}": ("/set-up/chambers/{chamber}",),
    "/set-up/chambers/{name}/remove": ("/set-up/chambers/{chamber}/remove",),
    "/set-up/telling": ("/set-up/telling",),
    "/set-up/telling/new": ("/set-up/telling/new",),
    "/set-up/telling/{name}": ("/set-up/telling/{told}",),
    "/set-up/broker": ("/set-up/broker",),
    "/set-up/units": ("/set-up/units",),
    "/set-up/sensors": ("/set-up/sensors",),
    "/set-up/sensors/claim": ("/set-up/sensors/claim?topic={topic}",),
    "/set-up/check": ("/set-up/check",),
    "/set-up/check/{sensor}": ("/set-up/check/{sensor}",),
    "/set-up/phone": ("/set-up/phone",),
    "/access": ("/access",),
    "/passcode": ("/passcode",),
    "/enter": ("/enter",),
    "/health": ("/health",),
    "/cautions": ("/cautions",),
    "/problems": ("/problems",),
}
"""The addresses at which each route is looked at; a name in braces comes from the house."""

NO_PAGES: Final[Mapping[str, str]] = {
    "/part/now": "a part of a page",
    "/part/chamber/{name}": "a part of a page",
    "/part/air": "a part of a page",
    "/set-up/sensors/part": "a part of a page",
    "/live": "a stream",
    "/log.csv": "a file",
    "/growing/photos/{number}": "a picture",
    "/growing/photos/{number}/small": "a picture",
    "/calendar/{secret}.ics": "a file",
    "/favicon.svg": "a picture",
    "/favicon.ico": "a picture",
    "/manifest.webmanifest": "a file",
}


def routes(app: FastAPI) -> Iterator[str]:
    """Yield every route that answers GET, but those of the API."""
    for included in app.routes:
        router = getattr(included, "original_router", None)
        if router is None:  # the description of the API, and static files
            continue
        prefix = included.include_context.prefix  # type: ignore[attr-defined]
        for route in router.routes:
            if isinstance(route, APIRoute) and "GET" in (route.methods or ()):
                path = prefix + route.path
                if not path.startswith(API_PREFIX):
                    yield path


def addresses(named: Mapping[str, str]) -> Iterator[str]:
    """Yield every address of a house; those of what it does not have are left out."""
    for each in PAGES.values():
        for address in each:
            try:
                yield address.format_map(named)
            except KeyError:
                continue
