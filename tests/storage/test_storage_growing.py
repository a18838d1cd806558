"""Entries about batches: kept as they were told, in the order in which they were told."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.storage.book import SqlBooks

FULL = Start("shiitake", Container.LOG, 20, "oak", "cold", "plugs", 9e4, 5e4, 44.0, 1, 2)
BARE = Start("grey-oyster", Container.BAG)


@pytest.fixture
def started(noon: datetime) -> Entry:
    return Entry(0, 0, EntryKind.STARTED, noon, noon + timedelta(hours=1), "page", start=BARE)


def entry(noon: datetime, batch: int, kind: EntryKind, **said: object) -> Entry:
    return replace(Entry(0, batch, kind, noon, noon, "api"), **said)  # type: ignore[arg-type]


def test_none_at_first(books: SqlBooks) -> None:
    with books.read() as book:
        assert (list(book.growing.all()), book.growing.newest_id()) == ([], 0)
        assert list(book.growing.of(1)) == []


def test_they_come_back_as_they_were_told(books: SqlBooks, started: Entry, noon: datetime) -> None:
    with books.write() as book:
        kept = [
            book.growing.start(replace(started, chamber="tent", shelf="top", note="“first”")),
            book.growing.start(replace(started, start=FULL)),
            book.growing.add(entry(noon, 1, EntryKind.HARVESTED, weight_g=612.5, flush=2)),
            book.growing.add(entry(noon, 2, EntryKind.STAGED, stage=Stage.CASE_RUN)),
            book.growing.add(entry(noon, 1, EntryKind.SPLIT, count=1, other=3)),
            book.growing.add(entry(noon, 1, EntryKind.LOOKED, sign="long-stems")),
            book.growing.add(entry(noon, 1, EntryKind.WITHDRAWN, corrects=3)),
        ]
    assert [(e.id, e.batch) for e in kept] == [
        (1, 1),
        (2, 2),
        (3, 1),
        (4, 2),
        (5, 1),
        (6, 1),
        (7, 1),
    ]
    with books.read() as book:
        assert book.growing.all() == kept
        assert book.growing.of(2) == [kept[1], kept[3]]
        assert book.growing.newest_id() == 7


def test_every_kind_and_container_can_be_kept(
    books: SqlBooks, started: Entry, noon: datetime
) -> None:
    with books.write() as book:
        told = [
            book.growing.start(replace(started, start=replace(BARE, container=container)))
            for container in Container
        ]
        told += [book.growing.add(entry(noon, 1, kind)) for kind in EntryKind]
    with books.read() as book:
        assert book.growing.all() == told


def test_a_number_is_not_used_again(books: SqlBooks, started: Entry) -> None:
    with books.write() as book:
        book.growing.start(started)
    with books.write() as book:
        again = book.growing.start(started)
        book.growing.add(replace(started, id=0, batch=again.batch, kind=EntryKind.SPENT))
        assert again.batch == 2
        assert book.growing.start(started).batch == 3
