"""Whatever is asked of the record, in whatever order: nothing is lost and no shelf overflows."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start, dry_g, harvested_g
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.growing.folding import batches_of
from chamberwatch.service.growing.record import GrowingRecord, Place, RecordParts, Telling
from chamberwatch.storage.book import SqlBooks, open_books
from tests.core.growing.lives import OYSTER, REISHI
from tests.fakes import HandClock
from tests.make import NOON, ROOM, SHELF, TENT

K = EntryKind
TABLE = SpeciesTable({each.name: each for each in (OYSTER, REISHI)}, {})
HOLDS = 2
HOUSE = House({c.name: c for c in (replace(TENT, shelf_holds=HOLDS), ROOM, SHELF)}, {})
COUNT = 4

Call = tuple[str, tuple[Any, ...]]

# Mostly now, and a day goes by between two calls.
now = st.just(None)
days = st.one_of(now, now, now, st.integers(-2, 25).map(lambda day: NOON + timedelta(days=day)))
numbers = st.sampled_from([1, 1, 1, 2, 2, 3, 4, 5])
# Mostly the two shelves that fill up.
places = st.sampled_from(
    [Place("tent", "top"), Place("tent", "top"), Place("tent", "bottom"), Place("shelf"),
     Place("room"), Place("tent", "attic"), None]
)  # fmt: skip
others = st.sampled_from(
    [None, Place(None), Place("shelf"), Place("shelf"), Place("tent", "top"), Place("tent")]
)
starts = st.builds(
    Start,
    st.sampled_from([OYSTER.name, REISHI.name]),
    st.sampled_from([Container.BAG, Container.BUCKET, Container.LOG]),
    st.just(COUNT),
    dry_g=st.floats(200.0, 9000.0),
    parent=st.one_of(st.none(), st.none(), st.none(), numbers),
)


def moved_to(place: Place | None, at: datetime | None) -> Telling:
    there = place or Place(None)
    return Telling(K.MOVED, at, chamber=there.chamber, shelf=there.shelf)


PLAIN = (K.WHITE, K.OPENED, K.OPENED, K.OPENED, K.PINNED, K.RESTED, K.SOAKED, K.SPENT)
tellings = st.one_of(
    st.builds(Telling, st.sampled_from(PLAIN), days),
    st.builds(Telling, st.just(K.HARVESTED), days, weight_g=st.floats(1.0, 700.0)),
    st.builds(moved_to, places, days),
)
calls = st.one_of(
    st.tuples(st.just("start"), st.tuples(starts, places, days)),
    st.tuples(st.just("tell"), st.tuples(numbers, tellings)),
    st.tuples(st.just("tell"), st.tuples(numbers, tellings)),
    st.tuples(st.just("tell"), st.tuples(numbers, tellings)),
    st.tuples(
        st.just("split"),
        st.tuples(numbers, st.sampled_from([1, 1, 2, COUNT]), others, days),
    ),
    st.tuples(st.just("correct"), st.tuples(st.integers(0, 20), days, places)),
    st.tuples(st.just("correct_start"), st.tuples(numbers, starts, days, places)),
    st.tuples(st.just("withdraw"), st.tuples(st.integers(0, 20))),
)


@dataclass
class Grower:
    """Asks for things, and remembers by himself what must have become of them."""

    books: SqlBooks
    clock: HandClock = field(default_factory=HandClock)
    told: list[Entry] = field(default_factory=list)
    picked_g: dict[int, float] = field(default_factory=dict)
    filled_g: dict[int, float] = field(default_factory=dict)
    heard: int = 0

    def __post_init__(self) -> None:
        self.record = self.reader()

    def reader(self) -> GrowingRecord:
        return GrowingRecord(RecordParts(self.books, self.clock, HOUSE, TABLE, self.hear))

    def hear(self) -> None:
        self.heard += 1

    def entries(self) -> list[Entry]:
        with self.books.read() as book:
            return list(book.growing.all())

    def ask(self, call: Call) -> None:
        name, said = call
        self.clock.turn(minutes=24 * 60)
        heard = self.heard
        try:
            getattr(self, name)(*said)
        except (RefusedError, UnknownNameError):
            assert self.entries() == self.told
            assert self.heard == heard
            return
        after = self.entries()
        assert after[: len(self.told)] == self.told
        assert len(after) > len(self.told)
        assert [entry.id for entry in after] == list(range(1, len(after) + 1))
        assert self.heard == heard + 1
        self.told = after

    # Each of these remembers only after the record has agreed.

    def start(self, start: Start, place: Place | None, at: datetime | None) -> None:
        begun = self.record.start(start, place, at, "", "page")
        self.filled_g[begun.id] = start.dry_g or 0.0

    def tell(self, number: int, telling: Telling) -> None:
        self.record.tell(number, telling, "page")
        if telling.weight_g is not None:
            self.picked_g[len(self.told) + 1] = telling.weight_g

    def split(self, number: int, count: int, place: Place | None, at: datetime | None) -> None:
        left, taken = self.record.split(number, count, place, at, "page")
        assert (left.id, taken.count) == (number, count)

    def old(self, which: int) -> Entry:
        if not self.told:
            raise RefusedError("Nothing was told yet.")
        return self.told[-1 - which % len(self.told)]

    def correct(self, which: int, at: datetime | None, place: Place | None) -> None:
        old = self.old(which)
        halved = old.weight_g and max(old.weight_g / 2, 1.0)
        said = moved_to(place, at) if old.kind is K.MOVED else Telling(old.kind, at)
        said = replace(said, weight_g=halved)
        self.record.correct(old.id, said, "page")
        if halved is not None:
            del self.picked_g[old.id]
            self.picked_g[len(self.told) + 1] = halved

    def correct_start(
        self, number: int, start: Start, at: datetime | None, place: Place | None
    ) -> None:
        if number not in self.filled_g:
            raise RefusedError("Of parts the whole is corrected.")
        self.record.correct_start(number, start, at, place, "page")
        self.filled_g[number] = start.dry_g or 0.0

    def withdraw(self, which: int) -> None:
        old = self.old(which)
        self.record.withdraw(old.id, "page")
        self.picked_g.pop(old.id, None)


@contextmanager
def grower() -> Iterator[Grower]:
    with TemporaryDirectory() as folder:
        books = open_books(f"sqlite:///{Path(folder) / 'cw.db'}", NOON)
        yield Grower(books)
        books.close()


def check(asking: Grower) -> None:
    batches = asking.record.batches()
    assert dict(batches) == batches_of(asking.told, TABLE) == dict(asking.reader().batches())
    assert sorted(batches) == sorted({entry.batch for entry in asking.told})
    living = [(b.chamber, b.shelf) for b in batches.values() if b.ended is None]
    for shelf in TENT.shelves:
        assert living.count(("tent", shelf)) <= HOLDS
    for batch in batches.values():
        assert (batch.chamber, batch.shelf) in {
            ("tent", "top"), ("tent", "bottom"), ("tent", None), ("shelf", None), (None, None)
        }  # fmt: skip
        for number in (batch.start.parent, batch.start.split_from):
            assert number is None or batches[number].started <= batch.started
    assert sum(b.count for b in batches.values()) == COUNT * len(asking.filled_g)
    assert sum(map(harvested_g, batches.values())) == pytest.approx(sum(asking.picked_g.values()))
    dry = sum(dry_g(b) or 0.0 for b in batches.values())
    assert dry == pytest.approx(sum(asking.filled_g.values()))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(1, 3), st.lists(calls, min_size=8, max_size=30))
def test_any_calls(begun: int, story: list[Call]) -> None:
    with grower() as asking:
        for number in range(begun):
            place = Place("tent", TENT.shelves[number % 2])
            asking.start(Start(OYSTER.name, Container.BAG, COUNT, dry_g=700.0), place, None)
        asking.told, asking.heard = asking.entries(), 0
        for call in story:
            asking.ask(call)
            check(asking)


def test_a_plain_story_is_taken() -> None:
    """So that the above isn't about nothing."""
    top, bag = Place("tent", "top"), Start(OYSTER.name, Container.BAG, COUNT, dry_g=800.0)
    at = [NOON - timedelta(days=day) for day in range(60)]
    story: list[Call] = [
        ("start", (bag, top, at[50])),
        ("tell", (1, Telling(K.OPENED, at[30]))),
        ("tell", (1, Telling(K.HARVESTED, at[20], weight_g=300.0))),
        ("correct", (0, at[19], None)),
        ("split", (1, 1, None, at[10])),
        ("correct_start", (1, replace(bag, dry_g=1000.0), at[51], None)),
    ]
    with grower() as asking:
        for call in story:
            before = len(asking.told)
            asking.ask(call)
            check(asking)
            assert len(asking.told) > before, call
        assert list(asking.picked_g.values()) == [150.0]
        newest_first = list(reversed(asking.told))
        corrected = next(n for n, entry in enumerate(newest_first) if entry.corrects == 3)
        asking.ask(("withdraw", (corrected,)))
        check(asking)
        assert asking.picked_g == {}
