"""The description of the API (OpenAPI), with its problems written as they are sent."""

from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from chamberwatch.web.problems import MEDIA
from chamberwatch.web.sessions import NAME, OVER_TLS
from chamberwatch.web.shapes import ProblemOut

ABOUT: Final = (
    "Air, reminders and deeds of a small growing chamber. Times are ISO 8601 in UTC, unknown "
    "values null, errors RFC 9457. A reminder, never a safety device."
)

# Needed once a passcode is set.
WAYS_IN: Final[dict[str, dict[str, str]]] = {
    "token": {"type": "http", "scheme": "bearer", "description": "chamberwatch token new NAME"},
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": NAME,
        "description": f"from the page to log in; over TLS it is named {OVER_TLS}",
    },
}

# Whatever the address, these can come.
PROBLEMS: Final[dict[int | str, dict[str, Any]]] = {
    status: {
        "description": words,
        "content": {MEDIA: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for status, words in {
        401: "a passcode is set, and neither session nor token came",
        403: "from another site, or not for you to do",
        404: "no such chamber, batch, reminder or address",
        409: "does not fit the present state",
        413: "body over 64 KiB",
        421: "not a name of this server",
        422: "can't be read, or can't be done as asked",
        500: "a fault of ours",
        503: "the database can't be used just now",
    }.items()
}
PROBLEMS[400] = {**PROBLEMS[422], "description": "the body is not JSON in UTF-8"}


def describe(app: FastAPI) -> None:
    """Have the application describe itself, in the words above."""

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            made = get_openapi(
                title="chamberwatch", version="1", description=ABOUT, routes=app.routes
            )
            schemas = made["components"]["schemas"]
            for unused in ("HTTPValidationError", "ValidationError"):
                schemas.pop(unused, None)
            schemas["Problem"] = ProblemOut.model_json_schema(
                ref_template="#/components/schemas/{model}"
            )
            schemas.update(schemas["Problem"].pop("$defs", {}))
            made["components"]["securitySchemes"] = WAYS_IN
            made["security"] = [{}, *({way: []} for way in WAYS_IN)]
            app.openapi_schema = made
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]
