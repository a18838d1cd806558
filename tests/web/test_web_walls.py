"""Walls: beaded where they are wet, half as many empty drops where nobody can tell."""

import pytest

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.web.pages.walls import walls

WET = Margin(15.4, -0.9, 0.4, Origin.ASSUMED, wet=True)
UNSURE = Margin(16.5, 0.2, 0.4, Origin.ASSUMED, wet=False)
DRY = Margin(18.0, 1.8, 0.4, Origin.ASSUMED, wet=False)
TOUCHED = Margin(15.4, -0.9, 0.4, Origin.MEASURED, wet=True)


@pytest.mark.parametrize(
    ("margin", "kind", "word", "beads"),
    [
        pytest.param(WET, "wet", "walls wet", 18, id="wet"),
        pytest.param(TOUCHED, "wet", "surface wet", 18, id="measured"),
        pytest.param(UNSURE, "unsure", "walls wet or dry? look for drops", 10, id="unsure"),
        pytest.param(DRY, "dry", "walls dry", 0, id="dry"),
    ],
)
def test_how_walls_are_drawn(margin: Margin, kind: str, word: str, beads: int) -> None:
    drawn = walls(margin, 100.0, 300.0)
    assert drawn is not None
    assert (drawn.kind, drawn.word, len(drawn.beads)) == (kind, word, beads)
    assert all(100.0 < bead.y < 300.0 for bead in drawn.beads)
    assert {bead.x for bead in drawn.beads} in ({14.0, 346.0}, set())


def test_nothing_is_drawn_of_what_is_not_known() -> None:
    assert walls(None, 0.0, 300.0) is None
