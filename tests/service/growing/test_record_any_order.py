"""Whatever is said of where batches came from, in whatever order, the family stays sound."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import (
    Batch,
    Container,
    Entry,
    EntryKind,
    Start,
    harvested_g,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.growing.record import GrowingRecord, Place, RecordParts, Telling
from chamberwatch.storage.book import SqlBooks, open_books
from tests.core.growing.lives import BUTTON, OYSTER, REISHI, SPAWN
from tests.fakes import HandClock
from tests.make import NOON, ROOM, SHELF, TENT

K = EntryKind
HOLDS: Final = 2
HOUSE: Final = House({c.name: c for c in (replace(TENT, shelf_holds=HOLDS), ROOM, SHELF)}, {})
TABLE: Final = SpeciesTable({each.name: each for each in (OYSTER, BUTTON, REISHI)}, {})
# What the grower made of his species.toml by the end: one gone, one without most of its stages.
LATER: Final = SpeciesTable({"oyster": replace(SPAWN, name="oyster"), "button": BUTTON}, {})


@dataclass(frozen=True)
class Wish:
    """One thing to ask; numbers count back from the newest batch or entry."""

    what: str
    back: int
    days: float
    start: Start
    parent_back: int | None
    place: Place | None
    telling: Telling


def choice(*names: str) -> st.SearchStrategy[str]:
    return st.sampled_from(names)


PLACES = st.sampled_from(
    [None, Place(None), Place("shelf"), Place("tent", "bottom"), *[Place("tent", "top")] * 3]
)
WISHES = st.builds(
    Wish,
    choice("start", "start", "split", "split", "tell", "tell", "tell", "restart", "restart",
           "correct", "withdraw"),
    st.integers(0, 5),
    st.integers(0, 80).map(lambda half: half / 2),
    st.builds(
        Start,
        choice("oyster", "oyster", "button", "reishi"),
        st.sampled_from([Container.BAG, Container.LOG]),
        st.integers(1, 6),
        wet_g=st.sampled_from([None, 3000.0, 6000.0]),
        strain=choice("", "A"),
    ),
    st.none() | st.integers(0, 4),
    PLACES,
    st.builds(
        Telling,
        st.sampled_from([K.OPENED, K.OPENED, K.CASED, K.PINNED, K.SPENT, K.SOAKED, K.MOVED]),
        note=choice("", "x"),
    )
    | st.builds(Telling, st.just(K.HARVESTED), weight_g=st.floats(1.0, 400.0)),
)  # fmt: skip


class Teller:
    """Asks for what is wished."""

    def __init__(self, books: SqlBooks, table: SpeciesTable = TABLE) -> None:
        self.books = books
        self.parts = RecordParts(books, HandClock(), HOUSE, table, lambda: None)
        self.record = GrowingRecord(self.parts)

    def told(self) -> list[Entry]:
        with self.books.read() as book:
            return list(book.growing.all())

    def ask(self, wish: Wish) -> None:
        numbers = list(self.record.batches()) or [0]
        told = self.told()
        number = numbers[-1 - wish.back % len(numbers)]
        entry = told[-1 - wish.back % len(told)].id if told else 0
        at = NOON - timedelta(days=wish.days)
        self.call(wish, number, entry, at)

    def call(self, wish: Wish, number: int, entry: int, at: datetime) -> None:
        record, parent = self.record, wish.parent_back
        start = replace(wish.start, parent=None if parent is None else max(number - parent, 1))
        there = wish.place if wish.place is not None else Place("tent", "top")
        telling = replace(wish.telling, at=at)
        if telling.kind is K.MOVED:
            telling = replace(telling, chamber=there.chamber, shelf=there.shelf)
        calls: dict[str, Callable[[], object]] = {
            "start": partial(record.start, start, wish.place, at, "", "page"),
            "split": partial(record.split, number, wish.start.count, wish.place, at, "page"),
            "tell": partial(record.tell, number, telling, "page"),
            "restart": partial(record.correct_start, number, start, at, wish.place, "page"),
            "correct": partial(record.correct, entry, telling, "page"),
            "withdraw": partial(record.withdraw, entry, "page"),
        }
        calls[wish.what]()


@contextmanager
def teller() -> Iterator[Teller]:
    with TemporaryDirectory() as folder:
        books = open_books(f"sqlite:///{Path(folder) / 'cw.db'}", NOON)
        yield Teller(books)
        books.close()


def check(asked: Teller) -> None:
    batches, told = asked.record.batches(), asked.told()
    assert dict(batches) == dict(GrowingRecord(asked.parts).batches())
    assert list(batches) == sorted({entry.batch for entry in told})
    standing = [(b.chamber, b.shelf) for b in batches.values() if b.ended is None]
    assert all(standing.count(("tent", shelf)) <= HOLDS for shelf in TENT.shelves)
    for batch in batches.values():
        check_family(batch, batches, told)


def check_family(batch: Batch, batches: Mapping[int, Batch], told: Sequence[Entry]) -> None:
    mine = effective([entry for entry in told if entry.batch == batch.id])
    weighed = sum(entry.weight_g or 0.0 for entry in mine)
    assert harvested_g(batch) == pytest.approx(weighed)
    above = [n for n in (batch.start.parent, batch.start.split_from) if n is not None]
    assert all(batches[number].started <= batch.started for number in above)
    assert batch.id not in ancestors(batches, batch.id)
    out = {entry.other or 0: entry.count for entry in mine if entry.kind is K.SPLIT}
    assert out == {b.id: b.start.count for b in batches.values() if b.start.split_from == batch.id}
    assert batch.count == batch.start.count - sum(n or 0 for n in out.values()) > 0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(WISHES, min_size=4, max_size=25))
def test_a_family_stays_sound(wishes: Sequence[Wish]) -> None:
    with teller() as asked:
        before: list[Entry] = []
        for wish in wishes:
            known = asked.record.batches()
            with suppress(RefusedError, UnknownNameError):
                asked.ask(wish)
            told = asked.told()
            # Refused: nothing changed, not even the mapping. Told: all that was is as it was.
            assert told[: len(before)] == before
            assert (asked.record.batches() is known) is (len(told) == len(before))
            before = told
        check(asked)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(WISHES, min_size=4, max_size=20))
def test_a_family_outlives_its_species(wishes: Sequence[Wish]) -> None:
    """What was told stays readable, and takes more, when the table has lost what it was about."""
    with teller() as asked:
        for wish in wishes:
            with suppress(RefusedError, UnknownNameError):
                asked.ask(wish)
        later = Teller(asked.books, LATER)
        assert list(later.record.batches()) == list(asked.record.batches())
        for wish in reversed(wishes):
            with suppress(RefusedError, UnknownNameError):
                later.ask(wish)
        check(later)


def test_wishes_come_true() -> None:
    """So that the above isn't about nothing."""
    bag, told = Start("oyster", Container.BAG, 4, wet_g=6000.0), Telling(K.OPENED)
    top = Place("tent", "top")
    wishes = [
        Wish("start", 0, 40, bag, None, top, told),
        Wish("split", 0, 30, replace(bag, count=2), None, Place("shelf"), told),
        Wish("split", 0, 29, replace(bag, count=1), None, top, told),
        Wish("tell", 0, 20, bag, None, None, told),
        Wish("tell", 0, 10, bag, None, None, Telling(K.HARVESTED, weight_g=300.0)),
        Wish("correct", 0, 9, bag, None, None, Telling(K.HARVESTED, weight_g=200.0)),
        Wish("start", 0, 25, bag, 0, None, told),
        # The whole turns out to be older, and one more.
        Wish("restart", 3, 45, replace(bag, count=5), None, None, told),
    ]
    with teller() as asked:
        for wish in wishes:
            before = len(asked.told())
            asked.ask(wish)
            assert len(asked.told()) > before, wish
            check(asked)
        batches = asked.record.batches()
        assert [b.count for b in batches.values()] == [3, 1, 1, 4]
        assert [b.started for b in batches.values()][:3] == [NOON - timedelta(days=45)] * 3
        assert (harvested_g(batches[3]), batches[4].start.parent) == (200.0, 3)
