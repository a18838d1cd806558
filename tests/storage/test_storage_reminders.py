"""Reminders and their moves in the database."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy.exc import IntegrityError

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    Call,
    Cause,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.storage.book import SqlBooks

DRY = Evidence("top", Quantity.HUMIDITY, 76.3, 85.0, 95.0, -0.1 - 0.2, None)
SILENT = Evidence("top", None, None, None, None, None, None)


def test_a_new_cause_makes_a_reminder_and_an_old_one_finds_it(books: SqlBooks) -> None:
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
        look = book.reminders.of("tent", Call.CHECK_SENSOR, "top")
        assert book.reminders.of("tent", Call.MIST, "") == mist
    assert mist == Reminder(mist.id, "tent", Call.MIST)
    assert look == Reminder(look.id, "tent", Call.CHECK_SENSOR, "top")
    assert 0 < mist.id < look.id
    with books.read() as book:
        assert book.reminders.get(look.id) == look
        assert book.reminders.get(999) is None
        assert book.reminders.of("tent", Call.MIST, "") == mist
        assert book.reminders.all() == [mist, look]


@pytest.mark.parametrize(
    "evidence",
    [
        pytest.param(None, id="none"),
        pytest.param(DRY, id="a value"),
        pytest.param(SILENT, id="silence"),
        pytest.param(replace(DRY, low=None, quantity=Quantity.CO2, value=1e-300), id="one limit"),
    ],
)
def test_every_field_comes_back_exactly(
    books: SqlBooks, noon: datetime, evidence: Evidence | None
) -> None:
    if evidence is not None:
        evidence = replace(evidence, since=noon - timedelta(microseconds=1))
    with books.write() as book:
        number = book.reminders.of("tent", Call.MIST, "").id
        full = Reminder(
            id=number,
            chamber="tent",
            call=Call.MIST,
            state=State.SHELVED,
            active=True,
            priority=Priority.HIGH,
            episode=7,
            since=noon,
            moved=noon + timedelta(seconds=1),
            told=noon + timedelta(seconds=2),
            shelved_until=noon + timedelta(hours=4),
            evidence=evidence,
        )
        book.reminders.save(full, ())
    with books.read() as book:
        assert book.reminders.get(number) == full
    with books.write() as book:
        book.reminders.save(replace(full, told=None, evidence=None), ())
        assert book.reminders.get(number) == replace(full, told=None, evidence=None)


def test_moves_are_read_from_where_one_stopped(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
        vent = book.reminders.of("tent", Call.VENT, "")
        raised, first = advance(mist, Event.RAISED, noon, "humidity 76 % below 85 %")
        seen, second = advance(raised, Event.SEEN, noon + timedelta(minutes=2), "the page")
        book.reminders.save(seen, (first, second))
        up, third = advance(vent, Event.RAISED, noon, "a lone half of a pair: \ud83d")
        book.reminders.save(up, (third,))
    told = replace(third, cause="a lone half of a pair: ?")
    with books.read() as book:
        everything = book.reminders.moves()
        assert [move for _, move in everything] == [first, second, told]
        numbers = [number for number, _ in everything]
        assert numbers == sorted(set(numbers))
        assert book.reminders.moves(after=numbers[0], limit=1) == [(numbers[1], second)]
        assert book.reminders.moves(mist.id) == everything[:2]
        assert book.reminders.moves(vent.id, after=numbers[2]) == []


@pytest.mark.parametrize(
    ("states", "calls"),
    [
        pytest.param(None, [Call.MIST, Call.VENT, Call.COOL], id="any"),
        pytest.param(frozenset({State.NORMAL}), [Call.VENT], id="one"),
        pytest.param(
            frozenset({State.UNACKNOWLEDGED, State.SHELVED}), [Call.MIST, Call.COOL], id="two"
        ),
        pytest.param(frozenset(), [], id="none at all"),
    ],
)
def test_reminders_by_state(
    books: SqlBooks, noon: datetime, states: frozenset[State] | None, calls: list[Call]
) -> None:
    with books.write() as book:
        mist, _, cool = (
            book.reminders.of("tent", c, "") for c in (Call.MIST, Call.VENT, Call.COOL)
        )
        book.reminders.save(advance(mist, Event.RAISED, noon, "")[0], ())
        shelved, _ = advance(cool, Event.SHELVED, noon, Cause("", shelf=timedelta(hours=1)))
        book.reminders.save(shelved, ())
    with books.read() as book:
        assert [reminder.call for reminder in book.reminders.all(states)] == calls


def test_a_reminder_nobody_made_is_not_kept(books: SqlBooks) -> None:
    with pytest.raises(StorageError, match="Make it with"), books.write() as book:
        book.reminders.save(Reminder(0, "tent", Call.MIST), ())


def test_a_move_of_no_reminder_is_refused(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
    stray = Move(99, 1, Event.SEEN, State.NORMAL, State.NORMAL, noon, "")
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), books.write() as book:
        book.reminders.save(replace(mist, episode=1), (stray,))
    with books.read() as book:
        assert book.reminders.all() == [mist]
