"""Whole houses to be looked at: the machine as the daemon joins it, with days of life behind it.

Nothing in them stands in for a part of ours: readings come in as messages, deeds through the
logbook, batches through the growing record, settings from a file. Only the broker is missing.
"""

import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Final

from fastapi import FastAPI

from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.core.watch.action import Amounts, Deed
from chamberwatch.core.watch.reminder import State
from chamberwatch.mqtt.guessing import Understanding
from chamberwatch.service.admission import Admission
from chamberwatch.service.claiming import Claiming
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.service.history import Vitals
from chamberwatch.service.ports import Answering, Arrival
from chamberwatch.settings import SettingsFile, load, load_species
from chamberwatch.settings.first import FIRST
from chamberwatch.settings.species import OWN_FILE
from chamberwatch.sim.show import TentShow
from chamberwatch.sim.winter import tell_winter
from chamberwatch.web.access import SignedLinks, sign_key
from chamberwatch.web.desk import Desk
from chamberwatch.web.hashing import Argon2
from chamberwatch.web.sessions import NAME, Sessions
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine
from chamberwatch.wiring.renewing import Read, Renewing
from tests.fakes import HandClock
from tests.listeners import Ear, heard, topics_of
from tests.make import NOON
from tests.photo.pictures import from_a_phone

EVERY: Final = timedelta(minutes=2)
TOPIC: Final = "garden/2/climate"
SAYS: Final = {"humidity": 81.2, "temperature": 17.9}
PASSCODE: Final = "wet straw in june"
TELLING: Final = """
[[notify]]
name = "phone"
to = "json://localhost"
when = [{ days = "mon-fri", hours = "07:00-22:30" }]
"""
LONG: Final = "The tall tent in the cellar beside the stairs to the garden"
LONG_SHELF: Final = "shelf-behind-the-door"
LONG_SENSOR: Final = "hygrometer-on-the-left-post-of-the-cellar"[:40]
LONG_PHONE: Final = "the-phone-on-the-shelf-beside-the-stairs"


@dataclass
class House:
    """A machine that stands still, and what there is to be seen of it.

    Attributes:
        machine: all parts.
        clock: stands until it is turned.
        named: the numbers and names that addresses of its pages hold.
        cookie: of who is logged in; empty: nobody needs to.
    """

    machine: Machine
    clock: HandClock
    named: dict[str, str] = field(default_factory=dict)
    cookie: dict[str, str] = field(default_factory=dict)

    @property
    def app(self) -> FastAPI:
        return self.machine.app

    @property
    def desk(self) -> Desk:
        desk = self.app.state.desk
        assert isinstance(desk, Desk)
        return desk

    def live(self, show: TentShow, until: datetime) -> None:
        """Let the tent live on until a time, watched as the daemon watches it."""
        intake, rounds = self.machine.intake, self.machine.rounds
        while show.time < until:
            for report in show.advance_to(show.time + EVERY):
                self.hear(report.topic, report.payload)
            step = (show.time - self.clock.now()).total_seconds()
            self.clock.turn(seconds=step)
            if intake.must_commit():
                intake.commit()
            if show.time.minute % 10 == 0:
                rounds.look()
            if show.time.minute == 0 and show.time.hour % 4 == 0:
                self.settle()
        self.settle()

    def settle(self) -> None:
        """Keep what waits and do all that the rounds do, until nothing of it is left."""
        self.machine.intake.commit()
        self.machine.rounds.look()
        for _ in range(3):
            self.machine.rounds.search()
            self.machine.rounds.sum_up()

    def hear(self, topic: str, payload: bytes) -> None:
        """Take in a message."""
        now, seconds = self.clock.now(), self.clock.monotonic()
        self.machine.intake.take(Arrival(topic, payload, False, 1, 1, 1, now, seconds))

    def claiming(self, ear: Ear) -> None:
        """Let it hear what no sensor claims."""
        editing = self.desk.editing
        assert editing is not None
        claiming = Claiming(
            ear, Understanding(), lambda: topics_of(editing.content()), lambda *_: None
        )
        self.app.state.desk = replace(self.desk, claiming=claiming)

    def guard(self) -> None:
        """Set a passcode, and log in."""
        admission = Admission(self.machine.books, self.clock, Argon2())
        admission.choose(PASSCODE)
        mark = admission.mark()
        assert mark is not None
        self.cookie = {NAME: Sessions(self.machine.books).issued(mark, self.clock.now())}


@contextmanager
def built(folder: Path, settings: str, species: str = "") -> Iterator[House]:
    """Join the parts of a house with these settings, and with species of its own."""
    file, clock = folder / "chamberwatch.toml", HandClock(NOON)
    file.write_text(settings, encoding="utf-8")
    if species:
        (folder / OWN_FILE).write_text(species, encoding="utf-8")

    def read() -> Read:
        return Read(load(file, {}), load_species(file))

    vitals = Vitals(True, timedelta(seconds=4), ())
    occasion = Occasion(io.StringIO(), "http://127.0.0.1:8642", lambda: vitals)
    renewing = Renewing(SettingsFile(file, {}), read, clock, occasion, lambda: None)
    made = House(renewing.first(read()), clock)
    try:
        yield made
    finally:
        made.machine.books.close()


@contextmanager
def empty(folder: Path) -> Iterator[House]:
    """Build the house of somebody who has just begun, behind a passcode."""
    with built(folder, FIRST) as house:
        house.claiming(Ear([heard(TOPIC, SAYS)]))
        house.named = {"topic": TOPIC}
        house.guard()
        yield house


@contextmanager
def whole(folder: Path) -> Iterator[House]:
    """Build the house of the demo in the middle of a winter: a bit of everything there is."""
    with built(folder, demo() + TELLING) as house:
        days(house, timedelta(days=1, hours=12))
        _winter(house)
        deeds(house, "tent")
        _talk(house)
        house.claiming(Ear([heard(TOPIC, SAYS), heard("garden/door", "open")]))
        names(house, "tent")
        yield house


@contextmanager
def crowded(folder: Path) -> Iterator[House]:
    """Build a house of long names and twelve shelves, in °F and oz."""
    shelves = ", ".join(f'"{LONG_SHELF}-{n}"' for n in range(1, 13))
    settings = (
        demo()
        .replace('["top", "upper", "lower", "bottom"]', f"[{shelves}]")
        .replace('title = "Tent"', f'title = "{LONG}"')
        .replace('"Living room"', f'"{LONG.replace("tent", "room")}"')
        .replace("altitude_m = 120", 'altitude_m = 120\ntemperature = "°F"\nweight = "oz"')
        .replace('"tent-top"', f'"{LONG_SENSOR}"')
        .replace('place = "top"', f'place = "{LONG_SHELF}-1"')
    )
    more = "".join(
        f'[[chamber]]\nname = "tub-{n}"\ntitle = "Tub {n}: {LONG}"\nvolume_l = 60\n'
        f'stage = "colonisation"\nshelves = ["a", "b"]\nsurrounding = "room"\n'
        for n in range(1, 4)
    )
    with built(folder, settings + more + TELLING.replace('"phone"', f'"{LONG_PHONE}"')) as house:
        days(house, timedelta(days=1))
        _crowd(house)
        deeds(house, "tent")
        _talk(house)
        long_topic = "a-house-with-a-long-name/the-second-floor/the-room-beside-the-stairs/climate"
        house.claiming(Ear([heard(TOPIC, SAYS), heard(long_topic, SAYS)]))
        names(house, "tent")
        yield house


HOUSES: Final[Mapping[str, Callable[[Path], AbstractContextManager[House]]]] = {
    "empty": empty,
    "whole": whole,
    "crowded": crowded,
}


def demo() -> str:
    shipped = (resources.files("chamberwatch") / "data" / "demo.toml").read_text(encoding="utf-8")
    # No broker waits for its acknowledgement here: the disk is asked less often.
    return shipped.replace("window = 15", "window = 500")


def days(house: House, span: timedelta) -> None:
    """Let the tent live; in the last hour its front stands open and nobody comes."""
    end = house.clock.now()
    house.clock.turn(seconds=-span.total_seconds())
    show = TentShow(seed=7, start=house.clock.now(), every=EVERY)
    show.forget_from(end - timedelta(minutes=50))
    show.patience = span
    house.live(show, end)


def _winter(house: House) -> None:
    growing, now = house.machine.growing, house.clock.now()
    tell_winter(growing.record, now)
    number = max(growing.record.batches())
    photos = house.desk.photos
    assert photos is not None
    note = Telling(EntryKind.NOTED, now - timedelta(hours=3), "the first pins, on the left cut")
    photos.add(number, note, photos.develop(from_a_phone()), "page")
    house.settle()


def _crowd(house: House) -> None:
    """Fill twelve shelves, and tell each at length."""
    record, now = house.machine.growing.record, house.clock.now()
    words = "straw of the neighbour's second field, cut by hand, and a little coffee"
    for n in range(24):
        place = Place("tent", f"{LONG_SHELF}-{n // 2 + 1}")
        start = Start(
            "grey-oyster",
            Container.BAG,
            count=1 + n % 3,
            substrate=words,
            spawn=words,
            wet_g=2300.0,
        )
        number = record.start(start, place, now - timedelta(days=40 - n), "", "page").id
        told = [Telling(EntryKind.OPENED, now - timedelta(days=20 - n))] if n < 12 else []
        told += [Telling(EntryKind.PINNED, now - timedelta(days=12 - n))] if n < 6 else []
        for n_th in range(n + 1 if n < 3 else 0):
            picked = now - timedelta(days=5 - n_th)
            told.append(Telling(EntryKind.HARVESTED, picked, weight_g=512.0 + 37 * n_th))
        for each in told:
            record.tell(number, each, "page")
    note = Telling(EntryKind.NOTED, now - timedelta(hours=2), "a" * 200)
    photos = house.desk.photos
    assert photos is not None
    photos.add(1, note, photos.develop(from_a_phone(6)), "page")
    house.settle()


def deeds(house: House, chamber: str) -> None:
    """Tell of a misting and a venting, and put one of them right."""
    logbook, amending, now = house.desk.logbook, house.desk.amending, house.clock.now()
    assert amending is not None
    done = [
        logbook.act(chamber, deed, now - timedelta(hours=hours), "by hand", "page", amounts).id
        for hours, deed, amounts in (
            (26.0, Deed.MISTED, Amounts(into_air_g=6.5, standing_g=10.0)),
            (20.0, Deed.VENTED, Amounts(vent_minutes=4.5)),
            (5.0, Deed.MISTED, Amounts(into_air_g=18.4)),
        )
    ]
    amending.withdraw(done[-1], "it was the other chamber", "page")
    house.settle()


def _talk(house: House) -> None:
    """Hear what can't be read."""
    house.hear("tent/middle", b"{broken")
    house.hear("tent/middle", json.dumps({"temperature": "warm"}).encode())
    house.settle()


def names(house: House, chamber: str) -> None:
    """Find out what addresses can hold."""
    growing, desk = house.machine.growing, house.desk
    reminders = desk.history.reminders(None)
    active = [each.reminder for each in reminders if each.reminder.state is not State.NORMAL]
    assert active, "nothing is asked in this house"
    newest = max(growing.record.batches())
    with_photo = next(n for n in growing.record.batches() if desk.photos and desk.photos.of(n))
    entries = [entry.id for n in growing.record.batches() for entry in growing.record.entries(n)]
    assert desk.photos is not None
    photo = next(iter(desk.photos.of(with_photo).values()))[0]
    link = SignedLinks(sign_key(house.machine.books), "", house.clock).link(
        active[0].id, active[0].episode, Answering.MISTED
    )
    deeds: Sequence[int] = [each.action.id for each in desk.history.actions(chamber, 50)]
    house.named = {
        "chamber": chamber,
        "sensor": next(s.name for s in house.machine.house.sensors_in(chamber)),
        "reminder": str(active[0].id),
        "batch": str(newest),
        "batch_with_photo": str(with_photo),
        "entry": str(max(entries)),
        "photo": str(photo.id),
        "deed": str(deeds[-1]),
        "link": link,
        "told": next(iter(house.machine.settings.notify)).name,
        "topic": TOPIC,
    }
