"""What is carried out, page by page, and whether what is carried in is there already."""

from datetime import datetime, timedelta

import pytest

from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Cause, Event, advance
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks
from tests.make import evidence

HOUR = timedelta(hours=1)
START = Start("grey-oyster", Container.BAG, 3)


@pytest.fixture
def day(noon: datetime) -> Span:
    return Span(noon, noon + 24 * HOUR)


def test_entries_with_what_came_in_their_place(books: SqlBooks, noon: datetime, day: Span) -> None:
    def entry(hours: float, kind: EntryKind, **more: object) -> Entry:
        at = noon + hours * HOUR
        return Entry(0, 1, kind, at, at, "page", **more)  # type: ignore[arg-type]

    with books.write() as book:
        kept = [
            book.growing.add(each)
            for each in (
                entry(0, EntryKind.STARTED, start=START),
                entry(1, EntryKind.HARVESTED, weight_g=100.0),
                entry(1, EntryKind.HARVESTED, weight_g=110.0, corrects=2),
                entry(24, EntryKind.NOTED),  # the first moment after the span
                entry(1, EntryKind.WITHDRAWN, corrects=3),
            )
        ]
    with books.read() as book:
        found = book.carried.entries(day, 0, 3)
        rest = book.carried.entries(day, 3, 3)
    assert found == [(kept[0], None), (kept[1], 3), (kept[2], 5)]
    assert rest == [(kept[4], None)]


def test_actions_with_what_came_in_their_place(books: SqlBooks, noon: datetime, day: Span) -> None:
    def deed(hours: float, corrects: int | None = None) -> Action:
        at = noon + hours * HOUR
        return Action(0, "tent", Deed.MISTED, at, "", at, "page", 20.0, corrects=corrects)

    with books.write() as book:
        kept = [book.actions.add(each) for each in (deed(-1), deed(0), deed(2, 2), deed(3))]
    with books.read() as book:
        assert book.carried.actions(day, 0, 2) == [(kept[1], 3), (kept[2], None)]
        assert book.carried.actions(day, 3, 2) == [(kept[3], None)]
        assert book.carried.actions(day, 4, 2) == []


def test_moves_of_a_span(books: SqlBooks, noon: datetime, day: Span) -> None:
    with books.write() as book:
        reminder = book.reminders.of("tent", Call.MIST, "")
        made = []
        for event, hours in ((Event.RAISED, -1), (Event.SEEN, 1), (Event.RETURNED, 2)):
            cause = Cause("said so", evidence() if event is Event.RAISED else None)
            reminder, move = advance(reminder, event, noon + hours * HOUR, cause)
            book.reminders.save(reminder, [move])
            made.append(move)
    with books.read() as book:
        assert book.carried.moves(day, 0, 10) == [(2, made[1]), (3, made[2])]
        assert book.carried.moves(day, 0, 1) == [(2, made[1])]
        assert book.carried.moves(day, 3, 10) == []


def test_which_readings_are_there(books: SqlBooks, noon: datetime) -> None:
    def readings(quantity: Quantity, *hours: int, sensor: str = "top") -> list[Reading]:
        return [Reading(noon + n * HOUR, sensor, quantity, 20.0) for n in hours]

    asked = [
        *readings(Quantity.TEMPERATURE, 0, 1, 2),
        *readings(Quantity.HUMIDITY, 0, 1),
        *readings(Quantity.TEMPERATURE, 0, sensor="low"),
    ]
    with books.read() as book:
        assert book.carried.present(asked) == 0
    with books.write() as book:
        book.readings.add(
            [*readings(Quantity.TEMPERATURE, 1, 2, 7), *readings(Quantity.HUMIDITY, 1)]
        )
    with books.read() as book:
        assert book.carried.present(asked) == 3
        assert book.carried.present([]) == 0
