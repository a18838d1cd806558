"""The record in memory: what was read, what was found in it, and what was foretold from it.

Readings older than `KEPT` are dropped, since nothing looks further back while it watches.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.growing.batch import Entry
from chamberwatch.core.growing.photo import Photo
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.reading import Quantity, Reading, Reject, Undated
from chamberwatch.core.watch.reminder import Move
from chamberwatch.service.books import Bucket, Span

KEPT: Final = timedelta(days=4)
TRIM_BEYOND: Final = 12_000
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)

Series = tuple[str, Quantity]


@dataclass
class _Line:
    """One series in order of time, with what is asked for most lying ready beside it.

    Attributes:
        rows: the readings.
        times: of each.
        times_s: of each, since 1970. [s]
        values: of each.
    """

    rows: list[Reading] = field(default_factory=list)
    times: list[datetime] = field(default_factory=list)
    times_s: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def add(self, reading: Reading) -> bool:
        """Put a reading in its place; return whether it was not there yet."""
        times, time = self.times, reading.time
        place = len(times)
        if times and time <= times[-1]:
            place = bisect_left(times, time)
            if times[place] == time:
                return False
        self.rows.insert(place, reading)
        times.insert(place, time)
        self.times_s.insert(place, (time - EPOCH).total_seconds())
        self.values.insert(place, reading.value)
        if len(times) > TRIM_BEYOND:
            cut = bisect_left(times, times[-1] - KEPT)
            del self.rows[:cut], times[:cut], self.times_s[:cut], self.values[:cut]
        return True

    def cut(self, span: Span) -> slice:
        """Return where a span lies."""
        return slice(bisect_left(self.times, span.start), bisect_left(self.times, span.end))


def _bucket(start: datetime, values: Sequence[float]) -> Bucket:
    if len(values) == 1:
        # A reading a minute: most buckets of the search hold one.
        (only,) = values
        return Bucket(start, 1, only, only, only)
    return Bucket(start, len(values), min(values), sum(values) / len(values), max(values))


class MemoryReadings:
    """Readings by series, each in order of time."""

    def __init__(self) -> None:
        self._of: dict[Series, _Line] = {}
        self._count = 0

    def add(self, readings: Iterable[Reading]) -> int:
        fresh = 0
        for reading in readings:
            key = (reading.sensor, reading.quantity)
            line = self._of.get(key)
            if line is None:
                line = self._of[key] = _Line()
            fresh += line.add(reading)
        self._count += fresh
        return fresh

    def newest(self) -> Mapping[Series, Reading]:
        return {key: line.rows[-1] for key, line in self._of.items()}

    def _cut(self, sensor: str, quantity: Quantity, span: Span) -> list[Reading]:
        line = self._of.get((sensor, quantity))
        return line.rows[line.cut(span)] if line is not None else []

    def within(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, limit: int
    ) -> Sequence[Reading]:
        rows = [r for s in sensors for r in self._cut(s, quantity, span)]
        return sorted(rows, key=lambda r: (r.time, r.sensor))[:limit]

    def buckets(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, step_s: float, limit: int
    ) -> Sequence[Bucket]:
        groups: dict[int, list[float]] = {}
        for sensor in sensors:
            line = self._of.get((sensor, quantity), _Line())
            cut = line.cut(span)
            for time_s, value in zip(line.times_s[cut], line.values[cut], strict=True):
                groups.setdefault(int(time_s // step_s), []).append(value)
        return [
            _bucket(EPOCH + timedelta(seconds=number * step_s), values)
            for number, values in sorted(groups.items())[:limit]
        ]

    def page(
        self, sensor: str | None, span: Span, after: Reading | None, limit: int
    ) -> Sequence[Reading]:
        keys = [key for key in self._of if sensor is None or key[0] == sensor]
        rows = sorted(
            (r for name, quantity in keys for r in self._cut(name, quantity, span)),
            key=lambda r: (r.time, r.sensor, r.quantity),
        )
        if after is not None:
            edge = (after.time, after.sensor, after.quantity)
            rows = [r for r in rows if (r.time, r.sensor, r.quantity) > edge]
        return rows[:limit]

    def correct(self, readings: Sequence[Reading]) -> int:
        raise NotImplementedError("Nobody calibrates a sensor in this bench.")

    def count(self) -> int:
        return self._count

    def add_undated(self, values: Iterable[Undated]) -> None:
        raise NotImplementedError("Every reading of this bench carries its time.")

    def take_waiting(self, boot: str) -> Sequence[Undated]:
        return ()

    def forget_boots(self, boot: str) -> int:
        return 0

    def count_undated(self) -> tuple[int, int]:
        return 0, 0


class MemoryFound:
    """Mistings and ventings, in order of their ids, nearly that of their starts."""

    def __init__(self) -> None:
        self._rows: list[Found] = []

    def add(self, found: Found) -> Found:
        kept = replace(found, id=len(self._rows) + 1)
        self._rows.append(kept)
        return kept

    def save(self, found: Found) -> None:
        self._rows[found.id - 1] = found

    def get(self, number: int) -> Found | None:
        return self._rows[number - 1] if 0 < number <= len(self._rows) else None

    def within(self, chamber: str, span: Span) -> Sequence[Found]:
        rows = []
        for found in reversed(self._rows):
            if found.start < span.start - timedelta(days=1):
                break
            if found.chamber == chamber and span.start <= found.start < span.end:
                rows.append(found)
        return sorted(rows, key=lambda f: (f.start, f.id))


class MemoryExchanges:
    """Air changes over stretches of time."""

    def __init__(self) -> None:
        self._rows: list[Exchange] = []

    def add(self, exchange: Exchange) -> Exchange:
        kept = replace(exchange, id=len(self._rows) + 1)
        self._rows.append(kept)
        return kept

    def within(self, chamber: str, span: Span) -> Sequence[Exchange]:
        rows = []
        for exchange in reversed(self._rows):
            if exchange.start < span.start - timedelta(days=1):
                break
            if exchange.chamber == chamber and span.start <= exchange.start < span.end:
                rows.append(exchange)
        return sorted(rows, key=lambda e: (e.start, e.id))


class MemoryForetold:
    """When limits were expected, in the order it was foretold."""

    def __init__(self) -> None:
        self._rows: list[Foretold] = []
        self._open: dict[int, None] = {}

    def add(self, foretold: Foretold) -> Foretold:
        kept = replace(foretold, id=len(self._rows) + 1)
        self._rows.append(kept)
        self._open[kept.id] = None
        return kept

    def save(self, foretold: Foretold) -> None:
        self._rows[foretold.id - 1] = foretold
        if foretold.outcome is not Outcome.OPEN:
            self._open.pop(foretold.id, None)

    def open(self, chamber: str) -> Sequence[Foretold]:
        rows = (self._rows[number - 1] for number in self._open)
        return [each for each in rows if each.chamber == chamber]

    def recent(self, chamber: str, since: datetime, limit: int = 200) -> Sequence[Foretold]:
        found: list[Foretold] = []
        for each in reversed(self._rows):
            if each.at < since or len(found) == limit:
                break
            if each.chamber == chamber:
                found.append(each)
        return found


class MemoryCalibrations:
    """None: the sensors stay as wrong as they are."""

    def add(self, calibration: Calibration) -> Calibration:
        raise NotImplementedError("Nobody calibrates a sensor in this bench.")

    def all(self) -> Sequence[Calibration]:
        return ()

    def newest_id(self) -> int:
        return 0


class MemoryGrowing:
    """Nothing is recorded of batches: the home band for the stated stage holds."""

    def start(self, entry: Entry) -> Entry:
        raise NotImplementedError("Nobody records a batch in this bench.")

    def add(self, entry: Entry) -> Entry:
        raise NotImplementedError("Nobody records a batch in this bench.")

    def of(self, batch: int) -> Sequence[Entry]:
        return ()

    def get(self, entry: int) -> Entry | None:
        return None

    def all(self) -> Sequence[Entry]:
        return ()

    def newest_id(self) -> int:
        return 0


class MemoryRejects:
    """The last refused messages."""

    def __init__(self) -> None:
        self._rows: list[Reject] = []

    def add(self, rejects: Iterable[Reject]) -> None:
        self._rows += rejects

    def recent(self, limit: int = 200) -> Sequence[Reject]:
        return self._rows[: -limit - 1 : -1]

    def count(self) -> int:
        return len(self._rows)


class NoPhotos:
    """No drawn grower takes photos."""

    def add(self, entry: int, photo: Photo) -> Photo:
        raise NotImplementedError

    def of(self, batch: int) -> Sequence[Photo]:
        return ()

    def get(self, number: int) -> Photo | None:
        return None

    def named(self, digest: str) -> bool:
        return False

    def remove(self, number: int, now: datetime) -> None:
        raise NotImplementedError


class NothingCarried:
    """Nobody takes anything along, or brings anything."""

    def entries(self, span: Span, after: int, limit: int) -> Sequence[tuple[Entry, int | None]]:
        return []

    def actions(self, span: Span, after: int, limit: int) -> Sequence[tuple[Action, int | None]]:
        return []

    def moves(self, span: Span, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        return []

    def present(self, readings: Sequence[Reading]) -> int:
        return 0

    def absorbed(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        return []
