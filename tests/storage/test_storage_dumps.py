"""Databases of every version so far, brought to the newest, still hold what they held.

After adding a step to the schema, write the dump of the new version with
`python tests/storage/test_storage_dumps.py` and keep it; the old dumps are never changed.
"""

import sqlite3
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.growing.photo import Photo
from chamberwatch.core.review import summary
from chamberwatch.core.review.reckoning import Held
from chamberwatch.core.review.summary import Rules
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.reading import Quantity, Reading, Reject, Undated
from chamberwatch.core.watch.reminder import Call, Event, Evidence, Move, Priority, Reminder, State
from chamberwatch.core.watch.rule import Level, Side, Watched
from chamberwatch.service.books import Answer, Book, OutKind, OutRow, OutState, Span
from chamberwatch.storage.book import open_books
from chamberwatch.storage.columns import to_micros
from chamberwatch.storage.migrations import STEPS
from tests.plain_summaries import PlainSummaries
from tests.servers import PROGRAMS, TestServer, database_server, needs_server

DUMPS = Path(__file__).parents[1] / "reference" / "schema"
T0 = datetime(2025, 3, 1, 12, 0, 0, 250000, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
ALL = Span(T0 - timedelta(days=9), T0 + timedelta(days=9))

READINGS = [
    Reading(T0 + n * MINUTE, "top", quantity, value + n / 8, timed=n != 1)
    for n in range(4)
    for quantity, value in ((Quantity.TEMPERATURE, 17.5), (Quantity.HUMIDITY, 88.1))
] + [Reading(T0 - 2 * timedelta(hours=3), "low", Quantity.CO2, 830.0)]
UNDATED = [Undated("low", Quantity.CO2, 900.0, "boot-7", 12.5)]
LOST = Undated("low", Quantity.CO2, 910.0, None, 13.5)
WATCHED = Watched("top", Quantity.HUMIDITY, Side.LOW, Level.BAND, True, T0)
REMINDER = Reminder(
    id=1, chamber="tent", call=Call.MIST, state=State.UNACKNOWLEDGED, active=True,
    priority=Priority.HIGH, episode=3, since=T0, moved=T0 + MINUTE, told=T0 + 2 * MINUTE,
    evidence=Evidence("top", Quantity.HUMIDITY, 76.3, 85.0, 95.0, -4.2, T0 - MINUTE), repeats=2,
)  # fmt: skip
MOVE = Move(
    1, 3, Event.RAISED, State.NORMAL, State.UNACKNOWLEDGED, T0, "it's 76 %; below 85 %",
    REMINDER.evidence,
)  # fmt: skip
MESSAGE = OutRow(
    1, 1, 3, "phone", "Tent: mist now", "Two squeezes.\nThen look.", Priority.HIGH,
    OutState.WAITING, T0, T0 + MINUTE, 2, T0 + timedelta(hours=1), again=True, error="no answer",
    kind=OutKind.FORECAST, chamber="tent", sent=T0,
)  # fmt: skip
ACTION = Action(1, "tent", Deed.MISTED, T0, 'the "fine" nozzle', T0 + MINUTE, "link")
STARTED = Entry(
    1, 1, EntryKind.STARTED, T0, T0 + MINUTE, "page", "first of the winter",
    start=Start(
        "grey-oyster", Container.BAG, 4, "wheat “straw”", "own", "grain", 5200.0, 1800.0, 65.0
    ),
    chamber="tent", shelf="top",
)  # fmt: skip
PICKED = Entry(2, 1, EntryKind.HARVESTED, T0 + MINUTE, T0 + MINUTE, "api", weight_g=612.5, flush=1)
PHOTO = Photo(1, 2, "0" * 64, (1600, 1200), (320, 240), 300_000, T0 + MINUTE)
SHOWN_SINCE = 6
"""The version from which on there are photos."""
GREW_SINCE = 3
"""The version from which on there are batches."""
TRUSTED_SINCE = 4
"""The version from which on moves keep their readings, and it is kept what was foretold."""
SUMMED_SINCE = 5
"""The version from which on readings are summed up, and it is kept what they were held against."""
PLAIN: dict[str, Any] = {"kind": OutKind.REMINDER, "chamber": "", "sent": None}
FORETOLD = Foretold(
    1, "tent", "top", Quantity.HUMIDITY, Side.LOW, 85.0, T0, T0 + 18 * MINUTE, T0 + 25 * MINUTE,
    None, told=True, came=T0 + 27 * MINUTE, outcome=Outcome.CAME,
)  # fmt: skip
REJECT = Reject("home/top", T0, "not a number", '{"t": "warm"}')
ANSWER = Answer("fingerprint", 201, '{"id": 1}')


def fill(book: Book) -> None:
    """Put something into every table."""
    book.readings.add(READINGS)
    book.readings.add_undated([*UNDATED, LOST])
    book.watched.save([WATCHED])
    book.reminders.of("tent", Call.MIST, "")
    book.reminders.save(REMINDER, [MOVE])
    book.outbox.add([MESSAGE])
    book.actions.add(ACTION)
    book.growing.start(replace(STARTED, id=0, batch=0))
    book.growing.add(replace(PICKED, id=0))
    book.photos.add(2, replace(PHOTO, id=0, entry=0, removed=None))
    book.photos.remove(1, T0 + MINUTE)
    book.foretold.add(replace(FORETOLD, id=0))
    book.rejects.add([REJECT])
    book.kept.keep_text("link key", "not a real key")
    book.kept.use_link("digest", T0)
    book.kept.keep_answer("key", ANSWER, T0)
    book.summing.follow(Rules({("top", "humidity_pct"): (Held(to_micros(T0), 88.3, None),)}))
    while book.summing.reach_on(T0 + 2 * MINUTE) or book.summing.reach_back():
        book.summing.keep(book.summing.reckon(book.summing.waiting(96)))
    book.readings.correct(READINGS[-1:])


def look(book: Book, version: int) -> None:
    """Find it all again, as far as that version held it."""
    assert book.growing.all() == ([STARTED, PICKED] if version >= GREW_SINCE else [])
    assert book.photos.get(1) == (PHOTO if version >= SHOWN_SINCE else None)
    assert book.readings.count() == len(READINGS)
    for sensor, quantity in {(r.sensor, r.quantity) for r in READINGS}:
        expected = [r for r in READINGS if (r.sensor, r.quantity) == (sensor, quantity)]
        assert book.readings.within([sensor], quantity, ALL, 99) == expected
        assert book.readings.newest()[sensor, quantity] == expected[-1]
    assert book.readings.count_undated() == (1, 1)
    assert book.readings.take_waiting("boot-7") == UNDATED
    assert book.watched.load() == [WATCHED]
    trusted = version >= TRUSTED_SINCE
    assert book.reminders.all() == [REMINDER if trusted else replace(REMINDER, repeats=0)]
    assert book.reminders.moves() == [(1, MOVE if trusted else replace(MOVE, evidence=None))]
    assert book.outbox.due(T0 + MINUTE) == [MESSAGE if trusted else replace(MESSAGE, **PLAIN)]
    assert book.actions.recent("tent") == [ACTION]
    foretold = book.foretold.recent("tent", T0)
    assert foretold == ([FORETOLD] if version >= TRUSTED_SINCE else [])
    assert book.rejects.recent() == [REJECT]
    assert book.rejects.count() == 1
    assert book.kept.text("link key") == "not a real key"
    assert book.kept.link_used("digest")
    assert book.kept.answer("key") == ANSWER
    plain = PlainSummaries(READINGS)
    if version >= SUMMED_SINCE:
        plain.rules = Rules({("top", "humidity_pct"): (Held(to_micros(T0), 88.3, None),)})
    hour = summary.Level.HOUR
    for name in ("humidity_pct", "co2_ppm", "dew_point_c"):
        found = book.summaries.within(["top", "low"], name, hour, ALL)
        assert found == plain.within(["top", "low"], name, hour, ALL)


def dump(folder: Path) -> str:
    """Return the newest schema, with something in every table, as SQL."""
    path = folder / "dumped.db"
    books = open_books(f"sqlite:///{path}", T0)
    with books.write() as book:
        fill(book)
    books.close()
    with closing(sqlite3.connect(path)) as connection:
        return "\n".join(connection.iterdump()) + "\n"


@pytest.mark.parametrize("source", [pytest.param(p, id=p.stem) for p in DUMPS.glob("*.sql")])
def test_a_database_of_any_version_still_holds_what_it_held(source: Path, tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(source.read_text(encoding="utf-8"))
    books = open_books(f"sqlite:///{path}", T0 + timedelta(days=1))
    with books.write() as book:
        look(book, int(source.stem))
    with books._writer.begin() as connection_now:
        steps = connection_now.exec_driver_sql("SELECT count(*) FROM migrations").scalar_one()
        assert connection_now.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
        assert connection_now.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    books.close()
    assert steps == len(STEPS)


def test_the_newest_schema_has_its_dump(tmp_path: Path) -> None:
    kept = (DUMPS / f"{len(STEPS)}.sql").read_text(encoding="utf-8")
    assert dump(tmp_path) == kept, "write it: python tests/storage/test_storage_dumps.py"


# ---------------------------------------------------------------- on a server


OF_SERVERS = DUMPS / "postgresql"
ON_SERVERS = sorted(OF_SERVERS.glob("*.sql"))


def dump_of(server: TestServer) -> str:
    """Return the same of a server."""
    with closing(open_books(server.emptied(), T0)) as books, books.write() as book:
        fill(book)
    said = server.dump()
    # What is a matter of the one who dumps, and not of what is kept.
    passing = ("--", "SET ", "\\", "CREATE SCHEMA", "SELECT pg_catalog.set_config")
    return "\n".join(s for s in said.splitlines() if s and not s.startswith(passing)) + "\n"


@needs_server
@pytest.mark.parametrize("source", [pytest.param(p, id=p.stem) for p in ON_SERVERS])
def test_a_server_of_any_version_still_holds_what_it_held(
    source: Path, server: TestServer
) -> None:
    server.emptied()
    server.run(source.read_text(encoding="utf-8"))
    with closing(open_books(server.url(), T0 + timedelta(days=1))) as books:
        with books.write() as book:
            look(book, int(source.stem))
        assert server.run("SELECT count(*) FROM migrations") == [(len(STEPS),)]
    stepped = server.shape()
    open_books(server.emptied(), T0).close()
    whole = server.shape()
    server.emptied()
    # The steps lead to the tables that the code works with; columns that came later lie last.
    assert stepped == whole


def test_the_newest_schema_of_servers_has_its_dump() -> None:
    newest = OF_SERVERS / f"{len(STEPS)}.sql"
    assert newest in ON_SERVERS, "write it: python tests/storage/test_storage_dumps.py"


if __name__ == "__main__":
    with TemporaryDirectory() as made:
        newest = DUMPS / f"{len(STEPS)}.sql"
        newest.write_text(dump(Path(made)), encoding="utf-8")
        print(f"Wrote {newest}.")
    if PROGRAMS is None:
        sys.exit("PostgreSQL is not installed, so its dump was not written.")
    with database_server() as started:
        newest = OF_SERVERS / f"{len(STEPS)}.sql"
        newest.write_text(dump_of(started), encoding="utf-8")
        print(f"Wrote {newest}.")
