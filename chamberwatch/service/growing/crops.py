"""What came of the batches, as the faces show it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from chamberwatch.core.growing.batch import Batch, Entry, by_batch
from chamberwatch.core.growing.crop import RECKONED_ON, Crop, crops, fruited_on, split_times
from chamberwatch.core.growing.crop_rows import By, Row, rows
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.core.growing.species import SpeciesTable


@dataclass(frozen=True, slots=True)
class CropTables:
    """Every batch, and finished ones put together.

    Attributes:
        crops: what came of every batch so far, by number.
        rows: finished batches put together, by what.
        reckoned_on: what the efficiency is of, in words.
    """

    crops: tuple[Crop, ...]
    rows: Mapping[By, tuple[Row, ...]]
    reckoned_on: str = RECKONED_ON


def crop_tables(
    batches: Mapping[int, Batch], entries: Iterable[Entry], table: SpeciesTable
) -> CropTables:
    """Return what came of the batches.

    Args:
        batches: all there are, by number, ended ones too.
        entries: all that was told of them: where each stood when it was picked is only there, and
            when it was split.
        table: the species, for the water in their crops.
    """
    told = by_batch(entries)
    shelves = {number: fruited_on(told[number]) for number in batches if number in told}
    splits = split_times(entry for each in told.values() for entry in each)
    found = crops(batches, table.known, shelves, splits)
    return CropTables(found, {by: rows(found, by) for by in By})


def crop_of(
    number: int,
    batches: Mapping[int, Batch],
    entries_of: Callable[[int], Iterable[Entry]],
    table: SpeciesTable,
) -> Crop:
    """Return what came of one batch so far, by its own family alone.

    Args:
        number: its own.
        batches: all there are, by number, ended ones too.
        entries_of: gives all that was told of one batch.
        table: the species, for the water in their crops.
    """
    # Of what was picked before a split each part has its share, and that of the others is not its.
    line = {number, *ancestors(batches, number)}
    family = {
        each: batch
        for each, batch in batches.items()
        if each in line or batch.start.split_from in line
    }
    told = (entry for each in line for entry in entries_of(each))
    return next(crop for crop in crop_tables(family, told, table).crops if crop.batch == number)
