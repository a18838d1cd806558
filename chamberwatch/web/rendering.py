"""Templates, and the addresses of the static files."""

import hashlib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Final

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from chamberwatch.core.sentence import begun, straight
from chamberwatch.web.event_signs import event_sign
from chamberwatch.web.language import found, found_of, marked, spoken

HERE: Final = Path(__file__).parent
STATIC: Final = HERE / "static"

NOT_VALID: Final = 422
"""Status of a page that shows a form again, with what is wrong in it (RFC 9110, 15.5.21)."""

PAGES: Final = (
    ("now", "/", marked("Now")),
    ("week", "/week", marked("Week")),
    ("air", "/air", marked("Air")),
    ("growing", "/growing", marked("Growing")),
    ("log", "/log", marked("Log")),
    ("set-up", "/set-up", marked("Set-up")),
)
"""What every page leads to: its name (`here` in a template), address and label in English."""


@cache
def static_url(name: str) -> str:
    """Return the address of a static file; it changes with the content, so it may be kept."""
    mark = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?v={mark}"


def vendored(name: str) -> str:
    """Return the address of what the build fetched; empty where it was built without."""
    return static_url(f"vendor/{name}") if (STATIC / "vendor" / name).is_file() else ""


def iso(moment: datetime | None) -> str:
    """Write a time for machines."""
    return "" if moment is None else moment.isoformat(timespec="seconds").replace("+00:00", "Z")


class Verbatim(str):
    """A text that must come back from a form as it was; it is escaped like every other."""

    __slots__ = ()


def _shown(value: object) -> object:
    """Return what stands on a page for a value: no name may turn round the words beside it."""
    if not isinstance(value, str) or isinstance(value, Verbatim):
        return value
    # Text of a catalogue with names put in is markup, too, and so is what a macro made.
    return Markup(straight(value)) if isinstance(value, Markup) else straight(value)  # noqa: S704


@cache
def templates() -> Environment:
    """Return what reads templates; made once."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
        finalize=_shown,
    )
    made.install_gettext_callables(found, found_of, newstyle=True)  # type: ignore[attr-defined]
    made.globals["spoken"] = spoken
    made.globals["PAGES"] = PAGES
    made.globals["event_sign"] = event_sign
    made.globals["static_url"] = static_url
    made.filters["verbatim"] = Verbatim
    made.filters["iso"] = iso
    made.filters["begun"] = begun
    return made


def page(name: str, status: int = 200, **context: object) -> HTMLResponse:
    """Render a template as a page."""
    return HTMLResponse(templates().get_template(name).render(**context), status_code=status)
