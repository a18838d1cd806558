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
from chamberwatch.service.books import Span
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


def test_those_of_a_chamber_that_are_named(books: SqlBooks) -> None:
    with books.write() as book:
        calls = [(name, call) for name in ("tent", "room") for call in (Call.MIST, Call.VENT)]
        mist, vent, other, _ = [book.reminders.of(name, call, "") for name, call in calls]
        found = book.reminders.named("tent", [vent.id, other.id, mist.id, vent.id, 999])
        assert found == [mist, vent]
        assert book.reminders.named("tent", [other.id]) == []
        assert book.reminders.named("tent", []) == []


def test_a_reminder_nobody_made_is_not_kept(books: SqlBooks) -> None:
    with pytest.raises(StorageError, match="Make it with"), books.write() as book:
        book.reminders.save(Reminder(0, "tent", Call.MIST), ())


def test_a_move_of_no_reminder_is_refused(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
    stray = Move(99, 1, Event.SEEN, State.NORMAL, State.NORMAL, noon, "")
    with pytest.raises(IntegrityError, match=r"(?i)foreign key"), books.write() as book:
        book.reminders.save(replace(mist, episode=1), (stray,))
    with books.read() as book:
        assert book.reminders.all() == [mist]


def test_a_move_is_kept_with_what_spoke_for_it(books: SqlBooks, noon: datetime) -> None:
    back = replace(DRY, value=83.0)
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
        up, first = advance(mist, Event.RAISED, noon, Cause("dry", DRY))
        over, second = advance(up, Event.RETURNED, noon + timedelta(minutes=5), Cause("", back))
        _, third = advance(over, Event.SEEN, noon + timedelta(minutes=6), "page")
        book.reminders.save(over, (first, second, third))
    with books.read() as book:
        moves = [move.evidence for _, move in book.reminders.moves()]
    assert moves == [DRY, back, None]


def test_moves_of_a_span_in_the_order_of_the_log(books: SqlBooks, noon: datetime) -> None:
    minute = timedelta(minutes=1)
    with books.write() as book:
        mist = book.reminders.of("tent", Call.MIST, "")
        vent = book.reminders.of("tent", Call.VENT, "")
        up, first = advance(mist, Event.RAISED, noon + 2 * minute, "")
        book.reminders.save(up, (first,))
        # A reading that came late: logged after, dated before.
        other, second = advance(vent, Event.RAISED, noon, "")
        book.reminders.save(other, (second,))
        back, third = advance(up, Event.RETURNED, noon + 9 * minute, "")
        book.reminders.save(back, (third,))
    with books.read() as book:
        within = book.reminders.moves_within
        assert within(Span(noon, noon + 9 * minute)) == [first, second]
        assert within(Span(noon + minute, noon + 10 * minute)) == [first, third]
        assert within(Span(noon + 10 * minute, noon + 20 * minute)) == []


def test_what_held_at_a_moment_is_told_from_its_raise(books: SqlBooks, noon: datetime) -> None:
    hour = timedelta(hours=1)
    with books.write() as book:
        for call, events in {
            Call.MIST: [Event.RAISED, Event.RETURNED, Event.RAISED, Event.SEEN, Event.WORSENED],
            Call.VENT: [Event.RAISED, Event.RETURNED, Event.SEEN],
            Call.COOL: [],
            Call.WARM: [Event.SHELVED, Event.RAISED],
        }.items():
            reminder = book.reminders.of("tent", call, "")
            for number, event in enumerate(events):
                cause = Cause(f"{call} {number}", shelf=hour if event is Event.SHELVED else None)
                reminder, move = advance(reminder, event, noon + number * hour, cause)
                book.reminders.save(reminder, (move,))

    def held(hours: float) -> list[str]:
        with books.read() as book:
            return [move.cause for move in book.reminders.held_at(noon + hours * hour)]

    assert held(0) == []
    assert held(0.5) == ["mist 0", "vent 0"]
    assert held(1.5) == ["warm 1"]
    assert held(2.5) == ["mist 2", "warm 1"]
    assert held(9) == ["mist 2", "mist 3", "mist 4", "warm 1"]
