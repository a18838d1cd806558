"""The page *Now* in the server: how long it takes with much in the file.

The limit of the same run is the page of a file that holds nothing but the newest readings: what
the record costs beside that is what grows with the years. Each page is asked for as a phone that
was away asks for it: nothing is kept from the time before.
"""

import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import Container, Start
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.growing.places import Place
from chamberwatch.service.history import Vitals
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.settings import Settings, shipped_species
from chamberwatch.settings.loading import load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine, build
from tests.bench.told import Told
from tests.fakes import HandClock

DAYS = 30
EVERY_S = 5
ROUNDS = 150
AIM_MS = 50.0

CONFIG = """
[database]
url = "sqlite:///{file}"
[web]
address = "http://localhost"
[[chamber]]
name = "tent"
stage = "fruiting"
volume_l = 500
shelves = ["top", "upper", "lower", "bottom"]
surrounding = "room"
[[chamber]]
name = "room"
"""
SENSOR = """
[[sensor]]
name = "{name}"
chamber = "{chamber}"
topic = "bench/{name}"
reads.temperature = {{ at = "/temperature" }}
reads.humidity = {{ at = "/humidity" }}
reads.co2 = {{ at = "/co2" }}
"""
SENSORS = (("middle", "tent"), ("low", "tent"), ("hall", "room"))

Fill = Callable[[Machine, datetime], None]
"""Puts a past into a machine's book, up to a time."""


def settings(folder: Path) -> Settings:
    """Return the settings of a tent with two sensors in a room with one."""
    text = CONFIG.format(file=folder / "bench.db")
    text += "".join(SENSOR.format(name=name, chamber=where) for name, where in SENSORS)
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return load(path, {})


def readings(since: datetime, until: datetime) -> Iterator[Reading]:
    """Yield what the sensors said every few seconds."""
    steps = int((until - since).total_seconds()) // EVERY_S
    for n in range(steps):
        at = since + timedelta(seconds=n * EVERY_S)
        share = n % 1080 / 1080.0
        for name, _ in SENSORS:
            yield Reading(at, name, Quantity.HUMIDITY, 94.0 - 9.0 * share)
            yield Reading(at, name, Quantity.TEMPERATURE, 18.0 + share)
            yield Reading(at, name, Quantity.CO2, 600.0 + 300.0 * share)


def a_month(machine: Machine, now: datetime) -> None:
    """Fill a book day by day."""
    for day in range(DAYS, 0, -1):
        since = now - timedelta(days=day)
        with machine.books.write() as book:
            book.readings.add(readings(since, since + timedelta(days=1)))


def nothing(machine: Machine, now: datetime) -> None:
    """Keep the newest readings alone."""
    with machine.books.write() as book:
        book.readings.add(readings(now - timedelta(seconds=EVERY_S), now))


def page_ms(folder: Path, fill: Fill) -> list[tuple[float, float]]:
    """Time the page, asked for a minute apart: by the wall, and by the processor. [ms]"""
    clock = HandClock()
    vitals = Vitals(connected=True, message_ago=timedelta(seconds=2), troubles=())
    with (folder / "terminal").open("w", encoding="utf-8") as terminal:
        occasion = Occasion(terminal, "http://localhost", lambda: vitals)
        machine = build(settings(folder), clock, occasion)
        fill(machine, clock.now())
        stock(machine)
        # As a daemon that has run all the time has done before anybody asks.
        summing = SummingUp(machine.books, clock, BandsThen(machine.house, shipped_species()))
        while summing.look():
            pass
        with machine.books.read() as book:
            newest = book.readings.newest()
        machine.board.remember(newest, ())
        return [*asked(machine, clock)]


def stock(machine: Machine) -> None:
    """Put two batches on each shelf."""
    for n in range(8):
        start = Start("grey-oyster", Container.BAG)
        place = Place("tent", ("top", "upper", "lower", "bottom")[n // 2])
        machine.growing.record.start(start, place, None, "", "bench")


def asked(machine: Machine, clock: HandClock) -> Iterator[tuple[float, float]]:
    """Ask for the page again and again, when nothing is kept from before. [ms]"""
    with TestClient(machine.app, base_url="http://localhost") as visitor:
        for _ in range(ROUNDS):
            clock.turn(seconds=61)
            began, worked = time.perf_counter(), time.process_time()
            answer = visitor.get("/")
            took, cpu = time.perf_counter() - began, time.process_time() - worked
            assert answer.status_code == 200, answer.text
            yield took * 1000.0, cpu * 1000.0


def p95(values: list[float]) -> float:
    """Return what nineteen in twenty stay below."""
    return statistics.quantiles(values, n=20)[-1]


def now(told: Told, fill: Fill = a_month, what: str = f"{DAYS} days of 5 s readings") -> None:
    """The page with a full file, against the same with an empty one."""
    with tempfile.TemporaryDirectory() as empty, tempfile.TemporaryDirectory() as full:
        bare, whole = page_ms(Path(empty), nothing), page_ms(Path(full), fill)
    took, cpu = [wall for wall, _ in whole], [worked for _, worked in whole]
    aim, few = f"< {AIM_MS:.0f} ms", [wall for wall, _ in bare]
    told.add(
        "page Now, p95",
        f"{p95(took):.0f} ms",
        limit=f"{p95(few):.0f} ms",
        ratio=p95(took) / p95(few),
        aim=aim,
        met=p95(took) < AIM_MS,
        how=f"{what}, three sensors, eight batches; {ROUNDS} times, nothing kept from before; "
        "limit: the same with an empty file",
    )
    few = [worked for _, worked in bare]
    told.add(
        "page Now, processor, p95",
        f"{p95(cpu):.0f} ms",
        limit=f"{p95(few):.0f} ms",
        ratio=statistics.median(cpu) / statistics.median(few),
        aim=aim,
        met=p95(cpu) < AIM_MS,
        how="as before; ratio: of the medians",
    )
