"""A small machine around the intake: hand-turned clock, real database, no broker."""

import threading
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.device import Device
from chamberwatch.core.watch.hours import Manner
from chamberwatch.core.watch.reminder import Call, Reminder
from chamberwatch.service.board import Board
from chamberwatch.service.books import OutRow, OutState
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.delivery import Delivery, DeliveryParts
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.growing.standing import Standing
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.logbook import Logbook
from chamberwatch.service.mornings import Mornings
from chamberwatch.service.nights import Nights
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.ports import Arrival
from chamberwatch.service.refilling import Refilling
from chamberwatch.service.responding import Responding
from chamberwatch.service.returning import Returning
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.service.telling import Teller
from chamberwatch.service.waiting import Waiting
from chamberwatch.service.wetting import Wetting
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import Broker, FullDisk, HandClock, Phone, PlainReader
from tests.make import house


@dataclass
class Bench:
    """Everything a service test needs, restarted at will on the same file."""

    folder: Path
    clock: HandClock = field(default_factory=HandClock)
    broker: Broker = field(default_factory=Broker)
    phone: Phone = field(default_factory=Phone)
    window: int = 1000
    commit_every: timedelta = timedelta(seconds=30)
    silent_until: datetime | None = None
    removed: set[str] = field(default_factory=set)
    more: tuple[Sensor, ...] = ()
    devices: tuple[Device, ...] = ()
    counselled: bool = False
    """Whether messages carry amounts and deeds are learnt from."""
    table: SpeciesTable = field(default_factory=lambda: SpeciesTable({}, {}))
    manners: dict[str, Manner] = field(default_factory=dict)
    """How each address wants to be spoken to; empty: all at once, nothing foretold."""
    others: tuple[Phone, ...] = ()
    zone: tzinfo = UTC
    url: str = ""
    """Of the database; empty: a file in the folder."""
    ails: dict[str, str] = field(default_factory=dict)
    """What ails the watcher itself, by the name of the thing."""

    def __post_init__(self) -> None:
        self._mid = 0
        self.connection = 1
        self.start()

    def start(self) -> None:
        self.sql: SqlBooks = open_books(
            self.url or f"sqlite:///{self.folder / 'cw.db'}", self.clock.now()
        )
        self.books = FullDisk(self.sql)
        self.house = house(*self.more)
        self.house = replace(
            self.house,
            sensors={n: s for n, s in self.house.sensors.items() if n not in self.removed},
            devices=self.devices,
        )
        self.wake = threading.Event()
        self.board = Board(self.clock.monotonic())
        self.standing = Standing(self.house, self.table, self.board)
        self.house = self.standing.house
        self.knowing = Knowing(self.house, self.zone, self.commit_every)
        self.counsel = Counselling(self.house, self.board, self.knowing, self.zone)
        self.responding = Responding(self.house, self.board, self.zone)
        self.teller = Teller(
            self.house,
            self.board,
            tuple(self.phones()),
            self.zone,
            self.counsel if self.counselled else None,
            graces=self.responding.grace,
            no_effect=self.responding.no_effect,
        )
        doubting = Doubting(self.house, self.board, self.teller, self.books)
        self.nights = Nights(self.house, self.board, self.counsel, self.manners, self.zone)
        self.intake = Intake(
            IntakeParts(
                self.books,
                PlainReader(),
                self.broker,
                self.clock,
                self.house,
                self.board,
                self.teller,
                self.commit_every,
                self.window,
                self.wake,
                self.silent_until,
            )
        )
        self.rounds = Rounds(
            RoundsParts(
                self.books,
                self.clock,
                self.house,
                self.board,
                self.teller,
                self.wake,
                doubting,
                wetting=Wetting(self.house, self.board, self.teller, self.books),
                nights=self.nights,
                returning=Returning(self.house, self.board) if self.manners else None,
                responding=self.responding,
                refilling=Refilling(self.house, self.teller),
            )
        )
        self.logbook = Logbook(
            self.books,
            self.clock,
            self.house,
            self.board,
            self.wake,
            self.knowing if self.counselled else None,
        )

    def phones(self) -> dict[str, Phone]:
        return {phone.name: phone for phone in (self.phone, *self.others)}

    def delivery(self) -> Delivery:
        parts = DeliveryParts(
            self.books, self.clock, self.phones(), self.zone, self.wake, self.waiting()
        )
        return Delivery(parts)

    def waiting(self) -> Waiting | None:
        """Return what decides when to speak; None where no manners are set."""
        if not self.manners:
            return None
        house, board, zone = self.house, self.board, self.zone
        return Waiting(
            self.books,
            board,
            self.manners,
            self.nights,
            Mornings(house, board, zone, lambda *_: self.ails),
            Phrasing(house, board, self.clock, zone, self.counsel if self.counselled else None),
            zone,
        )

    def crash(self) -> None:
        """Drop everything in memory, as SIGKILL would, and start again."""
        self.sql.close()
        self.connection += 1
        self.start()

    def remove(self, sensor: str) -> None:
        """Take a sensor out of the settings; takes effect at the next start."""
        self.removed.add(sensor)

    def arrival(self, payload: str, *, retained: bool = False) -> Arrival:
        self._mid += 1
        return Arrival(
            "tent/air",
            payload.encode(),
            retained,
            self._mid,
            1,
            self.connection,
            self.clock.now(),
            self.clock.monotonic(),
        )

    def take(self, payload: str, *, retained: bool = False) -> None:
        """Take one message in as the loop would."""
        self.intake.take(self.arrival(payload, retained=retained))
        if self.intake.must_commit():
            self.intake.commit()

    def minutes_of(
        self, quantity: str, value: float, minutes: int, sensor: str = "middle"
    ) -> None:
        """Let a sensor report the same value once a minute, turning the clock."""
        for _ in range(minutes):
            self.clock.turn(minutes=1)
            self.take(f"{sensor} {quantity} {value} {self.clock.now().isoformat()}")

    def reminder(self, call: Call, subject: str = "", chamber: str = "tent") -> Reminder:
        with self.sql.write() as book:
            return book.reminders.of(chamber, call, subject)

    def outbox(self, state: OutState = OutState.WAITING) -> list[OutRow]:
        with self.sql.read() as book:
            return list(book.outbox.in_state(state))

    def stored(self) -> int:
        with self.sql.read() as book:
            return book.readings.count()

    def close(self) -> None:
        self.sql.close()
