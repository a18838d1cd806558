"""The walls of a drawn chamber: beaded where they are wet, or where nobody can tell."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.web.language import _

APART: Final = 19.0
LEFT: Final = 14.0
RIGHT: Final = 346.0


@dataclass(frozen=True, slots=True)
class Bead:
    """A drop on a wall: where it hangs, and how large it is drawn."""

    x: float
    y: float
    size: float


@dataclass(frozen=True, slots=True)
class Walls:
    """How the walls are.

    Attributes:
        kind: wet (full drops), unsure (empty drops, half as many) or dry (none).
        word: the same in words.
        beads: the drops.
    """

    kind: str
    word: str
    beads: tuple[Bead, ...]


def walls(margin: Margin | None, top: float, floor: float) -> Walls | None:
    """Return how the walls are drawn between `top` and `floor`; None where nothing is known."""
    if margin is None:
        return None
    what = _("surface") if margin.origin is Origin.MEASURED else _("walls")
    if not margin.certain:
        return Walls(
            "unsure", _("%(what)s wet or dry? look for drops", what=what), _beads(top, floor, 2)
        )
    if margin.wet:
        return Walls("wet", _("%(what)s wet", what=what), _beads(top, floor, 1))
    return Walls("dry", _("%(what)s dry", what=what), ())


def _beads(top: float, floor: float, every: int) -> tuple[Bead, ...]:
    """Spread drops over both walls, never two of one size side by side."""
    beads = []
    for at in range(0, int((floor - top - APART) / APART), every):
        y = round(top + APART * (at + 0.8), 1)
        beads.append(Bead(LEFT, y, (1.0, 0.75, 1.25)[at // every % 3]))
        beads.append(Bead(RIGHT, round(y + APART / 2, 1), (0.8, 1.2, 1.0)[at // every % 3]))
    return tuple(beads)
