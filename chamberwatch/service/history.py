"""What the faces ask for: the air now, readings over time, reminders, health."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta, tzinfo
from typing import Final

from chamberwatch.core import health as lines
from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.air.uncertainty import Spread, spread
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.self_check import BROKER, SelfCheck
from chamberwatch.core.watch.advice import judged
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.device import working_in
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import Place, Quantity, Reading, Reject
from chamberwatch.core.watch.reminder import Call, Move, Reminder, State
from chamberwatch.service import failing
from chamberwatch.service.backing_up import last_backup
from chamberwatch.service.board import Board, Series
from chamberwatch.service.books import Books, Span
from chamberwatch.service.condensing import coldest
from chamberwatch.service.counselling import OLD_AFTER, Counselling
from chamberwatch.service.forecasting import hold_now
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.ports import Clock
from chamberwatch.service.responding import Responding
from chamberwatch.service.series import Query, answer
from chamberwatch.service.speaking import PAIR, in_doubt, paired
from chamberwatch.service.views import (
    ChamberNow,
    DeedDone,
    Health,
    HoldNow,
    ReminderNow,
    SensorNow,
    SeriesPage,
)

LIVE: Final = frozenset(State) - {State.NORMAL}
DEEDS_SHOWN: Final = 5


@dataclass(frozen=True, slots=True)
class Vitals:
    """What the daemon knows of its own parts.

    Attributes:
        connected: whether the link to the broker stands.
        message_ago: age of the last message of any kind.
        troubles: what isn't well, in plain words with the cure.
    """

    connected: bool
    message_ago: timedelta | None
    troubles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class History:
    """Answers questions; changes nothing."""

    books: Books
    clock: Clock
    house: House
    board: Board
    zone: tzinfo
    vitals: Callable[[], Vitals]
    started: datetime
    version: str
    counsel: Counselling | None = None
    duties: Duties | None = None
    checks: Callable[[], tuple[SelfCheck, ...]] = lambda: ()
    responding: Responding | None = None
    backup_at: time | None = None

    def chambers(self) -> Sequence[Chamber]:
        """Return all chambers in the order of the settings file."""
        return tuple(self.house.chambers.values())

    def now(self, name: str) -> ChamberNow:
        """Return one chamber at this moment.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber = self.house.chamber(name)
        newest = self.board.newest()
        sensors = tuple(self._sensor_now(s, newest) for s in self.house.sensors_in(name))
        temperature, humidity = _speaking_pair(sensors)
        air_sensors = [s for s in sensors if s.sensor.place is Place.AIR]
        co2 = _newest_of(air_sensors, Quantity.CO2)
        pressure = _newest_of(air_sensors, Quantity.PRESSURE)
        pressure_pa = pressure.value if pressure else self.house.pressure_pa
        shown = [r.time for r in (temperature, humidity, co2) if r is not None]
        with self.books.read() as book:
            live = [r for r in book.reminders.all(LIVE) if self._shown_with(r, name)]
            actions = tuple(book.actions.recent(name, DEEDS_SHOWN))
        air = paired(temperature, humidity, pressure_pa)
        now = self.clock.now()
        return ChamberNow(
            chamber=chamber,
            time=max(shown, default=None),
            temperature_c=temperature.value if temperature else None,
            humidity_pct=humidity.value if humidity else None,
            co2_ppm=co2.value if co2 else None,
            pressure_pa=pressure_pa,
            air=air,
            stale=all(s.silent for s in air_sensors) if air_sensors else True,
            judgements=self._judgements(sensors),
            sensors=sensors,
            reminders=self._phrasing().gravest_first(live, newest),
            actions=actions,
            spread=self._spread(air, humidity, co2),
            margin=coldest(self.house, self.board, name, now, OLD_AFTER),
            counsel=self.counsel.now(name, now) if self.counsel else None,
            devices=working_in(self.house.devices, name),
            effects=self.responding.effects_of(actions) if self.responding else {},
        )

    def sensors(self) -> Sequence[SensorNow]:
        """Return all sensors of all chambers as they are now."""
        newest = self.board.newest()
        return tuple(self._sensor_now(each, newest) for each in self.house.sensors.values())

    def _shown_with(self, reminder: Reminder, name: str) -> bool:
        """Tell whether a reminder is shown with a chamber; what is of none, with the first."""
        if reminder.call is Call.CHECK_ALL:
            return name == next(iter(self.house.chambers), None)
        return reminder.chamber == name

    def actions(self, chamber: str | None, limit: int) -> Sequence[DeedDone]:
        """Return the newest deeds first, of one chamber where given, and what came of each.

        Raises:
            UnknownNameError: no such chamber.
        """
        if chamber is not None:
            self.house.chamber(chamber)
        with self.books.read() as book:
            actions = book.actions.recent(chamber, limit)
        effects = self.responding.effects_of(actions) if self.responding else {}
        return [DeedDone(action, effects.get(action.id)) for action in actions]

    def _spread(
        self, air: AirState | None, humidity: Reading | None, co2: Reading | None
    ) -> Spread | None:
        """Return how far the air may be off, by what its sensors claim."""
        if air is None or humidity is None:
            return None
        found = spread(air, self.house.sensors[humidity.sensor].accuracy)
        if co2 is None:
            return found
        accuracy = self.house.sensors[co2.sensor].accuracy
        return replace(found, co2_ppm=accuracy.co2_at_ppm(co2.value))

    def why_no_counsel(self, name: str) -> str:
        """Say why nothing can be reckoned of a chamber, and what to do about it.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber = self.house.chamber(name)
        return self.counsel.missing(chamber) if self.counsel else "Nothing is reckoned here."

    def hold(self, name: str, until: datetime | None) -> HoldNow:
        """Answer “will it hold until then?”, until the next visit for None.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: it can't be reckoned; the text says what is missing.
        """
        chamber = self.house.chamber(name)
        if chamber.stage is None:
            raise RefusedError(f"{chamber.title} is a room; name a chamber.")
        if self.counsel is None:
            raise RefusedError("Nothing is reckoned here.")
        now = self.clock.now()
        return hold_now(self.counsel, name, until or self.counsel.next_visit(name, now), now)

    def _sensor_now(self, sensor: Sensor, newest: Mapping[Series, Reading]) -> SensorNow:
        readings = {q: newest[sensor.name, q] for q in Quantity if (sensor.name, q) in newest}
        last = max((r.time for r in readings.values()), default=None)
        quiet_s = self.board.quiet_s(sensor.name, self.clock.monotonic())
        ago = max(self.clock.now() - last, timedelta(0)) if last is not None else None
        too_old = ago is None or ago > sensor.unheard_after
        # Right after a start nobody has spoken yet; the age of what is kept decides then.
        silent = quiet_s > sensor.unheard_after.total_seconds() or (
            too_old and not self.board.has_heard(sensor.name)
        )
        return SensorNow(sensor, readings, ago, silent, self.board.doubts().get(sensor.name))

    def _judgements(self, sensors: Sequence[SensorNow]) -> tuple[Judgement, ...]:
        found = (
            judged(self.house, item.sensor, reading)
            for item in sensors
            for reading in item.readings.values()
        )
        return tuple(j for j in found if j is not None)

    def _phrasing(self) -> Phrasing:
        return Phrasing(
            self.house,
            self.board,
            self.clock,
            self.zone,
            self.counsel,
            self.duties,
            self.responding,
        )

    def series(
        self, chamber: str, quantity: str, span: Span, step: timedelta | None, limit: int
    ) -> SeriesPage:
        """Return readings over time.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such quantity, or too much at once.
        """
        with self.books.read() as book:
            return answer(book, self.house, Query(chamber, quantity, span, step, limit))

    def reminders(self, states: frozenset[State] | None) -> Sequence[ReminderNow]:
        """Return reminders with the words of this moment, of these states where given."""
        with self.books.read() as book:
            found = book.reminders.all(states)
        newest = self.board.newest()
        by_chamber: dict[str, list[Reminder]] = {}
        for reminder in found:
            by_chamber.setdefault(reminder.chamber, []).append(reminder)
        phrasing = self._phrasing()
        return [r for group in by_chamber.values() for r in phrasing.gravest_first(group, newest)]

    def moves(self, number: int | None, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        """Return moves above an id, oldest first."""
        with self.books.read() as book:
            return book.reminders.moves(number, after, limit)

    def rejects(self, limit: int) -> Sequence[Reject]:
        """Return the newest messages that could not be taken in."""
        with self.books.read() as book:
            return book.rejects.recent(limit)

    def reject_count(self) -> int:
        """Return how many messages could not be taken in, ever."""
        with self.books.read() as book:
            return book.rejects.count()

    def health(self) -> Health:
        """Return how the watcher itself is doing."""
        vitals, now = self.vitals(), self.clock.now()
        with self.books.read() as book:
            waiting, lost = book.readings.count_undated()
            undelivered = tuple(failing.troubles(book, now, self.zone))
            overdue = sum(map(len, failing.overdue(book).values()))
            readings, rejects = book.readings.count(), book.rejects.count()
            backup = last_backup(book)
        checks = self.checks()
        troubles = list(vitals.troubles)
        # What keeps the broker away stands among the vitals already.
        troubles += [c.words for c in checks if not c.well and c.name != BROKER]
        if waiting:
            troubles.append(lines.UNDATED)
        troubles += undelivered
        about = lines.backup(backup, self.backup_at, self.started, (now, self.zone))
        troubles += about.troubles
        return Health(
            well=not troubles,
            troubles=tuple(troubles),
            started=self.started,
            now=now,
            broker_connected=vitals.connected,
            last_message_ago=vitals.message_ago,
            readings=readings,
            rejects=rejects,
            waiting_for_clock=waiting,
            undatable=lost,
            outbox_waiting=overdue,
            version=self.version,
            checks=checks,
            undelivered=undelivered,
            backup=(backup, self.backup_at),
        )

    def pulse(self) -> int:
        """Return a number that changes whenever something to show has changed."""
        return self.board.pulse()


def _newest_of(sensors: Sequence[SensorNow], quantity: Quantity) -> Reading | None:
    said = [s for s in sensors if quantity in s.readings]
    sure = [s for s in said if not s.silent and not in_doubt(s.doubt, quantity)]
    found = [s.readings[quantity] for s in sure or said]
    return max(found, key=lambda r: r.time, default=None)


def _speaking_pair(sensors: Sequence[SensorNow]) -> tuple[Reading | None, Reading | None]:
    """Return temperature and humidity of one sensor.

    Heard lately before silent, believed before doubted, mid-air before shelf.
    """
    ranked = sorted(
        (s for s in sensors if s.sensor.place is Place.AIR and s.readings),
        key=lambda s: (s.silent, in_doubt(s.doubt, *PAIR), s.sensor.shelf is not None),
    )
    for item in ranked:
        pair = item.readings.get(Quantity.TEMPERATURE), item.readings.get(Quantity.HUMIDITY)
        if pair[0] is not None and pair[1] is not None:
            return pair
    air = list(ranked)
    return _newest_of(air, Quantity.TEMPERATURE), _newest_of(air, Quantity.HUMIDITY)
