"""What was foretold, in the database."""

from dataclasses import replace
from datetime import datetime, timedelta

from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from chamberwatch.storage.book import SqlBooks

MINUTE = timedelta(minutes=1)


def made(noon: datetime, minutes: float = 0.0, chamber: str = "tent") -> Foretold:
    at = noon + minutes * MINUTE
    return Foretold(
        id=0,
        chamber=chamber,
        sensor="middle",
        quantity=Quantity.HUMIDITY,
        side=Side.LOW,
        limit=85.5,
        at=at,
        earliest=at + 20 * MINUTE,
        likely=at + 25 * MINUTE,
        latest=at + 35 * MINUTE,
    )


def test_what_was_foretold_comes_back_as_it_was(books: SqlBooks, noon: datetime) -> None:
    whole = replace(
        made(noon),
        quantity=Quantity.CO2,
        side=Side.HIGH,
        told=True,
        came=noon + 27 * MINUTE,
        outcome=Outcome.CAME,
    )
    bare = replace(made(noon, 5.0), latest=None)
    with books.write() as book:
        kept = [book.foretold.add(each) for each in (whole, bare)]
    assert [replace(each, id=0) for each in kept] == [whole, bare]
    with books.read() as book:
        assert book.foretold.recent("tent", noon) == kept[::-1]


def test_a_new_state_takes_the_place_of_the_old(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        kept, other = book.foretold.add(made(noon)), book.foretold.add(made(noon, -5.0))
        assert book.foretold.open("tent") == [other, kept]
        ended = replace(kept, outcome=Outcome.ACTED)
        book.foretold.save(ended)
    with books.read() as book:
        assert book.foretold.open("tent") == [other]
        assert not book.foretold.open("tub")
        assert book.foretold.recent("tent", noon - 9 * MINUTE) == [ended, other]


def test_the_newest_of_one_chamber_come_first(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        kept = [book.foretold.add(made(noon, n)) for n in (0.0, 10.0, 20.0)]
        book.foretold.add(made(noon, 15.0, "tub"))
    with books.read() as book:
        assert book.foretold.recent("tent", noon + 10 * MINUTE) == [kept[2], kept[1]]
        assert book.foretold.recent("tent", noon, limit=1) == [kept[2]]
        assert book.foretold.recent("cupboard", noon) == []
