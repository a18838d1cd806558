"""The sheet that a chart is drawn on: how large, where a panel lies, and the pieces of SVG."""

from dataclasses import dataclass
from typing import Final

from markupsafe import escape

from chamberwatch.core.sentence import straight
from chamberwatch.web.pages.chart_scale import Stretch

LEFT: Final = 46.0
RIGHT_MARGIN: Final = 10.0
PER_LETTER: Final = 6.4
"""Width of a letter of the words beside marks."""
PER_BOLD: Final = 7.2
"""The same of a bold one."""


@dataclass(frozen=True, slots=True)
class Paper:
    """How large a drawing is.

    Attributes:
        width: of the whole, in units of the drawing.
        panel: height of each panel.
        name: tells the drawings of one page apart.
    """

    width: float
    panel: float
    name: str


NARROW: Final = Paper(358.0, 96.0, "narrow")
WIDE: Final = Paper(1000.0, 120.0, "wide")


@dataclass(frozen=True, slots=True)
class Frame:
    """One panel: from times and values to places."""

    paper: Paper
    start: float
    end: float
    top: float
    values: Stretch

    @property
    def right(self) -> float:
        """Return the right end of the panel."""
        return self.paper.width - RIGHT_MARGIN

    @property
    def foot(self) -> float:
        """Return its lower end."""
        return self.top + self.paper.panel

    def x(self, moment: float) -> float:
        """Return the place of a time [s since 1970], at the end if it lies beyond."""
        share = (moment - self.start) / (self.end - self.start)
        return round(LEFT + min(1.0, max(0.0, share)) * (self.right - LEFT), 1)

    def y(self, value: float) -> float:
        """Return the place of a value, at the end if it lies beyond."""
        share = min(1.0, max(0.0, self.values.share(value)))
        return round(self.foot - share * self.paper.panel, 1)


def rect(cls: str, x: float, y: float, width: float, height: float) -> str:
    """Return a rectangle."""
    return (
        f'<rect class="{cls}" x="{x:g}" y="{y:g}" width="{round(width, 1):g}" '
        f'height="{round(height, 1):g}"/>'
    )


def text(cls: str, x: float, y: float, words: str, anchor: str = "") -> str:
    """Return words; they are escaped."""
    at = f' text-anchor="{anchor}"' if anchor else ""
    said = escape(straight(words))
    return f'<text class="{cls}" x="{round(x, 1):g}" y="{round(y, 1):g}"{at}>{said}</text>'
