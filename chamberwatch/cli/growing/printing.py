"""How the growing record looks on a terminal, and in a file when it is taken further."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

from chamberwatch.core.sentence import plain

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

LABEL: Final = 12
NONE: Final = "-"


def show(*parts: "RenderableType") -> None:
    """Print one below the other, no wider than the terminal; colours only where there is one."""
    from rich.console import Console
    from rich.text import Text

    class Harmless(Console):
        """Prints words that can't do anything to a terminal, whoever wrote them."""

        def render_str(self, text: str, **how: Any) -> Text:  # noqa: ANN401 - as rich has them
            return super().render_str(plain(text), **how)

    # What people write may hold brackets; it is printed as it is.
    console = Harmless(markup=False, highlight=False, emoji=False)
    with console.capture() as said:
        for part in parts:
            console.print(part)
    # Cells are filled up with blanks, which only disturb where the words are taken further.
    print("\n".join(line.rstrip() for line in said.get().splitlines()))


def head(text: str) -> "Text":
    """Return a heading."""
    from rich.text import Text

    return Text(text, style="bold")


def indented(text: str) -> "Padding":
    """Return words that wrap, a little to the right."""
    from rich.padding import Padding

    return Padding(text, (0, 0, 0, 2))


def table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], wraps: Iterable[int] = ()
) -> "Table":
    """Return a table.

    Args:
        heads: of its columns.
        rows: of its cells.
        wraps: numbers of the columns that may be narrowed.
    """
    from rich.table import Table

    made = Table(box=None, padding=(0, 1, 0, 0), header_style="bold", pad_edge=False)
    narrowed = frozenset(wraps)
    for number, each in enumerate(heads):
        made.add_column(each, no_wrap=number not in narrowed, vertical="top")
    for row in rows:
        made.add_row(*row)
    return made


def pairs(rows: Iterable[tuple[str, str]], label: int = LABEL) -> "Table":
    """Return a label and words that wrap in each line; those without words are left out."""
    from rich.table import Table

    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=label + 2, no_wrap=True)
    grid.add_column()
    for name, words in rows:
        if words:
            grid.add_row(f"  {name}", words)
    return grid


def date_of(at: datetime, zone: ZoneInfo) -> str:
    """Write a day as it can be typed again."""
    return f"{at.astimezone(zone):%Y-%m-%d}"


def time_of(at: datetime, zone: ZoneInfo) -> str:
    """Write a time as it can be typed again."""
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"
