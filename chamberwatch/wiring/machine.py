"""The machine: all parts of the daemon, joined."""

import queue
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Final, TextIO
from zoneinfo import ZoneInfo

from fastapi import FastAPI

from chamberwatch import __version__
from chamberwatch.clock import WallClock
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.mqtt.broker import BrokerLink
from chamberwatch.mqtt.payload import Field, PayloadReader, Source
from chamberwatch.notify.console import Console
from chamberwatch.notify.push import Push
from chamberwatch.schedule.jobs import Jobs
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.calibrating import Calibrating
from chamberwatch.service.checking import Checkup
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.delivery import Delivery, DeliveryParts
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.finding import Finding
from chamberwatch.service.foreseeing import Foreseeing, ForeseeingParts
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.tending import Tending
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.logbook import Logbook
from chamberwatch.service.lookback import Lookback
from chamberwatch.service.out_of_service import OutOfService
from chamberwatch.service.ports import Arrival, Clock, Links, LinkUp, Messenger
from chamberwatch.service.refilling import Refilling
from chamberwatch.service.responding import Responding
from chamberwatch.service.reviewing import Reviewing
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.service.telling import Teller
from chamberwatch.service.trying import Trying
from chamberwatch.service.wetting import Wetting
from chamberwatch.settings import SensorSettings, Settings, shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.access import SignedLinks, sign_key
from chamberwatch.web.app import create_app
from chamberwatch.web.desk import Desk
from chamberwatch.web.whence import own_names
from chamberwatch.wiring.growing import grow
from chamberwatch.wiring.pictures import Picture, pictures
from chamberwatch.wiring.self_watch import (
    SelfWatch,
    address_of,
    checkup_beside,
    own_topics,
    watch_over,
)
from chamberwatch.wiring.speaking import Speaking, manners, speaking

TIDY_AT: Final = (4, 20)
"""Hour and minute of the site's quietest time."""

LOOKED_OVER_AT: Final = (4, 40)

INBOX_AT_MOST: Final = 100_000
"""Messages that may wait in memory; with 1 kB each about 100 MB at the very worst."""


@dataclass(frozen=True, slots=True)
class Machine:
    """All parts of the daemon, joined and standing still."""

    settings: Settings
    clock: Clock
    house: House
    books: SqlBooks
    board: Board
    growing: Growing
    inbox: "queue.Queue[Arrival | LinkUp]"
    link: BrokerLink
    intake: Intake
    rounds: Rounds
    delivery: Delivery
    jobs: Jobs
    wake_delivery: threading.Event
    app: FastAPI
    self_watch: SelfWatch


@dataclass(frozen=True, slots=True)
class Occasion:
    """How this run differs from another.

    Attributes:
        terminal: where the terminal's messages go.
        page: address of the pages as the terminal's reader can open them.
        vitals: asks the daemon how its parts are.
        silent_until: readings up to this time are never spoken of.
        ailing: asks the daemon what of it has died or hangs; empty when all is alive.
    """

    terminal: TextIO
    page: str
    vitals: Callable[[], Vitals]
    silent_until: datetime | None = None
    ailing: Callable[[], str] = lambda: ""


@dataclass(frozen=True, slots=True)
class _Common:
    """What more than one part of the machine works with."""

    books: SqlBooks
    clock: Clock
    zone: ZoneInfo
    house: House
    board: Board
    growing: Growing
    wake: threading.Event
    corrector: Corrector
    messengers: dict[str, Messenger]
    picture: Picture | None
    knowing: Knowing
    counsel: Counselling
    responding: Responding
    spoken: Speaking
    teller: Teller
    foreseeing: Foreseeing


def build(
    settings: Settings, clock: Clock, occasion: Occasion, table: SpeciesTable | None = None
) -> Machine:
    """Join the parts.

    Args:
        settings: the grower's.
        clock: the time.
        occasion: how this run differs from another.
        table: the species; None: those that are shipped.

    Raises:
        StorageError: the database can't be used.
    """
    started = clock.now()
    books = open_books(settings.database.url, started)
    common = _common(settings, clock, books, occasion, table or shipped_species())
    inbox: queue.Queue[Arrival | LinkUp] = queue.Queue(INBOX_AT_MOST)
    link = _link(settings, inbox, clock)
    checkup = checkup_beside(link, settings, clock, common.board)
    history = History(
        books,
        clock,
        common.house,
        common.board,
        common.zone,
        occasion.vitals,
        started,
        __version__,
        common.counsel,
        common.growing.duties,
        checkup.now,
        common.responding,
    )
    return Machine(
        settings,
        clock,
        common.house,
        books,
        common.board,
        common.growing,
        inbox,
        link,
        _intake(settings, common, link, occasion.silent_until),
        _rounds(settings, common),
        Delivery(
            DeliveryParts(
                books,
                clock,
                common.messengers,
                common.zone,
                common.wake,
                common.spoken.waiting,
                common.picture,
            )
        ),
        _jobs(settings, books, checkup),
        common.wake,
        create_app(_desk(settings, common, history)),
        watch_over(
            settings, history, checkup, lambda: occasion.vitals().troubles, occasion.ailing
        ),
    )


def _common(
    settings: Settings, clock: Clock, books: SqlBooks, occasion: Occasion, table: SpeciesTable
) -> _Common:
    zone = ZoneInfo(settings.site.timezone)
    board = Board(clock.monotonic())
    growing = grow(settings, table, books, clock, board)
    # From here on the house whose bands follow what grows.
    house = growing.standing.house
    wake = threading.Event()
    messengers = _messengers(settings, books, clock, occasion)
    named = tuple(messengers)
    knowing = Knowing(house, zone, settings.database.commit_every)
    counsel = Counselling(house, board, knowing, zone)
    responding = Responding(house, board, zone)
    return _Common(
        books=books,
        clock=clock,
        zone=zone,
        house=house,
        board=board,
        growing=growing,
        wake=wake,
        corrector=Corrector(house, board),
        messengers=messengers,
        picture=pictures(books, clock, house, zone, messengers.values()),
        knowing=knowing,
        counsel=counsel,
        responding=responding,
        spoken=speaking(books, clock, board, counsel, growing.duties, manners(settings)),
        teller=Teller(
            house,
            board,
            named,
            zone,
            counsel,
            graces=responding.grace,
            no_effect=responding.no_effect,
        ),
        foreseeing=Foreseeing(
            ForeseeingParts(books, clock, house, board, named, zone, wake, responding.grace)
        ),
    )


def _intake(
    settings: Settings, common: _Common, link: BrokerLink, silent_until: datetime | None
) -> Intake:
    return Intake(
        IntakeParts(
            books=common.books,
            reader=PayloadReader([_source(s) for s in settings.sensor], own_topics(settings)),
            acknowledger=link,
            clock=common.clock,
            house=common.house,
            board=common.board,
            teller=common.teller,
            commit_every=settings.database.commit_every,
            window=settings.mqtt.window,
            wake_delivery=common.wake,
            silent_until=silent_until,
            corrector=common.corrector,
        )
    )


def _rounds(settings: Settings, common: _Common) -> Rounds:
    books, clock, house, board = common.books, common.clock, common.house, common.board
    teller, growing = common.teller, common.growing
    return Rounds(
        RoundsParts(
            books,
            clock,
            house,
            board,
            teller,
            common.wake,
            Doubting(house, board, teller, books),
            Finding(books, house, clock, board, settings.database.commit_every),
            common.knowing,
            Wetting(house, board, teller, books),
            Tending(
                growing.record,
                growing.duties,
                growing.rotating,
                growing.standing,
                house,
                teller,
                clock,
                common.zone,
            ),
            common.spoken.nights,
            common.spoken.returning,
            common.foreseeing,
            common.responding,
            Refilling(house, teller),
        )
    )


def _desk(settings: Settings, common: _Common, history: History) -> Desk:
    books, clock, house, board = common.books, common.clock, common.house, common.board
    zone, wake = common.zone, common.wake
    return Desk(
        history=history,
        logbook=Logbook(books, clock, house, board, wake, common.knowing),
        clock=clock,
        books=books,
        zone=zone,
        address=settings.web.address,
        calibrating=Calibrating(books, clock, house, board, common.corrector),
        lookback=Lookback(books, clock, house, board, zone),
        growing=common.growing,
        serving=OutOfService(books, clock, board),
        reviewing=Reviewing(books, clock, house, zone, Console.name),
        addresses=Trying(
            books, clock, common.messengers, zone, wake, common.picture, manners(settings)
        ),
        names=own_names(socket.gethostname()),
        foreseeing=common.foreseeing,
    )


def _jobs(settings: Settings, books: SqlBooks, checkup: Checkup) -> Jobs:
    """Return what is done at a time of day; real even where the demo's clock is paced."""
    jobs = Jobs(settings.site.timezone, WallClock())
    jobs.daily("tidy the database", *TIDY_AT, books.tidy)
    jobs.daily("look the watcher over", *LOOKED_OVER_AT, checkup.at_night)
    return jobs


def _messengers(
    settings: Settings, books: Books, clock: Clock, occasion: Occasion
) -> dict[str, Messenger]:
    key, address = sign_key(books), settings.web.address
    near = SignedLinks(key, address or occasion.page, clock)
    far: Links | None = SignedLinks(key, address, clock) if address else None
    found: list[Messenger] = [Console(occasion.terminal, near)]
    found += [
        Push(n.name, n.to.get_secret_value(), far, pictures=n.pictures) for n in settings.notify
    ]
    return {messenger.name: messenger for messenger in found}


def _link(settings: Settings, inbox: "queue.Queue[Arrival | LinkUp]", clock: Clock) -> BrokerLink:
    topics = sorted({sensor.topic for sensor in settings.sensor})
    return BrokerLink(address_of(settings), topics, inbox, clock, own_topics(settings))


def _source(sensor: SensorSettings) -> Source:
    return Source(
        sensor=sensor.name,
        topic=sensor.topic,
        payload=sensor.payload,
        reads={q: Field(read.at, read.unit) for q, read in sensor.reads.items()},
        time_at=sensor.time.at if sensor.time else None,
    )
