"""Messages that did not arrive, in words for the page."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import post_words
from chamberwatch.core.wording import clock_words
from chamberwatch.service.books import Book, OutKind, OutRow, OutState
from chamberwatch.service.reaching import WAITING_AT_MOST, Reach, reach_of

REMEMBERED: Final = timedelta(days=1)
LOOKED_AT: Final = 50


def overdue(book: Book) -> dict[str, list[OutRow]]:
    """Return by address what waits because the address can't be reached."""
    by_address: dict[str, list[OutRow]] = {}
    for row in book.outbox.in_state(OutState.WAITING, WAITING_AT_MOST):
        by_address.setdefault(row.address, []).append(row)
    again = {address: reach_of(book, address).again for address in by_address}
    found = {
        address: [row for row in rows if row.tries or row.next_try == again[address]]
        for address, rows in by_address.items()
    }
    return {address: rows for address, rows in found.items() if rows}


def troubles(book: Book, now: datetime, zone: tzinfo) -> list[str]:
    """Say of each address what did not arrive, and why."""
    waiting = overdue(book)
    return [
        *(
            _waiting(address, rows, reach_of(book, address), (now, zone))
            for address, rows in waiting.items()
        ),
        *_given_up(_lately(book, OutState.FAILED, now)),
        *(
            post_words.perhaps(address, _titles(rows))
            for address, rows in _lately(book, OutState.UNCERTAIN, now).items()
        ),
    ]


def _waiting(
    address: str, rows: list[OutRow], reach: Reach, moment: tuple[datetime, tzinfo]
) -> str:
    now, zone = moment
    since = reach.since or min(row.created for row in rows)
    reason = reach.reason or next((row.error for row in rows if row.error), "not known")
    soonest = min(row.next_try for row in rows)
    again = clock_words(soonest, now, zone) if soonest > now else ""
    return post_words.on_its_way(
        address, len(rows), post_words.failing(since, now, zone, reason), again
    )


def _given_up(lately: Mapping[str, list[OutRow]]) -> Iterator[str]:
    for address, rows in lately.items():
        yield post_words.given_up(address, _titles(rows), rows[0].error)


def _lately(book: Book, state: OutState, now: datetime) -> dict[str, list[OutRow]]:
    """Return rows of a state whose last try was within a day, by address, newest first."""
    found: dict[str, list[OutRow]] = {}
    for row in book.outbox.in_state(state, LOOKED_AT):
        # A test message was waited for: who sent it knows.
        if row.kind is not OutKind.TRIAL and now - row.next_try < REMEMBERED:
            found.setdefault(row.address, []).append(row)
    return found


def _titles(rows: Iterable[OutRow]) -> list[str]:
    return list(dict.fromkeys(row.title for row in rows))
