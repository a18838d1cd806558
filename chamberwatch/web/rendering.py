"""Templates, and the addresses of the static files."""

import hashlib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Final

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

HERE: Final = Path(__file__).parent
STATIC: Final = HERE / "static"


@cache
def static_url(name: str) -> str:
    """Return the address of a static file; it changes with the content, so it may be kept."""
    mark = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?v={mark}"


def iso(moment: datetime | None) -> str:
    """Write a time for machines."""
    return "" if moment is None else moment.isoformat(timespec="seconds").replace("+00:00", "Z")


@cache
def _templates() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static_url"] = static_url
    made.filters["iso"] = iso
    return made


def page(name: str, status: int = 200, **context: object) -> HTMLResponse:
    """Render a template as a page."""
    return HTMLResponse(_templates().get_template(name).render(**context), status_code=status)
