"""Which sensors are in doubt: found anew with each round, kept over a restart.

What each series has done lately lies on the board, fed with every reading. Each round looks at
all of it once. What has become a doubt is kept with the move of its reminder, in one transaction;
what is only suspected forms again after a restart, within the delay it takes to form.
"""

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.doubt import (
    Doubt,
    Doubted,
    Key,
    Suspicion,
    gap_of,
    gravest,
    silence,
    step,
)
from chamberwatch.core.watch.lately import Seen, Series
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.suspect import REFUSED_WITHIN, examine
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.sensor_telling import SensorTelling
from chamberwatch.service.telling import Teller

KEPT_AS: Final = "doubts"
REJECTS_READ: Final = 200


@dataclass(frozen=True, slots=True)
class Round:
    """What one round found.

    Attributes:
        doubts: of each sensor that is in doubt.
        formed: all doubts that have formed, also the lesser ones of a sensor; without silence.
    """

    doubts: Mapping[str, Doubt]
    formed: Mapping[Key, Doubt]


class Doubting:
    """How far each suspicion has come. Only the thread of the rounds uses it after the start."""

    def __init__(self, house: House, board: Board, teller: Teller, books: Books) -> None:
        """Take up the doubts that the book knows, and put them up on the board.

        Made before the intake, whose rules ask the board for them.
        """
        self._house = house
        self._board = board
        self._telling = SensorTelling(teller)
        self._sensors: dict[str, list[Sensor]] = {}
        for sensor in house.sensors.values():
            self._sensors.setdefault(sensor.chamber, []).append(sensor)
        with books.read() as book:
            formed = _loads(book.kept.text(KEPT_AS))
            told = {
                r.subject: r.evidence
                for r in book.reminders.all()
                if r.call is Call.CHECK_SENSOR and r.active
            }
        self._suspicions = {
            key: Suspicion(doubt.since, doubt, doubt.since) for key, doubt in formed.items()
        }
        # Silence is not among what is kept: its reminder says so by having no quantity.
        quiet = [
            silence(sensor, evidence.since if evidence and evidence.since else _LONG_AGO)
            for sensor, evidence in told.items()
            if evidence is None or evidence.quantity is None
        ]
        found = gravest([*formed.values(), *quiet])
        self._last = Round({s: d for s, d in found.items() if s in told}, formed)
        board.doubt(self._last.doubts, ())

    def silent(self) -> frozenset[str]:
        """Return the sensors whose silence was told."""
        doubts = self._last.doubts.values()
        return frozenset(d.sensor for d in doubts if d.kind is Doubted.SILENT)

    def look(self, book: Book, silent: frozenset[str], now: datetime) -> Round:
        """Look at all sensors once.

        Args:
            book: for the values that were refused.
            silent: sensors that have not been heard for longer than they may be.
            now: by the clock.
        """
        seen = Seen(
            now=now,
            tracks=self._board.tracks(),
            silent=silent,
            doubted=_faulty(s.doubt for s in self._suspicions.values()),
            vented=self._board.answered(Call.VENT),
            touched=self._board.touched(),
            refused=_refused(book.rejects.recent(REJECTS_READ), self._house, now),
        )
        for sensors in self._sensors.values():
            for key, finding in examine(self._house, sensors, seen).items():
                gap = gap_of(self._house.sensors[key[0]], key[1])
                self._suspicions[key] = step(self._suspicions.get(key), key, finding, gap)
        formed = {
            key: suspicion.doubt
            for key, suspicion in self._suspicions.items()
            if suspicion.doubt is not None and key[0] in self._house.sensors
        }
        quiet = [self._silence(name, now) for name in silent]
        return Round(gravest([*formed.values(), *quiet]), formed)

    def _silence(self, sensor: str, now: datetime) -> Doubt:
        before = self._last.doubts.get(sensor)
        if before is not None and before.kind is Doubted.SILENT:
            return before
        return silence(sensor, self._last_heard(sensor) or now)

    def write(
        self, book: Book, found: Round, now: datetime, *, all_silent: bool | None = None
    ) -> bool:
        """Move and tell what is new, keep what has formed; return whether anything was.

        Args:
            book: to write in.
            found: what this round found.
            now: by the clock.
            all_silent: nothing at all is heard any more; None: that can't be told.
        """
        before, after = self._last.doubts, found.doubts
        heard = max((r.time for r in self._board.newest().values()), default=None)
        changed = self._telling.everything(book, heard, now, silent=all_silent)
        for sensor in sorted(before.keys() | after.keys()):
            changed |= self._write_one(book, before.get(sensor), after.get(sensor), now)
        changed |= self._telling.tell(book, after, now)
        if found.formed != self._last.formed:
            book.kept.keep_text(KEPT_AS, _dumps(found.formed))
        return changed

    def _write_one(
        self, book: Book, before: Doubt | None, after: Doubt | None, now: datetime
    ) -> bool:
        if after is None:
            return before is not None and self._telling.believed(book, before, now)
        if before is not None and before.kind is after.kind:
            return False
        if after.kind is Doubted.SILENT:
            return self._telling.silent(book, after.sensor, self._last_heard(after.sensor), now)
        return self._telling.doubted(book, before, after, now)

    def written(self, found: Round) -> None:
        """Put up what the transaction has kept."""
        before, self._last = self._last, found
        changed = {
            sensor
            for sensor in before.doubts.keys() | found.doubts.keys()
            if before.doubts.get(sensor) != found.doubts.get(sensor)
        }
        if changed:
            sensors = self._house.sensors
            self._board.doubt(
                found.doubts, {sensors[name].chamber for name in changed if name in sensors}
            )

    def _last_heard(self, sensor: str) -> datetime | None:
        newest = self._board.newest()
        times = (newest[sensor, q].time for q in Quantity if (sensor, q) in newest)
        return max(times, default=None)


_LONG_AGO: Final = datetime.fromisoformat("1970-01-01T00:00:00+00:00")

_BLAMELESS: Final = frozenset({Doubted.DISAGREEING, Doubted.LOW_BATTERY})


def _faulty(doubts: Iterable[Doubt | None]) -> frozenset[str]:
    """Return the sensors whose values are in doubt by what they themselves have said."""
    return frozenset(d.sensor for d in doubts if d is not None and d.kind not in _BLAMELESS)


def _refused(rejects: Iterable[Reject], house: House, now: datetime) -> Mapping[Series, int]:
    """Count the lately refused values of each series; a reject begins with whose it was."""
    counted: Counter[Series] = Counter()
    known = {quantity.value: quantity for quantity in Quantity}
    for reject in rejects:
        sensor, _, rest = reject.reason.partition(", ")
        quantity = known.get(rest.partition(":")[0])
        recent = now - REFUSED_WITHIN < reject.time <= now
        if recent and quantity is not None and sensor in house.sensors:
            counted[sensor, quantity] += 1
    return counted


def _dumps(formed: Mapping[Key, Doubt]) -> str:
    return json.dumps(
        [
            {
                "sensor": sensor,
                "kind": kind,
                "shown_by": quantity,
                "since": doubt.since.isoformat(),
                "words": doubt.words,
                "quantities": sorted(doubt.quantities),
            }
            for (sensor, kind, quantity), doubt in formed.items()
        ]
    )


def last_kept(book: Book, house: House) -> Mapping[str, Doubt]:
    """Return the doubt about each sensor as it was last kept, silence apart."""
    formed = _loads(book.kept.text(KEPT_AS))
    return gravest([doubt for key, doubt in formed.items() if key[0] in house.sensors])


def _loads(text: str | None) -> dict[Key, Doubt]:
    found: dict[Key, Doubt] = {}
    rows: list[dict[str, Any]] = json.loads(text or "[]")
    for row in rows:
        kind, quantity = Doubted(row["kind"]), Quantity(row["shown_by"])
        found[row["sensor"], kind, quantity] = Doubt(
            sensor=row["sensor"],
            kind=kind,
            since=datetime.fromisoformat(row["since"]),
            words=row["words"],
            quantities=frozenset(Quantity(name) for name in row["quantities"]),
            shown_by=quantity,
        )
    return found
