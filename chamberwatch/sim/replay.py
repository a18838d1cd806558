"""Replaying a logged file: rows become messages, so that old logs enter by the front door."""

import csv
import json
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Final, Protocol, TextIO

from chamberwatch.core.errors import RefusedError
from chamberwatch.sim.show import Report

ISO: Final = "iso"
EPOCH: Final = "epoch"
FAULTS_KEPT: Final = 20

_HOUR_24: Final = re.compile(r"(?P<before>^|[ T])24:00(?=$|:00|[ Z+-])")


class Receiver(Protocol):
    """Takes reports, such as a publisher."""

    def publish(self, report: Report) -> None:
        """Hand a report over."""
        ...


@dataclass(frozen=True, slots=True)
class Columns:
    """How a file's columns become a message.

    Attributes:
        topic: where the messages go.
        columns: quantity to the name of its column.
        time_columns: joined with a space they give the time.
        time_format: "iso", "epoch" (seconds), or a strptime format.
        zone: of times that carry none.
        skip_lines: lines before the one with the column names.
        delimiter: between columns.
    """

    topic: str
    columns: Mapping[str, str]
    time_columns: tuple[str, ...] = ("time",)
    time_format: str = ISO
    zone: tzinfo = UTC
    skip_lines: int = 0
    delimiter: str = ","


@dataclass(slots=True)
class Tally:
    """What became of the rows."""

    sent: int = 0
    unread: int = 0
    faults: list[str] = field(default_factory=list)

    def note(self, line: int, reason: str) -> None:
        """Count a row that can't be read, and keep the first few reasons."""
        self.unread += 1
        if len(self.faults) < FAULTS_KEPT:
            self.faults.append(f"line {line}: {reason}")


def count_rows(path: Path, mapping: Columns) -> int:
    """Return how many rows there are, for the progress bar.

    Raises:
        RefusedError: the file can't be read.
    """
    with _opened(path) as file:
        return max(sum(1 for _ in file) - mapping.skip_lines - 1, 0)


def _opened(path: Path) -> TextIO:
    try:
        return path.open(encoding="utf-8-sig", errors="replace", newline="")
    except OSError as error:
        raise RefusedError(f"{path} can't be read ({error.strerror}).") from error


def read_log(path: Path, mapping: Columns, tally: Tally) -> Iterator[Report]:
    """Yield a report for each row that can be read; count the others.

    Raises:
        RefusedError: the file can't be read, or lacks a column.
    """
    with _opened(path) as file:
        for _ in range(mapping.skip_lines):
            next(file, None)
        rows = csv.DictReader(file, delimiter=mapping.delimiter)
        _need_columns(path, rows.fieldnames or (), mapping)
        for row in _readable(rows, mapping, tally):
            line = rows.line_num + mapping.skip_lines
            try:
                report = _report(row, mapping)
            except (ValueError, OverflowError, OSError) as error:
                tally.note(line, str(error))
                continue
            yield report


def _readable(
    rows: "csv.DictReader[str]", mapping: Columns, tally: Tally
) -> Iterator[Mapping[str, str | None]]:
    """Yield the rows, counting what is none: a quote that is never closed swallows a file."""
    while True:
        try:
            row = next(rows, None)
        except csv.Error as error:
            tally.note(rows.line_num + mapping.skip_lines, str(error))
            continue
        if row is None:
            return
        yield row


def _need_columns(path: Path, found: Sequence[str], mapping: Columns) -> None:
    wanted = [*mapping.time_columns, *mapping.columns.values()]
    missing = [name for name in wanted if name not in found]
    if missing:
        raise RefusedError(
            f"{path} has no column {', '.join(missing)}. It has: {', '.join(found)[:500]}."
        )


def _report(row: Mapping[str, str | None], mapping: Columns) -> Report:
    text = " ".join((row[name] or "").strip() for name in mapping.time_columns)
    time = time_of(text, mapping.time_format, mapping.zone)
    values: dict[str, float] = {}
    for quantity, column in mapping.columns.items():
        cell = (row[column] or "").strip()
        if cell:
            values[quantity] = _number(cell, column)
    if not values:
        raise ValueError("no value in any of the columns")
    body = {"time": time.isoformat(), **values}
    return Report(mapping.topic, json.dumps(body).encode(), time, len(values))


def _number(cell: str, column: str) -> float:
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):  # JSON has no word for it
        raise ValueError(f"“{cell[:40]}” in column {column} is not a number")
    return number


def time_of(text: str, time_format: str, zone: tzinfo) -> datetime:
    """Return an aware UTC time.

    Hour 24 is the first moment of the next day, as weather files write it.

    Raises:
        ValueError: it can't be read.
    """
    if time_format == EPOCH:
        return datetime.fromtimestamp(float(text), UTC)
    text, day_later = _HOUR_24.subn(r"\g<before>00:00", text, count=1)
    if time_format == ISO:
        time = datetime.fromisoformat(text)
    else:
        time = datetime.strptime(text, time_format)  # noqa: DTZ007 - the zone comes next
    if time.tzinfo is None:
        time = time.replace(tzinfo=zone)
    return (time + timedelta(days=day_later)).astimezone(UTC)


def replay(
    reports: Iterator[Report],
    receiver: Receiver,
    tally: Tally,
    *,
    speed: float | None,
    wait: Callable[[float], bool],
    progress: Callable[[], None],
) -> None:
    """Send reports, as fast as it goes or `speed` times faster than life.

    Args:
        reports: in order of time.
        receiver: takes them.
        tally: counts them.
        speed: None for as fast as it goes.
        wait: waits so many seconds and tells whether to stop.
        progress: called after each.
    """
    previous: datetime | None = None
    for report in reports:
        if speed is not None and previous is not None:
            pause_s = (report.time - previous).total_seconds() / speed
            if pause_s > 0 and wait(pause_s):
                return
        receiver.publish(report)
        previous = report.time
        tally.sent += 1
        progress()
