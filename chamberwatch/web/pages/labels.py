"""Finds room for words in a drawing, so that no two of them stand on each other.

Widths are guessed from the count of letters, a little too large rather than too small.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

PER_LETTER: Final = 0.56  # of the letters' height; a sans serif, digits and small letters
PER_BOLD: Final = 0.66
SHORT_WORD: Final = 0.4
"""So much more is kept free: the letters of a short word may all be wide ones."""
ABOVE_LINE: Final = 0.75  # of the letters' height
BELOW_LINE: Final = 0.22
NEAR: Final = 9.0
LEADER_FROM: Final = 20.0
"""A word further away from its point is joined to it by a line."""


class Box(NamedTuple):
    """A stretch of the drawing, in its units."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Tell whether two overlap."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def within(self, other: "Box") -> bool:
        """Tell whether it lies wholly in another one."""
        across = other.left <= self.left and self.right <= other.right
        return across and other.top <= self.top and self.bottom <= other.bottom


@dataclass(frozen=True, slots=True)
class Label:
    """A word where it was placed; `leader` joins it to its point, empty where it is near."""

    x: float
    y: float
    anchor: str
    text: str
    leader: str = ""


def box_of(x: float, y: float, anchor: str, text: str, size: float, *, bold: bool = False) -> Box:
    """Return what a text covers; `y` is that of its line."""
    width = size * (SHORT_WORD + (PER_BOLD if bold else PER_LETTER) * len(text))
    left = {"start": x, "middle": x - width / 2.0, "end": x - width}[anchor]
    return Box(left, y - ABOVE_LINE * size, left + width, y + BELOW_LINE * size)


@dataclass(slots=True)
class Placer:
    """Keeps in mind what is taken, and places words where nothing is."""

    frame: Box
    size: float
    taken: list[Box] = field(default_factory=list)

    def reserve(self, *boxes: Box) -> None:
        """Keep these free of words."""
        self.taken += boxes

    def fixed(self, x: float, y: float, anchor: str, text: str) -> Label | None:
        """Place a word just there, or not at all."""
        box = box_of(x, y, anchor, text, self.size)
        if any(box.meets(other) for other in self.taken):
            return None
        self.taken.append(box)
        return Label(round(x, 1), round(y, 1), anchor, text)

    def beside(
        self, x: float, y: float, texts: Sequence[str], *, far: float = NEAR, bold: bool = False
    ) -> Label | None:
        """Place the first of these texts that finds room beside a point; None where none does.

        Args:
            x: of the point.
            y: of the point.
            texts: what to say, at length first, shorter after it.
            far: how far away it may stand.
            bold: it is written in bold letters.
        """
        for text in texts:
            for distance, (at_x, at_y, anchor) in self._places(x, y, far):
                box = box_of(at_x, at_y, anchor, text, self.size, bold=bold)
                if not box.within(self.frame) or any(box.meets(other) for other in self.taken):
                    continue
                self.taken.append(box)
                leader = _leader(x, y, box) if distance >= LEADER_FROM else ""
                return Label(round(at_x, 1), round(at_y, 1), anchor, text, leader)
        return None

    def _places(
        self, x: float, y: float, far: float
    ) -> Iterator[tuple[float, tuple[float, float, str]]]:
        distance, middle = NEAR, 0.27 * self.size
        while distance <= far:
            slant = 0.7 * distance
            yield distance, (x + distance, y + middle, "start")
            yield distance, (x - distance, y + middle, "end")
            for side, anchor in ((slant, "start"), (-slant, "end")):
                yield distance, (x + side, y - slant, anchor)
                yield distance, (x + side, y + slant + 2.0 * middle, anchor)
            yield distance, (x, y - distance, "middle")
            yield distance, (x, y + distance + 2.0 * middle, "middle")
            distance += NEAR


def _leader(x: float, y: float, box: Box) -> str:
    """Return the line from a point to the nearest place of a text."""
    to_x = min(max(x, box.left), box.right)
    to_y = min(max(y, box.top), box.bottom)
    return f"M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}"
