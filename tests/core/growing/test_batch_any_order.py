"""Whatever is told, in whatever order: no impossible stage, no lost weight."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    Batch,
    Container,
    Entry,
    EntryKind,
    dry_g,
    harvested_g,
)
from chamberwatch.core.growing.corrections import as_of, effective
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import Species
from chamberwatch.core.growing.splitting import split_past, split_start
from chamberwatch.core.growing.telling import check_next
from tests.core.growing.lives import ALL, OYSTER, K, S, begin, numbered, on, tell

LATER = on(1000)
ENDED = {S.SPENT, S.CONTAMINATED}
GROWING = {S.FRUITING, S.ANTLER, S.CONK}

days = st.integers(0, 120)
weights = st.floats(0.1, 4000.0)
flushes = st.none() | st.integers(1, 4)


def one(kind: EntryKind, **told: st.SearchStrategy[Any]) -> st.SearchStrategy[Entry]:
    return st.builds(lambda day, **rest: tell(kind, day, **rest), days, **told)


LIVED = (K.WHITE, K.CASED, K.OPENED, K.PINNED, K.RESTED, K.SOAKED, K.RAINED, K.NOTED)
# Neither depends on where it stands, nor on what was weighed.
AS_IT_HAPPENED = {*LIVED, K.HARVESTED, K.SPENT, K.CONTAMINATED} - {K.RAINED}
happenings = st.one_of(
    *(one(kind) for kind in LIVED),
    one(K.HARVESTED, weight_g=weights, flush=flushes),
    one(K.STAGED, stage=st.sampled_from(Stage), flush=flushes),
    one(K.MOVED, chamber=st.none() | st.sampled_from(["tent", "shed"])),
    one(K.SPLIT, count=st.integers(1, 3), other=st.just(15)),
    st.sampled_from([tell(K.SPENT, 119), tell(K.CONTAMINATED, 110)]),
)
# With which of the entries so far it corrects or withdraws, if any.
tellings = st.lists(
    st.tuples(happenings, st.none() | st.none() | st.integers(0, 9), st.booleans()), max_size=25
)


class Book:
    """Keeps what is accepted; knows by itself which entries hold."""

    def __init__(self, species: Species, container: Container) -> None:
        self.species = species
        self.told: list[Entry] = list(numbered(begin(container, count=5, dry_g=4000.0)))
        self.holding: dict[int, Entry] = {1: self.told[0]}
        self.batch = fold(self.told, species)

    def tell(self, entry: Entry, which: int | None, *, withdraw: bool) -> None:
        number = len(self.told) + 1
        # No two at the same time.
        new = replace(entry, at=entry.at.replace(microsecond=number))
        old = None if which is None else list(self.holding.values())[which % len(self.holding)]
        if old is not None:
            told = replace(old, at=new.at, weight_g=old.weight_g and old.weight_g / 2)
            new = tell(K.WITHDRAWN, 121) if withdraw else told
            new = replace(new, corrects=old.id)
        try:
            self.batch = check_next(self.told, replace(new, id=0), self.species, LATER)
        except RefusedError:
            assert fold(self.told, self.species) == self.batch
            return
        self.told.append(replace(new, id=number))
        if old is not None:
            del self.holding[old.id]
        if new.kind is not K.WITHDRAWN:
            self.holding[number] = self.told[-1]


@settings(deadline=None)  # how fast it is, the benches measure
@given(st.sampled_from(sorted(ALL)), st.sampled_from(Container), tellings, st.randoms())
def test_any_story(
    name: str,
    container: Container,
    story: Sequence[tuple[Entry, int | None, bool]],
    random: Any,  # noqa: ANN401 - hypothesis' own kind of random.Random
) -> None:
    book = Book(ALL[name], container)
    for entry, which, withdraw in story:
        book.tell(entry, which, withdraw=withdraw)
        _check_possible(book.batch, book.species)
    _check_nothing_lost(book)
    _check_arrival_is_nothing(book, random)
    _check_a_part_goes_on(book, random.randint(0, 120))


def _check_possible(batch: Batch, species: Species) -> None:
    for passed, following in pairwise(batch.stages):
        assert passed.until == following.since >= passed.since
        assert (passed.stage, passed.flush) != (following.stage, following.flush)
        assert passed.stage not in ENDED
    for passed in batch.stages:
        assert passed.stage in {*species.stages, S.RESTING, *ENDED}
        assert passed.flush >= (passed.stage in GROWING)
        assert passed.flush == 0 or passed.stage not in {S.COLONISATION, S.CASE_RUN}
    assert batch.stages[-1].until is None
    assert (batch.stages[0].since, batch.stages[0].stage) == (batch.started, S.COLONISATION)
    assert batch.flush >= max((harvest.flush for harvest in batch.harvests), default=0)
    living = [passed.stage for passed in batch.stages if passed.stage not in ENDED]
    assert (batch.opened_at is None) is (living[-1] is S.COLONISATION)
    assert 1 <= batch.count <= batch.start.count
    if batch.ended:
        assert (batch.chamber, batch.shelf, batch.open) == (None, None, False)


def _check_nothing_lost(book: Book) -> None:
    assert sorted(book.holding) == sorted(entry.id for entry in effective(book.told))
    weighed = {e.id: e.weight_g for e in book.holding.values() if e.kind is K.HARVESTED}
    assert {harvest.entry: harvest.weight_g for harvest in book.batch.harvests} == weighed
    gone = sum(e.count or 0 for e in book.holding.values() if e.kind is K.SPLIT)
    assert book.batch.count == 5 - gone


def _check_arrival_is_nothing(book: Book, random: Any) -> None:  # noqa: ANN401 - as above
    """What holds, told in another order, makes the same batch."""
    ids = list(range(1, len(book.holding) + 1))
    random.shuffle(ids)
    told = [
        replace(entry, id=number, corrects=None)
        for number, entry in zip(ids, book.holding.values(), strict=True)
    ]
    again = fold(told, book.species)
    harvests = tuple(replace(harvest, entry=0) for harvest in again.harvests)
    before = tuple(replace(harvest, entry=0) for harvest in book.batch.harvests)
    assert replace(again, harvests=harvests) == replace(book.batch, harvests=before)


def _check_a_part_goes_on(book: Book, day: int) -> None:
    """What is split off has the same past, and the same future if the same happens to it."""
    past = as_of(book.told, on(day + 0.5))
    was = fold(past, book.species) if past else book.batch
    # It was not there yet, or nothing can be taken out.
    if not past or was.ended or was.count == 1:
        return
    whole, part = list(past), _part(was, past, book.species, 1, 15)
    out = fold(part, book.species)
    assert out.harvests == ()
    for entry in (None, *effective(book.told)):
        if entry is not None and entry.at > on(day + 0.5) and entry.kind in AS_IT_HAPPENED:
            told = replace(entry, id=1000, corrects=None, flush=None)
            try:
                was = fold([*whole, told], book.species)
            except RefusedError:
                continue
            whole.append(replace(told, id=len(whole) + 1))
            part.append(replace(told, id=len(part) + 1, batch=15))
        out = fold(part, book.species)
        for name in ("stages", "white_at", "opened_at", "soaked_at", "wetted_at", "rested_at"):
            assert getattr(out, name) == getattr(was, name), name


def test_a_story_goes_somewhere() -> None:
    """The book of these tests accepts a plain life, so that the above isn't about nothing."""
    book = Book(OYSTER, Container.BAG)
    plain = [tell(K.OPENED, 9), tell(K.PINNED, 13), tell(K.HARVESTED, 20, weight_g=800.0)]
    for entry in plain:
        book.tell(entry, None, withdraw=False)
    book.tell(tell(K.NOTED, 30), 3, withdraw=False)
    assert harvested_g(book.batch) == 400.0


@given(
    st.integers(2, 9),
    st.floats(10.0, 50_000.0),
    st.sampled_from([[], [K.OPENED], [K.OPENED, K.PINNED]]),
    st.lists(st.tuples(st.booleans(), st.integers(0, 8), st.integers(1, 4), weights), max_size=20),
)
def test_splits_lose_neither_substrate_nor_harvest(
    count: int,
    dry: float,
    opening: list[EntryKind],
    doings: list[tuple[bool, int, int, float]],
) -> None:
    before = [tell(kind, day) for day, kind in enumerate(opening, 1)]
    house = {14: [*numbered(begin(count=count, dry_g=dry), *before)]}
    for day, (splits, which, taken, weight_g) in enumerate(doings, 5):
        number = list(house)[which % len(house)]
        other = 14 + len(house)
        told = {"count": taken, "other": other} if splits else {"weight_g": weight_g}
        kind = K.SPLIT if splits else K.HARVESTED
        new = Entry(0, number, kind, on(day), on(day), "page", **told)
        was = fold(house[number], OYSTER)
        try:
            check_next(house[number], new, OYSTER, LATER)
        except RefusedError:
            continue
        house[number].append(replace(new, id=len(house[number]) + 1))
        if splits:
            house[other] = _part(was, house[number][:-1], OYSTER, taken, other)
    batches = [fold(entries, OYSTER) for entries in house.values()]
    told_g = [entry.weight_g or 0.0 for entries in house.values() for entry in entries]
    assert sum(batch.count for batch in batches) == count
    assert sum(dry_g(batch) or 0.0 for batch in batches) == pytest.approx(dry, rel=1e-9)
    assert sum(map(harvested_g, batches)) == pytest.approx(sum(told_g), rel=1e-12)


def _part(
    was: Batch, past: Sequence[Entry], species: Species, count: int, number: int
) -> list[Entry]:
    begun = Entry(0, number, K.STARTED, was.started, on(0), "page", start=split_start(was, count))
    told = [replace(each, batch=number) for each in split_past(as_of(past, LATER), species)]
    return list(numbered(begun, *told))
