"""Crops of recorded batches, with the shelf that only the entries know."""

from chamberwatch.core.growing.crop_rows import By
from chamberwatch.core.growing.life import fold
from chamberwatch.service.growing.crops import crop_tables
from chamberwatch.settings.species import shipped_species
from tests.core.growing.lives import OYSTER, K, begin, numbered, tell


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
