"""Cursors: where to go on, and until when, in a form that is nobody's business but ours."""

import base64
import binascii
import hashlib
import json
from datetime import UTC, datetime, timedelta

from chamberwatch.service.books import Span
from chamberwatch.web.problems import ProblemError


def _asked(chamber: str, quantity: str, step: timedelta | None) -> str:
    text = json.dumps([chamber, quantity, step.total_seconds() if step else None])
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def make(span: Span, chamber: str, quantity: str, step: timedelta | None) -> str:
    """Write a cursor for the rest of a question."""
    said = [span.start.timestamp(), span.end.timestamp(), _asked(chamber, quantity, step)]
    return base64.urlsafe_b64encode(json.dumps(said).encode()).decode().rstrip("=")


def read(cursor: str, chamber: str, quantity: str, step: timedelta | None) -> Span:
    """Read a cursor back.

    Raises:
        ProblemError: it is not one of ours, or belongs to another question.
    """
    try:
        padded = cursor.encode("ascii") + b"=" * (-len(cursor) % 4)
        start, end, asked = json.loads(base64.urlsafe_b64decode(padded))
        span = Span(datetime.fromtimestamp(start, UTC), datetime.fromtimestamp(end, UTC))
    except (ValueError, TypeError, OverflowError, OSError, binascii.Error) as exc:
        raise ProblemError(
            422, "not-valid", "This cursor is not one of ours. Begin again without it."
        ) from exc
    if asked != _asked(chamber, quantity, step):
        raise ProblemError(
            422,
            "not-valid",
            "This cursor belongs to another chamber, quantity or step. Begin again without it.",
        )
    return span
