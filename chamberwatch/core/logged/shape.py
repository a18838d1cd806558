"""How a file is laid out: what parts its columns, and where its names and rows begin."""

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged.numbers import is_nothing, number_like, unit_of
from chamberwatch.core.logged.times import is_clock, is_date, is_epoch

DELIMITERS: Final = (";", "\t", "|", ",")
"""The comma last: it may stand within numbers."""

LOOKED_AT: Final = 400
"""So many lines from the top say how a file is laid out."""


@dataclass(frozen=True, slots=True)
class Shape:
    """How a file is laid out.

    Attributes:
        delimiter: between columns.
        names: of the columns; of one without a name “column 3”.
        first: how many lines stand before the first row.
    """

    delimiter: str
    names: tuple[str, ...]
    first: int


def shape_of(lines: Sequence[str], delimiter: str, skip_lines: int | None) -> Shape:
    """Return how a file is laid out.

    Args:
        lines: from its top, at most `LOOKED_AT`.
        delimiter: as it was typed; empty: to be found.
        skip_lines: lines before the names of the columns, as typed; None: to be found.

    Raises:
        RefusedError: nothing in it looks like a time and values.
    """
    if skip_lines is not None:
        lines = ("",) * skip_lines + tuple(lines[skip_lines:])
    best: tuple[int, str, list[list[str]]] = (0, "", [])
    for sign in (delimiter,) if delimiter else DELIMITERS:
        cells = [cells_of(line, sign) for line in lines]
        score = len(_rows(cells))
        if score > best[0]:
            best = (score, sign, cells)
    score, sign, cells = best
    if not score:
        raise RefusedError(
            "No row of the file looks like a time and a value beside it. Say what stands between "
            "the columns, such as --delimiter ';', and how many lines stand before their names: "
            "--skip-lines."
        )
    first = _rows(cells)[0]
    return Shape(sign, _names(cells, first, skip_lines), first)


def cells_of(line: str, delimiter: str) -> list[str]:
    """Return the cells of a line, none where it can't be parted."""
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def time_like(cell: str) -> bool:
    """Tell whether a cell holds a time or a part of one."""
    return is_date(cell) or is_clock(cell) or is_epoch(cell)


def _rows(cells: Sequence[Sequence[str]]) -> list[int]:
    """Return which lines are rows: a time, and a number beside it, as wide as most are."""
    found = [number for number, row in enumerate(cells) if _row_like(row)]
    if not found:
        return []
    width, _ = Counter(len(cells[number]) for number in found).most_common(1)[0]
    return [number for number in found if len(cells[number]) == width]


def _row_like(row: Sequence[str]) -> bool:
    times = [time_like(cell) for cell in row]
    values = [number_like(cell) for cell, time in zip(row, times, strict=True) if not time]
    # A file of seconds since 1970 has cells that are both; two of them make a row too.
    return any(times) and any(values)


def _names(cells: Sequence[Sequence[str]], first: int, skip_lines: int | None) -> tuple[str, ...]:
    """Return the names of the columns, with the units where those stand in a line of their own."""
    width = len(cells[first])
    above = [row for row in cells[:first] if any(cell.strip() for cell in row)]
    if skip_lines is not None:
        above = above[:2] if len(above) > 1 and _units(above[1]) else above[:1]
    units: Sequence[str] = ()
    if len(above) > 1 and _units(above[-1]):
        units = above.pop()
    heads = above[-1] if above and len(above[-1]) > 1 else ()
    names = []
    for place in range(width):
        name = heads[place].strip() if place < len(heads) else ""
        unit = units[place].strip() if place < len(units) else ""
        name = name or f"column {place + 1}"
        names.append(f"{name} ({unit})" if unit else name)
    return tuple(names)


def _units(row: Sequence[str]) -> bool:
    """Tell whether a line holds units and nothing else."""
    told = [cell for cell in row if not is_nothing(cell)]
    return bool(told) and all(unit_of(cell.strip("()[] ")) is not None for cell in told)
