"""Crops of recorded batches, with the shelf that only the entries know."""

from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.growing.crop_rows import By
from chamberwatch.core.growing.life import fold
from chamberwatch.service.growing.crops import crop_of, crop_tables
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.told import Telling
from chamberwatch.settings.species import shipped_species
from chamberwatch.storage.book import open_books
from tests.core.growing.lives import OYSTER, K, begin, numbered, tell
from tests.fakes import HandClock
from tests.make import NOON, house


def test_a_finished_batch_is_counted_on_the_shelf_where_it_was_picked() -> None:
    entries = numbered(
        begin(wet_g=2270.0, moisture_pct=62.0),
        tell(K.MOVED, 1, chamber="tent", shelf="top"),
        tell(K.OPENED, 20),
        tell(K.PINNED, 24),
        tell(K.HARVESTED, 30, weight_g=600.0),
        tell(K.SPENT, 40),
    )
    tables = crop_tables({14: fold(entries, OYSTER)}, entries, shipped_species())
    (crop,) = tables.crops
    assert (crop.shelf, round(crop.efficiency_pct or 0.0)) == ("tent, top", 70)
    assert {by: [row.key for row in rows] for by, rows in tables.rows.items()} == {
        By.SPECIES: ["any"],
        By.SUBSTRATE: ["not said"],
        By.LINE: ["14"],
        By.SHELF: ["tent, top"],
    }
    assert "spawn and casing" in tables.reckoned_on


def test_what_is_split_in_the_record_shares_what_was_picked_before(tmp_path: Path) -> None:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    table = shipped_species()
    record = GrowingRecord(RecordParts(books, HandClock(), house(), table, lambda: None))
    whole = Start("grey-oyster", Container.BAG, count=4, wet_g=4000.0, moisture_pct=60.0)
    number = record.start(whole, Place("tent", "top"), NOON - timedelta(days=60), "", "page").id

    def tell(batch: int, kind: EntryKind, days: float, weight_g: float | None = None) -> None:
        at = NOON - timedelta(days=days)
        record.tell(batch, Telling(kind, at, weight_g=weight_g), "page")

    tell(number, EntryKind.OPENED, 40)
    tell(number, EntryKind.HARVESTED, 30, 800.0)
    split = NOON - timedelta(days=20)
    _, part = record.split(number, 1, Place("tent", "bottom"), split, "page")
    tell(part.id, EntryKind.PINNED, 16)
    tell(part.id, EntryKind.HARVESTED, 10, 100.0)
    other = record.start(whole, None, NOON - timedelta(days=60), "", "page")
    batches, entries = record.batches(), record.all_entries()
    each_by_itself = (entry for each in batches for entry in record.entries(each))
    assert list(entries) == sorted(each_by_itself, key=lambda entry: entry.id)
    one, two, lone = crop_tables(batches, entries, table).crops
    # Each by its own family alone comes to the same.
    asked: list[int] = []

    def entries_of(each: int) -> tuple[Entry, ...]:
        asked.append(each)
        return record.entries(each)

    for crop in (one, two, lone):
        assert crop_of(crop.batch, batches, entries_of, table) == crop
    assert sorted(asked) == [number, number, part.id, other.id]
    # Nothing is read again until something is told.
    assert record.all_entries() is entries
    tell(other.id, EntryKind.NOTED, 0)
    assert len(record.all_entries()) == len(entries) + 1
    books.close()
    assert (one.fresh_g, one.dry_g) == pytest.approx((600.0, 1200.0))
    assert (two.fresh_g, two.dry_g, two.weighed_g) == pytest.approx((300.0, 400.0, 100.0))
    assert [each.days for each in (one, two)] == pytest.approx([30.0, 50.0])
    assert [(f.flush, f.fresh_g) for f in two.flushes] == [(1, 200.0), (2, 100.0)]
    assert (one.shelf, two.shelf) == ("tent, top", "tent, bottom")
