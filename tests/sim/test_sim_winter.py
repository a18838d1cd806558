"""The demo's winter: it can have happened, and there is something of everything in it."""

from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import ENDS, Batch, dry_g, harvested_g
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.service.board import Board
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.standing import Standing
from chamberwatch.settings import load, shipped_species
from chamberwatch.sim.winter import WINTER, tell_winter
from chamberwatch.storage.book import open_books
from tests.core.growing.lives import flush_weights_g
from tests.fakes import HandClock

DEMO = Path(str(files("chamberwatch") / "data" / "demo.toml"))
TABLE: SpeciesTable = shipped_species()


@pytest.fixture
def standing() -> Standing:
    return Standing(load(DEMO, {}).house(), TABLE, Board(0.0))


@pytest.fixture
def batches(tmp_path: Path, standing: Standing) -> Mapping[int, Batch]:
    clock = HandClock()
    books = open_books(f"sqlite:///{tmp_path / 'demo.db'}", clock.now())
    record = GrowingRecord(RecordParts(books, clock, standing.house, TABLE, lambda: None))
    tell_winter(record, clock.now())
    found = record.batches()
    books.close()
    return found


def test_four_species_two_finished_one_lost(batches: Mapping[int, Batch]) -> None:
    assert len(batches) == len(WINTER)
    assert len({b.start.species for b in batches.values()}) == 4
    ended = [b.stage for b in batches.values() if b.stage in ENDS]
    assert sorted(ended) == [Stage.CONTAMINATED, Stage.SPENT, Stage.SPENT]
    living = {b.stage for b in batches.values()} - ENDS
    assert living == {Stage.COLONISATION, Stage.FRUITING, Stage.RESTING}


def test_its_yields_are_believable(batches: Mapping[int, Batch]) -> None:
    for batch in batches.values():
        stated = TABLE.get(batch.start.species).efficiency_pct
        dry = dry_g(batch)
        assert stated is not None
        assert dry is not None
        reached = 100.0 * harvested_g(batch) / dry
        if batch.stage is Stage.SPENT:
            assert (stated.low or 0.0) <= reached <= (stated.high or 0.0)
        flushes = list(flush_weights_g(batch).values())
        assert flushes == sorted(flushes, reverse=True)


def test_the_band_follows_the_fruiting_batch(
    batches: Mapping[int, Batch], standing: Standing
) -> None:
    standing.renew(batches, None)
    following = standing.house.chamber("tent").following
    assert following is not None
    assert following.disagreements == {}
    humidity = following.limits["humidity"]
    assert humidity.low is not None
    assert humidity.low.words == "fruiting, grey oyster, batch 6"
