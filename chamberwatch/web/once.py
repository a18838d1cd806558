"""The same request twice is done once: answers kept under a key."""

import hashlib
import json
import threading
from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import Header, Request
from fastapi.responses import Response

from chamberwatch.core.errors import ChamberwatchError, StorageError
from chamberwatch.service.books import Answer
from chamberwatch.web.desk import Desk
from chamberwatch.web.problems import MEDIA, ProblemError, problem_of

KEY_LIMIT: Final = 128
Key = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=1,
        max_length=KEY_LIMIT,
        description="with the same key and body a repeated request is done once",
    ),
]
FIRST_ERROR: Final = 400

# Two requests with one key may come at the same moment (a double tap). Writes by hand are rare,
# so one lock for all of them costs nothing. It is not held within a book's transaction.
_turn = threading.Lock()


def fingerprint(request: Request) -> str:
    """Tell requests apart by what they ask: method, path, query and body."""
    body: bytes = request.state.body
    asked = f"{request.method} {request.url.path}?{request.url.query}\n".encode()
    return hashlib.sha256(asked + body).hexdigest()


def once(
    desk: Desk,
    request: Request,
    key: str | None,
    do: Callable[[], tuple[int, dict[str, Any]]],
) -> Response:
    """Do it and answer in JSON; with a key seen before, only answer again.

    A refusal is kept like any other answer; a database that can't be used is not, so that
    trying again is worth while.

    Raises:
        ProblemError: the key was used for another request.
        ChamberwatchError: without a key, whatever `do` raises.
    """
    if key is None:
        return _written(*do())
    with _turn:
        kept = kept_answer(desk, f"api:{key}", fingerprint(request))
        if kept is None:
            status, body = _tried(request, do)
            kept = Answer(fingerprint(request), status, json.dumps(body))
            keep_answer(desk, f"api:{key}", kept)
    return _written(kept.status, kept.body)


def first_time(desk: Desk, key: str, do: Callable[[], None]) -> bool:
    """Do what a form asks unless this very form was sent before; tell whether it was done."""
    with _turn:
        if kept_answer(desk, f"page:{key}", "page") is not None:
            return False
        do()
        keep_answer(desk, f"page:{key}", Answer("page", 303, ""))
    return True


def kept_answer(desk: Desk, key: str, asked: str) -> Answer | None:
    """Return the answer kept under a key.

    Raises:
        ProblemError: it answers another request.
    """
    with desk.books.read() as book:
        kept = book.kept.answer(key)
    if kept is not None and kept.fingerprint != asked:
        raise ProblemError(
            422,
            "key-reused",
            "This Idempotency-Key came before with a different request. Use a new key.",
        )
    return kept


def keep_answer(desk: Desk, key: str, answer: Answer) -> None:
    """Keep an answer under a key."""
    with desk.books.write() as book:
        book.kept.keep_answer(key, answer, desk.clock.now())


def _tried(
    request: Request, do: Callable[[], tuple[int, dict[str, Any]]]
) -> tuple[int, dict[str, Any]]:
    try:
        return do()
    except StorageError:
        raise
    except ChamberwatchError as exc:
        return problem_of(request.url.path, exc)


def _written(status: int, body: dict[str, Any] | str) -> Response:
    text = body if isinstance(body, str) else json.dumps(body)
    media = MEDIA if status >= FIRST_ERROR else "application/json"
    return Response(text, status, media_type=media)
