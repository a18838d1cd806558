"""Timers, actions, rejects and the small things kept, in the database."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.rule import Level, Side, Watched
from chamberwatch.service.books import Answer, Span
from chamberwatch.service.chronicle_book import Turn
from chamberwatch.storage.book import SqlBooks
from tests.servers import SQLITE

MINUTE = timedelta(minutes=1)


def test_timers_are_kept_in_place_of_the_former(books: SqlBooks, noon: datetime) -> None:
    low = Watched("top", Quantity.HUMIDITY, Side.LOW, Level.BAND, active=True, turning_since=noon)
    harm = replace(low, level=Level.HARM, active=False, turning_since=None)
    with books.write() as book:
        assert book.watched.load() == []
        book.watched.save([])
        book.watched.save([harm, low])
    with books.read() as book:
        assert book.watched.load() == [low, harm]
    back = replace(low, active=False, turning_since=None)
    with books.write() as book:
        book.watched.save(iter([back]))
        assert book.watched.load() == [back, harm]


def misted(noon: datetime, minutes: int, chamber: str = "tent") -> Action:
    return Action(0, chamber, Deed.MISTED, noon + minutes * MINUTE, f"at {minutes}", noon, "page")


def test_actions_come_newest_first(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        kept = [
            book.actions.add(misted(noon, minutes, chamber))
            for minutes, chamber in ((5, "tent"), (9, "tub"), (1, "tent"), (5, "tent"))
        ]
    assert kept[0] == replace(misted(noon, 5), id=kept[0].id)
    assert len({action.id for action in kept} - {0}) == 4
    with books.read() as book:
        assert book.actions.recent(None) == [kept[1], kept[3], kept[0], kept[2]]
        assert book.actions.recent("tent") == [kept[3], kept[0], kept[2]]
        assert book.actions.recent("tent", limit=1) == [kept[3]]
        assert book.actions.recent("cupboard") == []
        within = Span(noon + MINUTE, noon + 9 * MINUTE)
        assert book.actions.within(within) == [kept[2], kept[0], kept[3]]


def test_there_is_nothing_with_a_number_that_is_far_too_large(
    books: SqlBooks, noon: datetime
) -> None:
    largest = 2**63 - 1
    edge = Turn(noon, largest, newer=False, limit=9)
    with books.read() as book:
        assert book.actions.get(largest) is None
        assert book.reminders.get(largest) is None
        assert book.growing.of(largest) == []
        assert book.chronicle.deeds(edge) == []
        assert book.chronicle.moves(edge) == []


def test_there_is_nothing_of_a_name_that_can_not_be(books: SqlBooks, noon: datetime) -> None:
    with books.read() as book:
        assert book.actions.recent("tent\0") == []
        assert book.found.within("\0", Span(noon, noon + MINUTE)) == []
        assert book.readings.within(["top\0"], Quantity.HUMIDITY, Span(noon, noon), 9) == []
        assert book.kept.answer("\0") is None


def reject(noon: datetime, number: int) -> Reject:
    return Reject(f"home/{number}", noon, "no number", "x" * number)


@pytest.mark.parametrize(
    "batches",
    [
        pytest.param([1] * 250, id="one at a time"),
        pytest.param([120, 130], id="in two lots"),
        pytest.param([250], id="all at once"),
        pytest.param([200, 0, 50], id="with an empty lot"),
    ],
)
def test_the_last_200_rejects_stay_and_all_are_counted(
    books: SqlBooks, noon: datetime, batches: list[int]
) -> None:
    rejects = iter([reject(noon, number) for number in range(250)])
    with books.write() as book:
        for size in batches:
            book.rejects.add([next(rejects) for _ in range(size)])
    with books.read() as book:
        kept = book.rejects.recent()
        assert [found.topic for found in kept] == [f"home/{n}" for n in range(249, 49, -1)]
        assert kept[-1] == reject(noon, 50)
        assert len(kept[0].excerpt) == 200
        assert book.rejects.recent(limit=2) == kept[:2]
        assert book.rejects.count() == 250


def test_a_reject_is_kept_whatever_it_holds(books: SqlBooks, noon: datetime, kind: str) -> None:
    odd = Reject("home/\x00/\ud800", noon, "\udcff", "'); DROP TABLE rejects; --\x00z")
    with books.write() as book:
        assert book.rejects.count() == 0
        book.rejects.add([odd])
    with books.read() as book:
        (kept,) = book.rejects.recent()
    # No text of a server's holds a null character.
    null = "\x00" if kind == SQLITE else "?"
    excerpt = f"'); DROP TABLE rejects; --{null}z"
    assert kept == Reject(f"home/{null}/?", noon, "?", excerpt)


def test_texts_are_kept_in_place_of_the_former(books: SqlBooks) -> None:
    with books.write() as book:
        assert book.kept.text("link key") is None
        book.kept.keep_text("link key", "first")
        book.kept.keep_text("other", "")
        book.kept.keep_text("link key", "second")
    with books.read() as book:
        assert book.kept.text("link key") == "second"
        assert book.kept.text("other") == ""


def test_a_link_is_used_once(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        assert not book.kept.link_used("abc")
        assert book.kept.use_link("abc", noon)
        assert not book.kept.use_link("abc", noon + MINUTE)
        assert book.kept.use_link("abd", noon)
    with books.read() as book:
        assert book.kept.link_used("abc")


def test_answers_are_kept_for_two_days(books: SqlBooks, noon: datetime) -> None:
    first, second = Answer("f1", 201, '{"id": 1}'), Answer("f2", 409, "")
    with books.write() as book:
        assert book.kept.answer("one") is None
        book.kept.keep_answer("one", first, noon)
        book.kept.keep_answer("two", second, noon + MINUTE)
        book.kept.keep_answer("three", first, noon + timedelta(days=2))
        assert book.kept.answer("one") == first
        book.kept.keep_answer("four", first, noon + timedelta(days=2, microseconds=1))
        assert book.kept.answer("one") is None
        assert book.kept.answer("two") == second
        book.kept.keep_answer("two", first, noon + timedelta(days=2))
    with books.read() as book:
        assert book.kept.answer("two") == first
