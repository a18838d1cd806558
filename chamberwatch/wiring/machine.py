"""The machine: all parts of the daemon, joined."""

import queue
import threading
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import FastAPI

from chamberwatch import __version__
from chamberwatch.clock import WallClock
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.mqtt.broker import BrokerLink
from chamberwatch.mqtt.out import OutLink
from chamberwatch.mqtt.payload import Field, PayloadReader, Source
from chamberwatch.notify.console import Console
from chamberwatch.notify.push import Push
from chamberwatch.schedule.jobs import Jobs
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.checking import Checkup
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.delivery import Delivery, DeliveryParts
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.finding import Finding
from chamberwatch.service.foreseeing import Foreseeing, ForeseeingParts
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.tending import Tending
from chamberwatch.service.history import History
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.liking import InLikedUnits
from chamberwatch.service.ports import Clock, Incoming, Links, Messenger
from chamberwatch.service.refilling import Refilling
from chamberwatch.service.responding import Responding
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.service.telling import Teller
from chamberwatch.service.wetting import Wetting
from chamberwatch.settings import SensorSettings, Settings, shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.access import SignedLinks, sign_key
from chamberwatch.web.app import create_app
from chamberwatch.wiring.common import Common, Occasion
from chamberwatch.wiring.desk import desk_with
from chamberwatch.wiring.growing import grow
from chamberwatch.wiring.pictures import pictures
from chamberwatch.wiring.self_watch import (
    SelfWatch,
    address_of,
    checkup_beside,
    own_topics,
    sign_of_life,
    speaker,
    watch_over,
)
from chamberwatch.wiring.slow_start import slow_start
from chamberwatch.wiring.speaking import speaking
from chamberwatch.wiring.upkeep import backups_at, upkeep

TIDY_AT: Final = (4, 20)
"""Hour and minute of the site's quietest time."""

LOOKED_OVER_AT: Final = (4, 40)

MISSED_AT_MINUTE: Final = 50
"""Of each hour: whether there was no night, since the machine is switched off then."""

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
    inbox: "queue.Queue[Incoming]"
    link: BrokerLink
    intake: Intake
    rounds: Rounds
    delivery: Delivery
    jobs: Jobs
    wake_delivery: threading.Event
    app: FastAPI
    self_watch: SelfWatch


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
    with slow_start() as before_step:
        books = open_books(settings.database.address, started, before_step=before_step)
    common = _common(settings, clock, books, occasion, table or shipped_species())
    inbox: queue.Queue[Incoming] = queue.Queue(INBOX_AT_MOST)
    out = speaker(settings)
    link = _link(settings, inbox, clock, out)
    checkup = checkup_beside(link, settings, clock, common.board)
    history = History(
        books,
        clock,
        common.house,
        common.board,
        common.zone,
        occasion.vitals,
        occasion.started or started,
        __version__,
        common.counsel,
        common.growing.duties,
        checkup.now,
        common.responding,
        backups_at(settings),
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
        _jobs(settings, common, checkup, occasion),
        common.wake,
        create_app(desk_with(settings, common, history, occasion)),
        watch_over(
            history,
            checkup,
            out,
            sign_of_life(settings, occasion.ailing, clock),
            lambda: occasion.vitals().troubles,
        ),
    )


def _common(
    settings: Settings, clock: Clock, books: SqlBooks, occasion: Occasion, table: SpeciesTable
) -> Common:
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
    return Common(
        books=books,
        clock=clock,
        zone=zone,
        house=house,
        board=board,
        growing=growing,
        wake=wake,
        corrector=Corrector(house, board),
        messengers=messengers,
        picture=pictures(books, clock, house, zone, messengers.values(), settings.site.shown_in()),
        knowing=knowing,
        counsel=counsel,
        responding=responding,
        spoken=speaking(books, clock, board, counsel, growing.duties, settings),
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
        bands=BandsThen(house, growing.table),
    )


def _intake(
    settings: Settings, common: Common, link: BrokerLink, silent_until: datetime | None
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


def _rounds(settings: Settings, common: Common) -> Rounds:
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
            SummingUp(books, clock, common.bands),
        )
    )


def _jobs(settings: Settings, common: Common, checkup: Checkup, occasion: Occasion) -> Jobs:
    """Return what is done at a time of day; real even where the demo's clock is paced."""
    jobs = Jobs(settings.site.timezone, WallClock())
    jobs.daily("tidy the database", *TIDY_AT, common.books.tidy)
    jobs.daily("look the watcher over", *LOOKED_OVER_AT, checkup.at_night)
    night, at = upkeep(settings, common.books, common.clock, occasion.beside), settings.backup.at
    jobs.daily("upkeep", at.hour, at.minute, partial(night.night, jobs.stopping))
    jobs.hourly("missed upkeep", MISSED_AT_MINUTE, partial(night.if_missed, jobs.stopping))
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
    shown_in = settings.site.shown_in()
    return {each.name: InLikedUnits(each, shown_in) for each in found}


def _link(
    settings: Settings, inbox: "queue.Queue[Incoming]", clock: Clock, out: OutLink | None
) -> BrokerLink:
    topics = sorted({sensor.topic for sensor in settings.sensor})
    mark = None if out is None else out.mark
    return BrokerLink(address_of(settings), topics, inbox, clock, own_topics(settings), mark)


def _source(sensor: SensorSettings) -> Source:
    return Source(
        sensor=sensor.name,
        topic=sensor.topic,
        payload=sensor.payload,
        reads={q: Field(read.at, read.unit) for q, read in sensor.reads.items()},
        time_at=sensor.time.at if sensor.time else None,
    )
