"""What a whole file comes to, counted row by row before anything of it is kept."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from chamberwatch.core.logged.log import LogReader, Row
from chamberwatch.core.watch.reading import Quantity, Reading

KEPT: Final = 5
"""So many of each are remembered to be shown."""


@dataclass(slots=True)
class Figures:
    """What the values of one quantity come to."""

    count: int = 0
    least: float = float("inf")
    most: float = float("-inf")
    total: float = 0.0

    def add(self, value: float) -> None:
        """Count one in."""
        self.count += 1
        self.least = min(self.least, value)
        self.most = max(self.most, value)
        self.total += value

    @property
    def mean(self) -> float:
        """Return the mean; there has to be a value."""
        return self.total / self.count


@dataclass(slots=True)
class Survey:
    """What a file comes to.

    Attributes:
        rows: how many were read.
        figures: of the readings, by quantity.
        sensors: how many readings each of our sensors gets.
        first: time of the earliest reading.
        last: time of the latest.
        examples: the first readings, row by row.
        unread: how many rows can't be read.
        faults: line and reason of the first of them.
        refused: how many values can't be right.
        rejects: line and reason of the first of them.
        others: rows of sensors that were not asked for, by the name in the file.
        named: rows that go to a sensor of ours, by the name in the file, where it has names.
    """

    rows: int = 0
    figures: dict[Quantity, Figures] = field(default_factory=dict)
    sensors: dict[str, int] = field(default_factory=dict)
    first: datetime | None = None
    last: datetime | None = None
    examples: list[tuple[Reading, ...]] = field(default_factory=list)
    unread: int = 0
    faults: list[tuple[int, str]] = field(default_factory=list)
    refused: int = 0
    rejects: list[tuple[int, str]] = field(default_factory=list)
    others: dict[str, int] = field(default_factory=dict)
    named: dict[str, int] = field(default_factory=dict)

    @property
    def readings(self) -> int:
        """Return how many readings there are."""
        return sum(each.count for each in self.figures.values())

    def take(self, line: int, row: Row) -> None:
        """Count what a row gives."""
        self.rows += 1
        if row.readings and len(self.examples) < KEPT:
            self.examples.append(row.readings)
        for reading in row.readings:
            self.figures.setdefault(reading.quantity, Figures()).add(reading.value)
            self.sensors[reading.sensor] = self.sensors.get(reading.sensor, 0) + 1
            self.first = min(self.first or reading.time, reading.time)
            self.last = max(self.last or reading.time, reading.time)
        for reason in row.refused:
            self.refused += 1
            if len(self.rejects) < KEPT:
                self.rejects.append((line, reason))

    def fault(self, line: int, reason: str) -> None:
        """Count a row that can't be read."""
        self.unread += 1
        if len(self.faults) < KEPT:
            self.faults.append((line, reason))

    def other(self, name: str) -> None:
        """Count a row of a sensor that was not asked for."""
        self.others[name] = self.others.get(name, 0) + 1


def surveyed(
    rows: Iterable[tuple[int, Sequence[str]]], reader: LogReader, survey: Survey
) -> Iterator[Row]:
    """Yield what rows give, and count all of them.

    Args:
        rows: number of the line and cells; without cells where quotes are never closed.
        reader: at the top of the file.
        survey: counts them.
    """
    for line, cells in rows:
        named, sensor = reader.named(cells), reader.whose(cells)
        if sensor is None:
            survey.other(named or "")
            continue
        if named is not None:
            survey.named[named] = survey.named.get(named, 0) + 1
        try:
            row = reader.row(cells, sensor)
        except ValueError as error:
            survey.fault(line, str(error))
            continue
        survey.take(line, row)
        yield row
