"""Messages on their way, in the database."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.books import OutRow, OutState, Span
from chamberwatch.storage.book import SqlBooks

MINUTE = timedelta(minutes=1)


def row(noon: datetime, title: str, priority: Priority = Priority.MEDIUM, wait: int = 0) -> OutRow:
    return OutRow(
        0,
        1,
        2,
        "phone",
        title,
        "Two squeezes.",
        priority,
        OutState.WAITING,
        noon,
        noon + wait * MINUTE,
    )


def titles(rows: object) -> list[str]:
    assert isinstance(rows, list)
    return [found.title for found in rows]


def test_due_rows_come_gravest_and_oldest_first(books: SqlBooks, noon: datetime) -> None:
    early = replace(row(noon, "early"), created=noon - MINUTE)
    with books.write() as book:
        book.outbox.add([])
        assert book.outbox.next_try() is None
        book.outbox.add([row(noon, "low", Priority.LOW), row(noon, "first"), row(noon, "second")])
        book.outbox.add([early, row(noon, "high", Priority.HIGH), row(noon, "later", wait=1)])
    with books.read() as book:
        due = book.outbox.due(noon)
        assert titles(due) == ["high", "early", "first", "second", "low"]
        assert titles(book.outbox.due(noon + MINUTE)) == [
            "high", "early", "first", "second", "later", "low"
        ]  # fmt: skip
        assert book.outbox.due(noon - MINUTE) == []
        assert book.outbox.next_try() == noon


def test_every_field_comes_back_exactly(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        book.outbox.add([row(noon, "Tent: mist now")])
        (kept,) = book.outbox.due(noon)
        assert kept == replace(row(noon, "Tent: mist now"), id=kept.id)
        assert kept.id > 0
        changed = OutRow(
            kept.id, 3, 4, "second", "Perhaps again", "…", Priority.HIGH, OutState.UNCERTAIN,
            noon + MINUTE, noon + 2 * MINUTE, 5, noon + 3 * MINUTE, again=True, error="no answer",
        )  # fmt: skip
        book.outbox.save(changed)
    with books.read() as book:
        assert book.outbox.in_state(OutState.UNCERTAIN) == [changed]
        assert book.outbox.in_state(OutState.WAITING) == []
        assert book.outbox.due(noon + 10 * MINUTE) == []
        assert book.outbox.next_try() is None


def test_rows_of_a_state_come_newest_first(books: SqlBooks, noon: datetime) -> None:
    sent = [
        replace(row(noon, f"{n}"), state=OutState.SENT, created=noon + n % 3 * MINUTE)
        for n in range(5)
    ]
    with books.write() as book:
        book.outbox.add([*sent, row(noon, "waiting")])
        assert titles(book.outbox.in_state(OutState.SENT)) == ["2", "4", "1", "3", "0"]
        assert titles(book.outbox.in_state(OutState.SENT, limit=2)) == ["2", "4"]


def test_a_row_nobody_added_is_not_kept(books: SqlBooks, noon: datetime) -> None:
    with pytest.raises(StorageError, match="Add it first"), books.write() as book:
        book.outbox.save(row(noon, "stray"))


def test_what_waits_for_an_address_due_or_not(books: SqlBooks, noon: datetime) -> None:
    other = replace(row(noon, "another's"), address="second")
    gone = replace(row(noon, "gone"), state=OutState.SENT, sent=noon)
    early = replace(row(noon, "early", wait=600), created=noon - MINUTE)
    with books.write() as book:
        book.outbox.add([row(noon, "now"), other, gone, early])
    with books.read() as book:
        assert titles(book.outbox.waiting("phone")) == ["early", "now"]
        assert titles(book.outbox.waiting("third")) == []


def test_what_went_out_since(books: SqlBooks, noon: datetime) -> None:
    def sent(title: str, minutes: int, created: int = -600) -> OutRow:
        made = replace(row(noon, title), created=noon + created * MINUTE)
        return replace(made, state=OutState.SENT, sent=noon + minutes * MINUTE)

    with books.write() as book:
        failed = replace(sent("failed", 3), state=OutState.FAILED)
        ages = sent("written ages before", 2, created=-5000)
        book.outbox.add([sent("second", 5), sent("first", 1), sent("at noon", 0), failed, ages])
    with books.read() as book:
        assert titles(book.outbox.sent_since(noon)) == ["first", "second"]


def test_rows_of_a_span_come_oldest_first(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        book.outbox.add(
            replace(row(noon, f"{n}"), state=OutState.SENT, created=noon + n * MINUTE)
            for n in (3, 1, 2, 1, 0)
        )
    with books.read() as book:
        span = Span(noon + MINUTE, noon + 3 * MINUTE)
        assert titles(book.outbox.within(span)) == ["1", "1", "2"]
        assert book.outbox.within(Span(noon + 4 * MINUTE, noon + 5 * MINUTE)) == []
