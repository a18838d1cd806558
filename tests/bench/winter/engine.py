"""The service as the daemon joins it, over books in memory, with a hand-turned clock.

Real: intake, judging, telling, doubting, wet surfaces, rounds, finding, knowing, counselling,
logbook and delivery. Stood in for: the broker, the payload reader, the database and the phone.
Rounds and delivery are made once a minute, after the readings of that minute; mistings and
ventings are looked for less often than in life (`SEARCH_EVERY_MIN`), for they cost most.
"""

import contextlib
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from pydantic import SecretStr

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.board import Board
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.delivery import Delivery, DeliveryParts
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.finding import Finding
from chamberwatch.service.foreseeing import Foreseeing, ForeseeingParts
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.logbook import Logbook
from chamberwatch.service.mornings import Mornings
from chamberwatch.service.nights import LONG_AWAY, Nights
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.ports import Arrival, Said
from chamberwatch.service.refilling import Refilling
from chamberwatch.service.responding import Responding
from chamberwatch.service.returning import Returning
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.service.telling import Teller
from chamberwatch.service.waiting import Waiting
from chamberwatch.service.wetting import Wetting
from chamberwatch.settings import NotifySettings
from tests.bench.winter.air import Told
from tests.bench.winter.episodes import (
    Message,
)
from tests.bench.winter.memory_books import MemoryBooks
from tests.fakes import Broker, HandClock, Phone

COMMIT_EVERY: Final = timedelta(seconds=30)
SEARCH_EVERY_MIN: Final = 30

PHONE: Final = NotifySettings(name="phone", to=SecretStr("json://phone.example"))
"""An address with nothing but its name: all its hours are the usual ones."""

TENT: Final = "tent"
MIDDLE: Final = "middle"
AROUND: Final = "around"


def house_of(volume_m3: float, *, room_sensor: bool, early: timedelta | None) -> House:
    """Return what the grower declared: a volume, a sensor in the room where there is one.

    Some ask to be told early as well.
    """
    air = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
    tent = Chamber(TENT, "Tent", Stage.FRUITING, round(volume_m3 * 1000.0), (), "room")
    tent = replace(tent, early=early)
    sensors = {MIDDLE: Sensor(MIDDLE, TENT, quantities=(*air, Quantity.CO2))}
    if room_sensor:
        sensors[AROUND] = Sensor(AROUND, "room", quantities=air)
    return House({TENT: tent, "room": Chamber("room", "Room")}, sensors)


@dataclass
class Handed:
    """A reader whose message lies beside the payload, ready to be said."""

    said: Sequence[Said] = ()

    def read_all(self, arrival: Arrival) -> tuple[Sequence[Said], Sequence[str]]:
        return self.said, ()


@dataclass
class Engine:
    """Everything joined, and what has come out of it."""

    house: House
    start: datetime
    clock: HandClock = field(init=False)

    def __post_init__(self) -> None:
        self.clock = HandClock(wall=self.start)
        self.books = MemoryBooks()
        self._reader = Handed()
        self._broker = Broker()
        self._never = threading.Event()
        self._seen = 0
        self._join()

    def _join(self) -> None:
        """Join the parts as `wiring.machine.build` does, without growing, web and schedule."""
        books, clock, house = self.books, self.clock, self.house
        wake, phone = threading.Event(), Phone()
        self.board = board = Board(clock.monotonic())
        self.knowing = knowing = Knowing(house, UTC, COMMIT_EVERY)
        self.counsel = Counselling(house, board, knowing, UTC)
        responding = Responding(house, board, UTC)
        teller = Teller(
            house,
            board,
            (phone.name,),
            UTC,
            self.counsel,
            graces=responding.grace,
            no_effect=responding.no_effect,
        )
        manners = {phone.name: PHONE.manner(UTC)}
        nights = Nights(house, board, self.counsel, manners, UTC)
        phrasing = Phrasing(house, board, clock, UTC, self.counsel)
        mornings = Mornings(house, board, UTC)
        waiting = Waiting(books, board, manners, nights, mornings, phrasing, UTC)
        doubting = Doubting(house, board, teller, books)
        self.intake = Intake(
            IntakeParts(
                books,
                self._reader,
                self._broker,
                clock,
                house,
                board,
                teller,
                COMMIT_EVERY,
                1000,
                wake,
            )
        )
        self.rounds = Rounds(
            RoundsParts(
                books,
                clock,
                house,
                board,
                teller,
                wake,
                doubting,
                Finding(books, house, clock, board, COMMIT_EVERY),
                knowing,
                Wetting(house, board, teller, books),
                nights=nights,
                returning=Returning(house, board),
                foreseeing=Foreseeing(
                    ForeseeingParts(
                        books, clock, house, board, (phone.name,), UTC, wake, responding.grace
                    )
                ),
                responding=responding,
                refilling=Refilling(house, teller),
            )
        )
        parts = DeliveryParts(books, clock, {phone.name: phone}, UTC, wake, waiting)
        self.delivery = Delivery(parts)
        self.logbook = Logbook(books, clock, house, board, wake, knowing)

    # ------------------------------------------------------------ a minute

    def pass_minute(
        self, minute: int, tent: Told | None, room: Told | None
    ) -> Sequence[tuple[Message, str]]:
        """Let a minute pass; return the messages that reached the phone, with their words."""
        self.clock.turn(minutes=1)
        for sensor, told in ((MIDDLE, tent), (AROUND, room)):
            if told is not None:
                self._take(sensor, told)
        self.intake.idle()
        self.rounds.look()
        if minute % SEARCH_EVERY_MIN == SEARCH_EVERY_MIN - 1:
            self.rounds.search()
        self.delivery.deliver_due(self._never)
        return self._new(minute)

    def _take(self, sensor: str, told: Told) -> None:
        now = self.clock.wall
        said = [
            Said(sensor, Quantity.TEMPERATURE, told.temperature_c, now),
            Said(sensor, Quantity.HUMIDITY, told.humidity_pct, now),
        ]
        if told.co2_ppm is not None:
            said.append(Said(sensor, Quantity.CO2, told.co2_ppm, now))
        self._reader.said = said
        self.intake.take(Arrival("t", b"", False, 1, 1, 1, now, self.clock.elapsed_s))
        if self.intake.must_commit():
            self.intake.commit()
            self._broker.acknowledged.clear()

    def _new(self, minute: int) -> list[tuple[Message, str]]:
        arrived = self.books.book.outbox.arrived
        fresh = arrived[self._seen :]
        self._seen = len(arrived)
        return [(self._message(row, minute), f"{row.title}. {row.body}") for row in fresh]

    def _message(self, row: OutRow, minute: int) -> Message:
        reminder = self.books.book.reminders.get(row.reminder)
        call = reminder.call if reminder is not None else _asked(row.title)
        # A surface that is wet is no matter of the air, which alone is held against the truth.
        surface = reminder is not None and call is Call.DRY_OFF and bool(reminder.subject)
        return Message(
            minute,
            call,
            grave=row.priority is Priority.HIGH,
            kind=row.kind,
            surface=surface,
            folded=row.state is OutState.FOLDED,
            foretold=self._foretold(row, minute),
            reminder=row.reminder,
        )

    def until_visit(self) -> timedelta:
        """Return how long it is until the visit up to which a forecast speaks: no near one."""
        now = self.clock.wall
        later = (
            datetime.combine(now.date() + timedelta(days=day), at, UTC)
            for day in range(2)
            for at in self.house.chambers[TENT].visits
        )
        return next(at - now for at in later if at - now >= LONG_AWAY)

    def see(self, reminder: int) -> None:
        """Tell the service that a message was seen."""
        with contextlib.suppress(RefusedError):
            self.logbook.seen(reminder, None, "link")

    def _foretold(self, row: OutRow, minute: int) -> int | None:
        """Return the minute at which an early notice expects the limit: then it expires."""
        if row.kind is not OutKind.EARLY or row.expires is None:
            return None
        return minute + round((row.expires - self.clock.wall).total_seconds() / 60.0)


def _asked(title: str) -> Call | None:
    """Return what a message that tells of no reminder asks for, such as a forecast at bedtime."""
    if "vent" in title.lower():
        return Call.VENT
    return Call.MIST if "mist" in title.lower() else None
