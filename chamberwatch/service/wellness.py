"""How everything is, for the page, the API and the command: a line for each thing."""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta, tzinfo
from typing import Final, Protocol

from chamberwatch.core import health as lines
from chamberwatch.core import self_check
from chamberwatch.core.errors import StorageError
from chamberwatch.core.health import Line, SensorStand
from chamberwatch.core.self_check import BROKER, Disk, SelfCheck
from chamberwatch.core.wording import clock_words
from chamberwatch.service.backing_up import last_backup
from chamberwatch.service.books import Book
from chamberwatch.service.ports import Clock
from chamberwatch.service.upkeep import ThinningStand
from chamberwatch.service.views import Health, SensorNow
from chamberwatch.service.wear import WearNow

WEAR_EVERY_S: Final = 3600.0
"""A look at the card goes through the readings of a day, so it isn't taken for each page. [s]"""


class Asked(Protocol):
    """What is asked how it is."""

    def health(self) -> Health:
        """Return how the watcher itself is doing."""
        ...

    def sensors(self) -> Sequence[SensorNow]:
        """Return all sensors as they are now."""
        ...


def all_well(_: str) -> str:
    """Find nothing wrong."""
    return ""


@dataclass(frozen=True, slots=True)
class Told:
    """What the settings and the machine say.

    Attributes:
        keep: how long each reading stays.
        addresses: how many are told.
        zone: of the site.
        versions: of what runs here, by name.
        on_server: the database lies on a server.
        backup_amiss: tells, given the last backup, why there is none or could be none; empty:
            all is well with it, or none is wanted.
    """

    keep: timedelta
    addresses: int
    zone: tzinfo
    versions: Mapping[str, str]
    on_server: bool = False
    backup_amiss: Callable[[str], str] = all_well


@dataclass(frozen=True, slots=True)
class Report:
    """How everything is.

    Attributes:
        lines: one for each thing.
        running: whether the daemon runs.
        versions: of what runs here, by name.
        health: how the watcher itself is; None: the database does not tell.
        wear: how the card wears; None: likewise.
        sensors: how each is heard.
    """

    lines: tuple[Line, ...]
    running: bool
    versions: Mapping[str, str]
    health: Health | None = None
    wear: WearNow | None = None
    sensors: tuple[SensorStand, ...] = ()

    @property
    def unwell(self) -> list[tuple[str, str]]:
        """Return what is unwell, the gravest first: of what, and what is wrong with it."""
        return lines.unwell(self.lines)


@dataclass(slots=True)
class Wellness:
    """Says how everything is. Safe from any thread.

    Attributes:
        history: is asked how the watcher and the sensors are.
        wear: looks at the card; takes long.
        thinning: tells how it stands with old readings.
        told: what the settings and the machine say.
        clock: the time.
        runs: whether the daemon runs, for who asks beside it; None: it is asked itself.
    """

    history: Asked
    wear: Callable[[], WearNow]
    thinning: Callable[[], ThinningStand]
    told: Told
    clock: Clock
    runs: bool | None = None
    _worn: tuple[float, WearNow] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def report(self) -> Report:
        """Return how everything is now.

        Raises:
            StorageError: the database can't be read.
        """
        return self.report_on(self.history.health())

    def report_on(self, health: Health) -> Report:
        """Return how everything is, with what was told of the watcher itself.

        Raises:
            StorageError: the database can't be read.
        """
        wear, stands = self._wear(), tuple(map(_stand, self.history.sensors()))
        found = self._lines(health, wear, stands)
        return Report(
            lines.in_order([self._watcher(health, found), *found]),
            self.runs is not False,
            self.told.versions,
            health,
            wear,
            stands,
        )

    def _lines(
        self, health: Health, wear: WearNow | None, stands: Sequence[SensorStand]
    ) -> list[Line]:
        moment = (health.now, self.told.zone)
        unlinked = not health.broker_connected or any(
            c.name == BROKER and not c.well for c in health.checks
        )
        started = health.started if self.runs is None else None
        stand, at = health.backup
        stand = replace(stand, amiss=self.told.backup_amiss(stand.file))
        return [
            *lines.with_clock(health.checks, health.waiting_for_clock),
            _card(wear),
            self._kept(health, moment),
            lines.ON_SERVER if self.told.on_server else lines.backup(stand, at, started, moment),
            lines.delivery(self.told.addresses, health.outbox_waiting, health.undelivered),
            lines.sensors(stands, health.now, deaf=unlinked or self.runs is False),
            lines.versions(self.told.versions),
        ]

    def _watcher(self, health: Health, others: Sequence[Line]) -> Line:
        """Return the line of whatever the others don't say."""
        troubles = list(health.troubles)
        quiet = any(line.name == lines.SENSORS and line.troubles for line in others)
        if quiet and lines.UNHEARD in troubles:
            troubles.remove(lines.UNHEARD)
        if not health.well and not health.troubles:
            troubles.append(lines.UNSAID)
        since = ""
        if self.runs is None:
            since = clock_words(health.started, health.now, self.told.zone)
        line = lines.watcher(since, troubles, runs=self.runs is not False)
        return lines.told_once(line, others)

    def _kept(self, health: Health, moment: tuple[datetime, tzinfo]) -> Line:
        thinned = self.thinning()
        at = _time(thinned.at)
        went = (at, thinned.readings) if at is not None else None
        counts = (health.readings, health.undatable)
        return lines.kept(counts, self.told.keep, went, thinned.waits, moment)

    def _wear(self) -> WearNow | None:
        """Return how the card wears, as it was lately."""
        now_s = self.clock.monotonic()
        with self._lock:
            if self._worn is None or now_s - self._worn[0] >= WEAR_EVERY_S:
                try:
                    self._worn = now_s, self.wear()
                except StorageError:
                    return None
            return self._worn[1]


def without_book(
    checks: Sequence[SelfCheck],
    told: Told,
    missing: Callable[[str], Line],
    *,
    running: bool,
) -> Report:
    """Return how everything is where the database can't be asked.

    Args:
        checks: what a look at everything found.
        told: what the settings and the machine say.
        missing: gives the line of what the database would tell.
        running: whether the daemon runs.
    """
    names = (lines.CARD, lines.KEPT, lines.BACKUP, lines.DELIVERY, lines.SENSORS)
    found = [
        lines.watcher("", (), runs=running),
        *lines.with_clock(checks, 0),
        *map(missing, names),
        lines.versions(told.versions),
    ]
    return Report(lines.in_order(found), running, told.versions)


@dataclass(frozen=True, slots=True)
class Ailing:
    """What ails the watcher itself that a phone hears of: whatever harms long before it shows.

    Attributes:
        disk: looks at it.
        backup_at: when a backup is made each night; None: none is.
        zone: of the site.
    """

    disk: Callable[[], Disk]
    backup_at: time | None
    zone: tzinfo

    def __call__(self, book: Book, now: datetime) -> Mapping[str, str]:
        """Return what is wrong and the cure, by the name of the thing."""
        found = (
            lines.looked(self_check.disk(self.disk())),
            lines.backup(last_backup(book), self.backup_at, None, (now, self.zone)),
        )
        return dict(lines.unwell(found))


def _stand(now: SensorNow) -> SensorStand:
    return SensorStand(now.sensor.name, now.heard_ago, now.silent, now.doubt)


def _card(wear: WearNow | None) -> Line:
    if wear is None:
        return lines.unread(lines.CARD)
    return lines.card(
        wear.card,
        wear.written_per_day_bytes,
        wear.expected_per_day_bytes,
        wear.file_after_bytes,
    )


def _time(text: str) -> datetime | None:
    """Return a kept time; None: there is none, or it can't be read."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
