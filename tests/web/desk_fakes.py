"""A desk to set before the web room: history, logbook and books that stand in for the real ones.

`Played` is a small invented house whose state the tests set by hand.
"""

import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.air.uncertainty import Spread
from chamberwatch.core.errors import ChamberwatchError, RefusedError, UnknownNameError
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.judgement import judge
from chamberwatch.core.watch.reading import Place, Quantity, Reading, Reject
from chamberwatch.core.watch.reminder import (
    Call,
    Cause,
    Event,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.core.wear import Card, Load
from chamberwatch.service.books import Answer, Book, Span
from chamberwatch.service.upkeep import ThinningStand
from chamberwatch.service.views import (
    ChamberNow,
    DeedDone,
    Health,
    HoldNow,
    ReminderNow,
    SensorNow,
    SeriesPage,
    SeriesPoint,
)
from chamberwatch.service.wear import WearNow
from chamberwatch.service.wellness import Told, Wellness
from chamberwatch.web.desk import Desk
from chamberwatch.web.figures import Figures
from tests.fakes import HandClock
from tests.make import NOON, ROOM, TENT, at, evidence

ZONE = ZoneInfo("Europe/Berlin")
FIGURES = Figures(ShownIn(), comma=False, zone=ZONE)

AIR = AirState(
    temperature_c=18.2,
    humidity_pct=76.0,
    pressure_pa=101_325.0,
    saturation_pressure_pa=2090.0,
    vapour_pressure_pa=1588.0,
    vpd_pa=502.0,
    dew_point_c=13.91,
    frost=False,
    humidity_ratio=0.009904,
    enthalpy_j_per_kg=43_400.0,
    density_kg_per_m3=1.2,
    absolute_humidity_g_per_m3=11.8,
)

SPREAD = Spread(temperature_k=0.2, humidity_pct=2.0, dew_point_k=0.4493, vpd_pa=42.4, co2_ppm=92.0)


class FakeKept:
    """Small things kept in a dict."""

    def __init__(self) -> None:
        self.texts: dict[str, str] = {}
        self.used: set[str] = set()
        self.answers: dict[str, Answer] = {}

    def text(self, name: str) -> str | None:
        return self.texts.get(name)

    def keep_text(self, name: str, value: str) -> None:
        self.texts[name] = value

    def use_link(self, digest: str, now: datetime) -> bool:
        del now
        fresh = digest not in self.used
        self.used.add(digest)
        return fresh

    def link_used(self, digest: str) -> bool:
        return digest in self.used

    def answer(self, key: str) -> Answer | None:
        return self.answers.get(key)

    def keep_answer(self, key: str, answer: Answer, now: datetime) -> None:
        del now
        self.answers[key] = answer


class FakeBook:
    """A book of which the web room may open one page only."""

    def __init__(self, kept: FakeKept) -> None:
        self.kept = kept


class FakeBooks:
    """Books in memory; writing is counted, so that a test can say nothing was written."""

    def __init__(self) -> None:
        self.kept = FakeKept()
        self.writes = 0
        self._lock = threading.Lock()

    @contextmanager
    def write(self) -> Iterator[Book]:
        with self._lock:
            self.writes += 1
            yield cast(Book, FakeBook(self.kept))

    @contextmanager
    def read(self) -> Iterator[Book]:
        yield cast(Book, FakeBook(self.kept))


def sensor_now(
    sensor: Sensor,
    clock: HandClock,
    values: Mapping[Quantity, float],
    ago: timedelta | None = timedelta(seconds=8),
) -> SensorNow:
    """Return a sensor that said these values so long ago; never heard for None."""
    if ago is None:
        return SensorNow(sensor, {}, None, silent=True)
    time = clock.now() - ago
    readings = {
        quantity: Reading(time, sensor.name, quantity, value) for quantity, value in values.items()
    }
    return SensorNow(sensor, readings, ago, silent=ago > sensor.unheard_after)


def chamber_now(
    chamber: Chamber,
    sensors: Sequence[SensorNow] = (),
    air: AirState | None = None,
    reminders: Sequence[ReminderNow] = (),
    actions: Sequence[Action] = (),
) -> ChamberNow:
    """Put a chamber together from its sensors; the first of each quantity speaks for it."""
    best: dict[Quantity, Reading] = {}
    judgements = []
    for heard in sensors:
        for quantity, reading in heard.readings.items():
            if heard.sensor.place is Place.AIR:
                best.setdefault(quantity, reading)
            band = chamber.band(quantity, heard.sensor.place)
            if band is not None:
                judgements.append(judge(reading, heard.sensor.where(), band))
    value = {quantity: reading.value for quantity, reading in best.items()}
    return ChamberNow(
        chamber=chamber,
        time=max((r.time for r in best.values()), default=None),
        temperature_c=value.get(Quantity.TEMPERATURE),
        humidity_pct=value.get(Quantity.HUMIDITY),
        co2_ppm=value.get(Quantity.CO2),
        pressure_pa=101_325.0,
        air=air,
        stale=bool(sensors) and all(heard.silent for heard in sensors),
        judgements=tuple(judgements),
        sensors=tuple(sensors),
        reminders=tuple(reminders),
        actions=tuple(actions),
        spread=SPREAD if air is not None else None,
    )


MIST = Reminder(
    1,
    "tent",
    Call.MIST,
    state=State.UNACKNOWLEDGED,
    active=True,
    priority=Priority.MEDIUM,
    episode=3,
    since=at(-12),
    moved=at(-12),
    told=at(-12),
    evidence=evidence(),
)
MIST_NOW = ReminderNow(
    MIST,
    "Tent: mist now",
    "Humidity 76 % and falling, band 80 to 95 %. Mist the walls and the tray, not the caps.",
)

TOP = Sensor("tent-top", "tent", shelf="top")
IN_ROOM = Sensor("room-wall", "room")
DRY = {Quantity.TEMPERATURE: 18.2, Quantity.HUMIDITY: 76.0, Quantity.CO2: 840.0}
MOIST = {Quantity.TEMPERATURE: 18.2, Quantity.HUMIDITY: 88.0, Quantity.CO2: 840.0}
HOUSE_AIR = {Quantity.TEMPERATURE: 20.6, Quantity.HUMIDITY: 41.0, Quantity.CO2: 655.0}

WEAR = WearNow(
    Card(12_300_000, 400_000, 0, 5_000_000_000),
    Load(8, 15, 138_240, timedelta(seconds=30), timedelta(days=366)),
    None,
    64_000_000.0,
    {1: 1.6e9, 2: 1.8e9, 5: 2.5e9, 10: 3.6e9},
)

MISTED = Action(4, "tent", Deed.MISTED, at(-95), "", at(-95), "page")


def health(clock: HandClock, **changes: object) -> Health:
    """Return the health of a watcher that is well, with changes."""
    well = Health(
        well=True,
        troubles=(),
        started=NOON - timedelta(days=3),
        now=clock.now(),
        broker_connected=True,
        last_message_ago=timedelta(seconds=4),
        readings=1_234_567,
        rejects=0,
        waiting_for_clock=0,
        undatable=0,
        outbox_waiting=0,
        version="0.1.0",
    )
    return replace(well, **changes)  # type: ignore[arg-type]


@dataclass
class FakeHistory:
    """Answers with what it was given."""

    clock: HandClock
    rooms: dict[str, ChamberNow] = field(default_factory=dict)
    all_reminders: list[ReminderNow] = field(default_factory=list)
    all_moves: list[tuple[int, Move]] = field(default_factory=list)
    all_rejects: list[Reject] = field(default_factory=list)
    state: Health | None = None
    beat: int = 1
    points: tuple[SeriesPoint, ...] = ()
    next_from: datetime | None = None
    asked: list[tuple[str, str, Span, timedelta | None, int]] = field(default_factory=list)
    breaks: Exception | None = None
    held: HoldNow | None = None
    asked_hold: list[tuple[str, datetime | None]] = field(default_factory=list)

    def chambers(self) -> Sequence[Chamber]:
        return [shown.chamber for shown in self.rooms.values()]

    def now(self, name: str) -> ChamberNow:
        if self.breaks is not None:
            raise self.breaks
        if name not in self.rooms:
            raise UnknownNameError(f"There is no chamber “{name}”.")
        return self.rooms[name]

    def hold(self, name: str, until: datetime | None) -> HoldNow:
        if self.held is None:
            raise RefusedError(self.why_no_counsel(name))
        self.asked_hold.append((name, until))
        return self.held

    def why_no_counsel(self, name: str) -> str:
        self.now(name)
        return f"State volume_l of the chamber “{name}” in the settings."

    def series(
        self, chamber: str, quantity: str, span: Span, step: timedelta | None, limit: int
    ) -> SeriesPage:
        self.now(chamber)
        if quantity == "colour":
            raise RefusedError("There is no quantity “colour”. Ask for humidity_pct.")
        self.asked.append((chamber, quantity, span, step, limit))
        return SeriesPage(chamber, quantity, "%", self.points, self.next_from)

    def actions(self, chamber: str | None, limit: int) -> Sequence[DeedDone]:
        rooms = list(self.rooms.values()) if chamber is None else [self.now(chamber)]
        done = [DeedDone(a, r.effects.get(a.id)) for r in rooms for a in r.actions]
        return sorted(done, key=lambda each: each.action.at, reverse=True)[:limit]

    def reminders(self, states: frozenset[State] | None) -> Sequence[ReminderNow]:
        return [
            each for each in self.all_reminders if states is None or each.reminder.state in states
        ]

    def moves(self, number: int | None, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        found = [m for m in self.all_moves if number in (None, m[1].reminder)]
        return [m for m in found if m[0] > after][:limit]

    def rejects(self, limit: int) -> Sequence[Reject]:
        return self.all_rejects[:limit]

    def reject_count(self) -> int:
        return len(self.all_rejects)

    def health(self) -> Health:
        return self.state or health(self.clock, rejects=len(self.all_rejects))

    def sensors(self) -> Sequence[SensorNow]:
        return [sensor for shown in self.rooms.values() for sensor in shown.sensors]

    def pulse(self) -> int:
        return self.beat

    def remember(self, shown: ReminderNow) -> None:
        """Put a reminder in place of its former state, here and in its chamber."""
        name = shown.reminder.chamber
        kept = [each for each in self.all_reminders if each.reminder.id != shown.reminder.id]
        self.all_reminders = [*kept, shown]
        live = tuple(
            each
            for each in self.all_reminders
            if each.reminder.chamber == name and each.reminder.state is not State.NORMAL
        )
        self.rooms[name] = replace(self.rooms[name], reminders=live)
        self.beat += 1


@dataclass
class FakeLogbook:
    """Writes down what it was told, and moves the reminders of the history."""

    history: FakeHistory
    told: list[tuple[object, ...]] = field(default_factory=list)
    breaks: ChamberwatchError | None = None

    def act(
        self,
        chamber: str,
        deed: Deed,
        at: datetime | None,
        note: str,
        via: str,
        amounts: Amounts | None = None,
    ) -> Action:
        if self.breaks is not None:
            raise self.breaks
        shown, now = self.history.now(chamber), self.history.clock.now()
        if at is not None and at > now:
            raise RefusedError("That time lies ahead. Say when it was done, or leave it out.")
        self.told.append(("act", chamber, deed, at, note, via))
        action = Action(100 + len(self.told), chamber, deed, at or now, note, now, via)
        if amounts is not None:
            first = amounts.into_air_g if deed is Deed.MISTED else amounts.vent_minutes
            action = replace(action, amount=first, standing_g=amounts.standing_g)
        self.history.rooms[chamber] = replace(shown, actions=(action, *shown.actions))
        self.history.beat += 1
        return action

    def _get(self, number: int) -> ReminderNow:
        for each in self.history.all_reminders:
            if each.reminder.id == number:
                return each
        raise UnknownNameError(f"There is no reminder {number}.")

    def seen(self, number: int, episode: int | None, via: str) -> Reminder:
        shown = self._get(number)
        if shown.reminder.state not in (State.UNACKNOWLEDGED, State.RETURNED):
            raise RefusedError("There is nothing to acknowledge: it was seen already, or is over.")
        return self._move(shown, Event.SEEN, None, ("seen", number, episode, via))

    def shelve(self, number: int, for_: timedelta, via: str) -> Reminder:
        shown = self._get(number)
        if for_ > timedelta(hours=24):
            raise RefusedError("At most 24 h. For longer, take it out of service.")
        return self._move(shown, Event.SHELVED, for_, ("shelve", number, for_, via))

    def _move(
        self, shown: ReminderNow, event: Event, shelf: timedelta | None, told: tuple[object, ...]
    ) -> Reminder:
        now = self.history.clock.now()
        reminder, _ = advance(shown.reminder, event, now, Cause("test", shelf=shelf))
        self.told.append(told)
        self.history.remember(replace(shown, reminder=reminder))
        return reminder


@dataclass
class FakeStrips:
    """Remembers the lines it was given, by sensor and quantity."""

    lines: dict[tuple[str, Quantity], Points] = field(default_factory=dict)

    def of(self, chamber: str) -> Mapping[tuple[str, Quantity], Points]:
        del chamber
        return self.lines


class Played:
    """A desk, and the hands behind it."""

    def __init__(self, address: str | None = "http://tent.example") -> None:
        self.clock = HandClock()
        self.history = FakeHistory(self.clock)
        self.logbook = FakeLogbook(self.history)
        self.books = FakeBooks()
        self.strips = FakeStrips()
        self.wear = WEAR
        self.desk = Desk(
            self.history,
            self.logbook,
            self.clock,
            self.books,
            ZONE,
            address,
            strips=self.strips,
            wellness=Wellness(
                self.history,
                lambda: self.wear,
                lambda: ThinningStand(at(-500).isoformat(), 1200),
                Told(timedelta(days=366), 1, ZONE, {"chamberwatch": "0.1.0", "schema": "7"}),
                self.clock,
            ),
        )

    def put(self, shown: ChamberNow) -> None:
        """Set a chamber as it is now."""
        self.history.rooms[shown.chamber.name] = shown
        self.history.beat += 1


def dry_tent(address: str | None = "http://tent.example") -> Played:
    """Return a tent that is too dry and asks to be misted, in a room."""
    played = Played(address)
    heard = sensor_now(TOP, played.clock, DRY)
    played.put(chamber_now(TENT, [heard], AIR, actions=[MISTED]))
    played.put(chamber_now(ROOM, [sensor_now(IN_ROOM, played.clock, HOUSE_AIR)]))
    played.history.remember(MIST_NOW)
    played.history.all_moves = [
        (
            7,
            Move(1, 3, Event.RAISED, State.NORMAL, State.UNACKNOWLEDGED, at(-12), "humidity 76 %"),
        ),
    ]
    return played


def calm_tent() -> Played:
    """Return a tent with nothing to do."""
    played = dry_tent()
    over = replace(MIST, state=State.NORMAL, active=False, moved=at(-30))
    played.put(
        chamber_now(
            TENT,
            [sensor_now(TOP, played.clock, MOIST)],
            replace(AIR, humidity_pct=88.0, vpd_pa=251.0),
        )
    )
    played.history.remember(replace(MIST_NOW, reminder=over))
    return played
