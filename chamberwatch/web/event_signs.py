"""The small signs of what happened: one for each kind, on the charts, in their key and in the log.

A filled triangle is a deed, an open one a deed that only the readings show, a diamond is told of a
batch, a bar is a reminder, an open bar a message that went out, a ring a check of a sensor.
"""

from collections.abc import Mapping
from typing import Final

from markupsafe import Markup

TRIANGLE: Final = "M-5 -5H5L0 5Z"

PATHS: Final[Mapping[str, str]] = {
    "deed": TRIANGLE,
    "found": TRIANGLE,
    "growing": "M0 -6L5 0L0 6L-5 0Z",
    "reminder": "M-6 -4H6V4H-6Z",
    "message": "M6 -4H-6V4H6",
    "check": "M-5 0A5 5 0 0 1 5 0A5 5 0 0 1 -5 0Z",
}
"""Outlines (SVG) around the place of the event, by its kind as charts and the log name it."""


def event_sign(kind: str) -> Markup:
    """Return the sign of a kind of event as a drawing that stands within a line of words."""
    drawn = f'<path class="sign {kind}" d="{PATHS[kind]}"/>'
    return Markup(  # noqa: S704 - a kind is one of the names above
        f'<svg class="event" viewBox="-7 -7 14 14" aria-hidden="true">{drawn}</svg>'
    )
