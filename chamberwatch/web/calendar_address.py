"""The address of the calendar: who knows it may read, since phones that fetch it can't log in."""

import hmac
import secrets
from typing import Final

from chamberwatch.service.books import Books

SECRET_NAME: Final = "calendar.secret"  # noqa: S105 - where it is kept, not what it is


def calendar_path(books: Books) -> str:
    """Return the path of the calendar, made once and kept."""
    with books.read() as book:
        secret = book.kept.text(SECRET_NAME)
    return _path(secret) if secret else new_calendar_path(books, only_first=True)


def new_calendar_path(books: Books, *, only_first: bool = False) -> str:
    """Make another path; the former leads nowhere from now on.

    Args:
        books: where it is kept.
        only_first: keep the one there is, if another made it in the meantime.
    """
    with books.write() as book:
        secret = book.kept.text(SECRET_NAME) if only_first else None
        if not secret:
            secret = secrets.token_urlsafe(24)
            book.kept.keep_text(SECRET_NAME, secret)
    return _path(secret)


def opens_calendar(books: Books, secret: str) -> bool:
    """Tell whether an address holds the secret of today."""
    with books.read() as book:
        kept = book.kept.text(SECRET_NAME)
    return bool(kept) and hmac.compare_digest(
        (kept or "").encode(), secret.encode("utf-8", "replace")
    )


def _path(secret: str) -> str:
    return f"/calendar/{secret}.ics"
