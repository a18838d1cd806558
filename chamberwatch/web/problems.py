"""Every error in one form: RFC 9457 for programs, a page with the cure for people."""

import http
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from chamberwatch.core.errors import (
    ChamberwatchError,
    ImpossibleMoveError,
    RefusedError,
    SettingsError,
    StorageError,
    UnknownNameError,
)
from chamberwatch.web.headers import SECURITY
from chamberwatch.web.language import _, marked
from chamberwatch.web.rendering import page

log = logging.getLogger(__name__)

MEDIA: Final = "application/problem+json"
API: Final = "/api/"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of problem: its name in the address, its title, and what to do about it."""

    slug: str
    title: str
    cure: str


KINDS: Final[dict[str, Kind]] = {
    kind.slug: kind
    for kind in (
        Kind(
            "unknown-name",
            marked("Nothing has that name or number"),
            marked("Ask for the list and use a name or number from it."),
        ),
        Kind(
            "not-valid",
            marked("The request can't be read"),
            marked("Each entry of “errors” names the place and says what is expected there."),
        ),
        Kind(
            "refused",
            marked("It can't be done as asked"),
            marked("The detail says why, and what would work."),
        ),
        Kind(
            "conflict",
            marked("It does not fit the present state"),
            marked("Read the reminder again; perhaps it was answered, or is over."),
        ),
        Kind(
            "key-reused",
            marked("The Idempotency-Key was used for something else"),
            marked(
                "Use a new key for each new request, and the old one only to repeat it unchanged."
            ),
        ),
        Kind(
            "foreign-origin",
            marked("The request comes from another site"),
            marked("Send it from this site's own pages, or from a program that sends no Origin."),
        ),
        Kind(
            "wrong-host",
            marked("This server does not answer to that name"),
            marked(
                "Open it as localhost, or set web.address in the settings to the name you use."
            ),
        ),
        Kind(
            "not-logged-in",
            marked("You are not logged in"),
            marked(
                "Log in on the page, or send a token that chamberwatch token new NAME has made."
            ),
        ),
        Kind(
            "no-passcode",
            marked("No passcode is set"),
            marked("Set one on the machine itself: chamberwatch passcode."),
        ),
        Kind("too-large", marked("The body is too large"), marked("Send at most 64 KiB.")),
        Kind(
            "settings",
            marked("The settings file can't be used"),
            marked("The detail says what to mend in it; after that, read it again under Set-up."),
        ),
        Kind(
            "storage",
            marked("The database can't be used just now"),
            marked("Try again in a minute; if it stays so, look at the health page and the log."),
        ),
        Kind(
            "changing",
            marked("The settings are being taken over"),
            marked("Try again in a few seconds, as Retry-After says."),
        ),
        Kind(
            "too-many",
            marked("Too many pages are open"),
            marked("Close some; the page still works by itself."),
        ),
    )
}


class ProblemError(ChamberwatchError):
    """A request that ends in a problem, with the status and kind to answer."""

    def __init__(self, status: int, slug: str, detail: str) -> None:
        """Keep what will be answered."""
        super().__init__(detail)
        self.status = status
        self.slug = slug


def as_problem(
    path: str,
    status: int,
    detail: str,
    slug: str | None = None,
    errors: Sequence[Mapping[str, Any]] | None = None,
) -> dict[str, Any]:
    """Write a problem (RFC 9457 section 3.1). Without a slug its type is about:blank."""
    kind = KINDS[slug] if slug else None
    said: dict[str, Any] = {
        "type": f"/problems#{kind.slug}" if kind else "about:blank",
        "title": kind.title if kind else http.HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "instance": path,
    }
    if errors is not None:
        said["errors"] = list(errors)
    return said


def refusal(path: str, status: int, detail: str, slug: str | None = None) -> Response:
    """Answer an error: as a problem under /api, as a page elsewhere."""
    if path.startswith(API):
        return JSONResponse(as_problem(path, status, detail, slug), status, media_type=MEDIA)
    title = KINDS[slug].title if slug else PAGE_TITLES.get(status, NOT_DONE)
    return page("error.html", status, title=_(title), detail=detail)


NOT_DONE: Final = marked("That did not work")
PAGE_TITLES: Final[dict[int, str]] = {
    404: marked("There is no such page"),
    405: marked("That can't be done here"),
    410: marked("This link has done its work"),
    422: marked("That could not be read"),
    500: marked("Something broke on our side"),
}

# The words of the server library are for programmers; these say what to do.
DETAILS: Final[dict[int, str]] = {
    404: marked(
        "Nothing is kept at this address. The pages are named at the head of each; what programs "
        "may ask for is listed at /api/v1/openapi.json."
    ),
    405: marked("This address does not take that method. The Allow header says which it takes."),
    400: marked("The body could not be read. Send JSON in UTF-8 (forms: urlencoded)."),
}

BROKE: Final = marked(
    "The fault is ours and was written to the log. Readings go on being taken in. "
    "Try again; if it comes back, look at the health page."
)


_NUMBER: Final = "write a number"
_WHOLE: Final = "write a whole number"
_TIME: Final = "give a time with its zone such as 2026-01-20T18:00:00Z"

# The words of the library that checks requests are for programmers as well. By its kinds.
WORDS: Final[Mapping[str, str]] = {
    "missing": "it is needed; add it",
    "extra_forbidden": "there is no such field; leave it out",
    "string_type": "write a text",
    "string_too_short": "write at least {min_length} characters",
    "string_too_long": "write no more than {max_length} characters",
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "finite_number": _NUMBER,
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "int_parsing_size": "write a smaller number",
    "bool_type": "write true or false",
    "bool_parsing": "write true or false",
    "enum": "write one of {expected}",
    "literal_error": "write one of {expected}",
    "greater_than": "give more than {gt}",
    "greater_than_equal": "give {ge} or more",
    "less_than": "give less than {lt}",
    "less_than_equal": "give {le} or less",
    "datetime_type": _TIME,
    "datetime_parsing": _TIME,
    "datetime_from_date_parsing": _TIME,
    "timezone_aware": _TIME,
    "model_attributes_type": "send a JSON object",
    "json_invalid": "it is no JSON",
}


def _pointer(loc: Sequence[int | str]) -> dict[str, str]:
    """Say where a fault is: a JSON pointer (RFC 6901) in the body, a name elsewhere."""
    where, *rest = [str(part) for part in loc] or ["body"]
    if where != "body":
        return {"in": where, "parameter": ".".join(rest)}
    escaped = [part.replace("~", "~0").replace("/", "~1") for part in rest]
    return {"pointer": "#" + "".join(f"/{part}" for part in escaped)}


def faults(exc: RequestValidationError) -> list[dict[str, str]]:
    """List what is wrong with a request, each with its place."""
    found = []
    for error in exc.errors():
        broken = error["type"] == "json_invalid"
        loc = ("body",) if broken else error["loc"]
        found.append({"detail": _words(error), **_pointer(loc)})
    return found


def _words(error: Mapping[str, Any]) -> str:
    """Say what is expected; what we refuse ourselves says so already."""
    words = WORDS.get(error["type"])
    if words is None:
        return str(error["msg"]).removeprefix("Value error, ")
    return words.format(**error.get("ctx", {})).replace("'", '"')


def _not_valid(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, RequestValidationError)  # noqa: S101 - registered for it alone
    path = request.url.path
    errors = faults(exc)
    first = errors[0]
    place = first.get("pointer") or f"{first['in']} {first['parameter']}"
    detail = f"{place}: {first['detail']}."
    if not path.startswith(API):
        return refusal(path, 422, detail, "not-valid")
    said = as_problem(path, 422, detail, "not-valid", errors)
    return JSONResponse(said, 422, media_type=MEDIA)


def _http(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, HTTPException)  # noqa: S101 - registered for it alone
    path, known = request.url.path, DETAILS.get(exc.status_code)
    detail = str(exc.detail) if known is None else _said_on(path, known)
    answer = refusal(path, exc.status_code, detail)
    answer.headers.update(exc.headers or {})
    return answer


def _said_on(path: str, text: str) -> str:
    """Return a text in the language of a page; programs are answered in English."""
    return text if path.startswith(API) else _(text)


def _answered_with(exc: ChamberwatchError) -> tuple[int, str | None]:
    """Return the status and the kind of problem that an error of ours is."""
    if isinstance(exc, ProblemError):
        return exc.status, exc.slug
    found = (answer for kind, answer in ANSWERS.items() if isinstance(exc, kind))
    return next(found, (OUR_FAULT, None))


OUR_FAULT: Final = 500
ANSWERS: Final[Mapping[type[ChamberwatchError], tuple[int, str]]] = {
    UnknownNameError: (404, "unknown-name"),
    ImpossibleMoveError: (409, "conflict"),
    RefusedError: (422, "refused"),
    SettingsError: (409, "settings"),
    StorageError: (503, "storage"),
}


def _ours(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, ChamberwatchError)  # noqa: S101 - registered for it alone
    status, slug = _answered_with(exc)
    if status >= OUR_FAULT and not isinstance(exc, ProblemError):
        log.error("A page or request could not be answered: %s", exc)
    return refusal(request.url.path, status, str(exc), slug)


def _broke(request: Request, exc: Exception) -> Response:
    """Answer a fault of ours; the server logs it with its trace."""
    del exc
    path = request.url.path
    answer = refusal(path, 500, _said_on(path, BROKE))
    # This one is sent from outside the door, where the headers are put on.
    answer.headers.update(SECURITY)
    return answer


def register(app: FastAPI) -> None:
    """Answer every error of the application in this form."""
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(ChamberwatchError, _ours)
    app.add_exception_handler(Exception, _broke)


def problem_of(path: str, exc: ChamberwatchError) -> tuple[int, dict[str, Any]]:
    """Return status and body for an error of ours that is to be kept as an answer."""
    status, slug = _answered_with(exc)
    return status, as_problem(path, status, str(exc), slug)
