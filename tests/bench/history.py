"""Looking back: a year of readings every five seconds, and how fast a chart of it is answered.

The year lies in a file in the folder of temporary files and is kept there: making it takes some
minutes. CHAMBERWATCH_BENCH_DAYS makes it another number of days.
"""

import gc
import gzip
import math
import os
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from fastapi.testclient import TestClient

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span
from chamberwatch.service.chart_marks import Marking
from chamberwatch.service.charting import Charting
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import IN_A_ROUND, SummingUp
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.app import create_app
from tests.bench.told import Told
from tests.fakes import HandClock
from tests.make import ALL_AIR, TENT
from tests.web.desk_fakes import dry_tent

DAYS = int(os.environ.get("CHAMBERWATCH_BENCH_DAYS", "365"))
END = datetime(2026, 1, 20, 12, 7, tzinfo=UTC)
ARTICLES = {"hour": "an ", "60 days": ""}
EVERY_S = 5
WEEK_S = 7 * 86_400
SENSORS = ("low", "middle", "top")
HOUSE = House({"tent": TENT}, {name: Sensor(name, "tent", quantities=ALL_AIR) for name in SENSORS})
ASKED = 40


def pattern() -> list[tuple[int, int, float]]:
    """Return a week of readings, with the noise and the fineness of a home sensor."""
    rng, rows = random.Random(1), []  # noqa: S311 - noise, no secret
    for offset in range(0, WEEK_S, EVERY_S):
        day = math.sin(offset / 86_400 * 2 * math.pi)
        misted = math.exp(-(offset % 9000) / 2500)
        for number in range(3):
            values = (
                18.0 + 1.5 * day + 0.4 * number + rng.gauss(0, 0.05),
                82.0 + 10.0 * misted - 2.0 * day + rng.gauss(0, 0.3),
                900.0 + 250.0 * day - 300.0 * misted + rng.gauss(0, 8.0),
            )
            for quantity, value in enumerate(values):
                rows.append((offset, 3 * number + quantity, round(value, 1)))
    return rows


def readings_of(at: datetime) -> list[Reading]:
    """Return one reading of every series."""
    return [
        Reading(at, sensor, quantity, 60.0)
        for sensor in SENSORS
        for quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2)
    ]


def fill(path: Path, start: datetime) -> None:
    """Put readings of every five seconds from a time to the end into the file."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TEMP TABLE pattern (at INTEGER, place INTEGER, value REAL)")
        db.executemany("INSERT INTO pattern VALUES (?, ?, ?)", pattern())
        ids = [
            db.execute(
                "SELECT id FROM series WHERE sensor = ? AND quantity = ?", (r.sensor, r.quantity)
            ).fetchone()[0]
            for r in readings_of(start)
        ]
        db.execute("CREATE TEMP TABLE places (place INTEGER PRIMARY KEY, series INTEGER)")
        db.executemany("INSERT INTO places VALUES (?, ?)", enumerate(ids))
        week, end = round(start.timestamp()), round(END.timestamp())
        while week < end:
            # A little else each week, so that no week is like another.
            db.execute(
                """INSERT OR IGNORE INTO readings SELECT (? + at) * 1000000, series,
                value + ?, 1, NULL FROM pattern JOIN places USING (place)
                WHERE ? + at < ? ORDER BY at, series""",
                (week, week // WEEK_S % 9 / 10, week, end),
            )
            db.commit()
            week += WEEK_S


def bands() -> BandsThen:
    return BandsThen(HOUSE, SpeciesTable({}, {}))


def made(path: Path) -> float | None:
    """Make the file if it isn't there; return how long the summing up of all took. [s]."""
    if path.exists():
        return None
    fresh = path.with_suffix(".making")
    fresh.unlink(missing_ok=True)
    start = END - timedelta(days=DAYS)
    books = open_books(f"sqlite:///{fresh}", start)
    with books.write() as book:
        book.readings.add(readings_of(start))
    fill(fresh, start)
    with books.write() as book:
        book.readings.add(readings_of(END))
    summing = SummingUp(books, HandClock(wall=END), bands())
    began = time.process_time()
    while summing.look():
        pass
    took = time.process_time() - began
    books.close()
    fresh.rename(path)
    return took


def kept_year(told: Told) -> Path:
    """Return the file with a year of readings; the first time it is made, and that is told."""
    path = Path(tempfile.gettempdir()) / f"chamberwatch-bench-{DAYS}-days.db"
    took = made(path)
    if took is not None:
        told.add(
            f"summing up {DAYS} days of before",
            f"{took:.0f} s",
            how=f"of processor; a daemon takes {DAYS * 96 / IN_A_ROUND / 3:.0f} min over it",
        )
    return path


def p95_ms(work: Callable[[], object]) -> tuple[float, float]:
    """Time a piece of work; the 95th percentile of many goes, by the clock and of processor. [ms].

    Where other programs want the processor too, the second says more.
    """
    work()
    times, worked = [], []
    for _ in range(ASKED):
        began, before = time.perf_counter(), time.process_time()
        work()
        times.append(time.perf_counter() - began)
        worked.append(time.process_time() - before)
    by_clock, of_processor = (
        statistics.quantiles(each, n=20)[-1] * 1e3 for each in (times, worked)
    )
    return by_clock, of_processor


def visitor(books: SqlBooks) -> TestClient:
    """Return who asks the real charting through the whole web room."""
    held, zone = bands(), ZoneInfo("Europe/Berlin")
    marking = Marking(held, SpeciesTable({}, {}), HOUSE.titles(), zone)
    charting = Charting(books, HOUSE, held, marking)
    desk = replace(dry_tent().desk, charting=charting, clock=HandClock(wall=END))
    return TestClient(create_app(desk), base_url="http://localhost")


def rows_s(path: Path, span: Span, length_s: int) -> float:
    """Time plain SQL that counts as many rows as a chart of a span reads. [s]."""
    with closing(sqlite3.connect(path)) as db:
        began = time.perf_counter()
        db.execute(
            """SELECT count(*), sum(total) FROM summaries
            WHERE length_s = ? AND start_s >= ? AND start_s < ?""",
            (length_s, round(span.start.timestamp()), round(span.end.timestamp())),
        ).fetchall()
        return time.perf_counter() - began


def history(told: Told) -> None:
    """Charts of an hour to a year out of a file with a year of readings."""
    path = kept_year(told)
    books = open_books(f"sqlite:///{path}", END)
    spans = {
        "hour": timedelta(hours=1),
        "day": timedelta(days=1),
        "week": timedelta(days=7),
        "month": timedelta(days=30),
        "60 days": timedelta(days=60),
        "year": timedelta(days=365),
    }
    with visitor(books) as asker:
        # As the daemon does before it serves.
        gc.collect()
        gc.freeze()
        for name, length in spans.items():
            _asked(told, asker, path, name, Span(END - length, END))
    books.close()
    written(told)


def _asked(told: Told, asker: TestClient, path: Path, name: str, span: Span) -> None:
    query = {"from": span.start.isoformat(), "to": span.end.isoformat()}
    packed = {"Accept-Encoding": "gzip"}

    def ask() -> bytes:
        answer = asker.get("/api/v1/chambers/tent/chart", params=query, headers=packed)
        assert answer.status_code == 200, answer.text
        return answer.content

    size_kb = len(gzip.compress(ask(), 5)) / 1000
    length_s = {"week": 900, "month": 3600, "60 days": 3600, "year": 86_400}.get(name, 60)
    limit = min(rows_s(path, span, length_s) for _ in range(5))
    ms, worked_ms = p95_ms(ask)
    told.add(
        f"chart of {ARTICLES.get(name, 'a ')}{name}, p95",
        f"{ms:.1f} ms",
        limit=f"{limit * 1e3:.2f} ms",
        ratio=ms / limit / 1e3,
        aim="< 25 ms, < 60 kB",
        met=ms < 25 and size_kb < 60,
        how=f"{worked_ms:.1f} ms of processor; {size_kb:.1f} kB packed; limit: plain SQL over as "
        "many rows",
    )


def written(told: Told) -> None:
    """What a day of three sensors writes to the card, with and without summing up."""
    found = {}
    for summed in (False, True):
        with tempfile.TemporaryDirectory() as name:
            found[summed] = _day_mb(Path(name) / "cw.db", summed=summed)
    told.add(
        "written in a day of three sensors every 5 s, storage alone",
        f"{found[True]:.0f} MB",
        aim="< 100 MB",
        met=found[True] < 100,
        how=f"{found[False]:.0f} MB of them for the readings, in commits of 30 s",
    )


def _day_mb(path: Path, *, summed: bool) -> float:
    """Return what a day writes, by the count of the kernel. [MB]."""
    clock = HandClock(wall=END)
    books = open_books(f"sqlite:///{path}", END)
    summing = SummingUp(books, clock, bands())
    rows = pattern()
    by_commit: dict[int, list[tuple[int, int, float]]] = {}
    for row in rows[: 86_400 // EVERY_S * 9]:
        by_commit.setdefault(row[0] // 30, []).append(row)
    named = [(r.sensor, r.quantity) for r in readings_of(END)]
    before = _written_bytes()
    for commit in by_commit.values():
        with books.write() as book:
            book.readings.add(
                Reading(END + timedelta(seconds=at), *named[place], value)
                for at, place, value in commit
            )
        clock.turn(seconds=30)
        if summed:
            summing.look()
    books.close()
    return (_written_bytes() - before) / 1e6


def _written_bytes() -> int:
    text = Path("/proc/self/io").read_text(encoding="ascii")
    return int(text.split("write_bytes:")[1].split()[0])
