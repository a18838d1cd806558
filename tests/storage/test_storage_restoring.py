"""A backup in the place of the database: whole or not at all, and what was there stays."""

import hashlib
import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, StorageError
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.backup_ports import Pace
from chamberwatch.storage.book import open_books
from chamberwatch.storage.migrations import STEPS
from chamberwatch.storage.restoring import Restored, look_into, restore
from tests.fakes import HandClock
from tests.storage.test_storage_backups import Kit
from tests.storage.test_storage_dumps import DUMPS, look

NIGHT = datetime(2026, 1, 20, 3, 10, tzinfo=UTC)
DAY = timedelta(days=1)
ASIDE = "chamberwatch.db.before-20260120-031000"


def nothing(_: str, __: float) -> None:
    """Be told nothing."""


class Home:
    """Where a database is, or will be."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.database = folder / "chamberwatch.db"
        self.stopping = threading.Event()

    def fill(self, number: int) -> None:
        with self.opened() as url:
            books = open_books(url, NIGHT)
            with books.write() as book:
                book.readings.add(
                    Reading(NIGHT - n * timedelta(seconds=1), "old", Quantity.CO2, 900.0)
                    for n in range(number)
                )
            books.close()

    @contextmanager
    def opened(self) -> Iterator[str]:
        yield f"sqlite:///{self.database}"

    def pace(self) -> Pace:
        return Pace(self.stopping, HandClock())

    def restore(self, file: Path) -> Restored:
        return restore(look_into(file, self.pace()), self.database, NIGHT, self.pace(), nothing)

    def names(self) -> list[str]:
        return sorted(path.name for path in self.database.parent.iterdir())

    def sensors(self, path: Path | None = None) -> list[str]:
        """Return whose readings there are, once for each reading."""
        books = open_books(f"sqlite:///{path or self.database}", NIGHT)
        with books.read() as book:
            assert book.readings.count() >= 0
            rows = book.readings._connection.exec_driver_sql(
                "SELECT s.sensor FROM readings r JOIN series s ON s.id = r.series"
            ).scalars()
            found = list(rows)
        books.close()
        return found


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path / "home")


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    """Return a backup of seven readings of “top” and a photo."""
    (tmp_path / "other").mkdir()
    kit = Kit(tmp_path / "other")
    kit.add(0, 7)
    kit.photograph()
    kit.place.begin()
    made = kit.make(toml="[site]\n")
    kit.books.close()
    return made.file


def test_where_nothing_was(home: Home, backup: Path) -> None:
    done = home.restore(backup)
    assert (done.aside, done.steps, done.photos, done.lost_photos) == (None, (), 1, 0)
    assert (done.seen.rows["readings"], done.seen.newest) == (7, NIGHT)
    assert home.names() == ["chamberwatch.db", "photos"]
    assert home.database.stat().st_mode & 0o77 == 0
    assert home.sensors() == ["top"] * 7
    photos = home.database.parent / "photos"
    (picture,) = (p for p in photos.iterdir() if "small" not in p.name)
    assert hashlib.sha256(picture.read_bytes()).hexdigest() == picture.stem


def test_what_was_there_stays_aside(home: Home, backup: Path) -> None:
    home.fill(3)
    (home.database.parent / "photos").mkdir()
    (home.database.parent / "photos" / "mine.jpg").write_bytes(b"mine")
    done = home.restore(backup)
    assert done.aside == home.database.with_name(ASIDE)
    assert home.sensors() == ["top"] * 7
    assert home.sensors(done.aside) == ["old"] * 3
    # Photos are named by what they hold: those of before stay for what was put aside.
    assert (home.database.parent / "photos" / "mine.jpg").read_bytes() == b"mine"
    with pytest.raises(StorageError, match="exists"):
        home.restore(backup)
    assert home.sensors() == ["top"] * 7


def crashed(home: Home, number: int) -> None:
    """Leave a database as a kill does: part of it lies in the log beside it."""
    origin = home.database.with_name("origin.db")
    books = open_books(f"sqlite:///{origin}", NIGHT)
    with books.write() as book:
        book.readings.add(
            Reading(NIGHT - n * timedelta(seconds=1), "old", Quantity.CO2, 900.0)
            for n in range(number)
        )
    for ending in ("", "-wal"):
        shutil.copy(f"{origin}{ending}", f"{home.database}{ending}")
    books.close()
    origin.unlink()


def test_what_lay_in_the_log_of_a_killed_daemon_stays_too(home: Home, backup: Path) -> None:
    crashed(home, 400)
    done = home.restore(backup)
    assert home.sensors() == ["top"] * 7
    assert home.sensors(done.aside) == ["old"] * 400


def test_a_database_that_is_damaged_is_put_aside_as_it_is(home: Home, backup: Path) -> None:
    damaged = b"no database at all, for the card has died" * 99
    home.database.write_bytes(damaged)
    done = home.restore(backup)
    assert home.sensors() == ["top"] * 7
    assert done.aside is not None
    assert done.aside.read_bytes() == damaged


def test_a_damaged_one_is_put_aside_with_what_its_log_can_mend(home: Home, backup: Path) -> None:
    crashed(home, 400)
    home.database.write_bytes(b"no database at all, for the card has died" * 99)
    done = home.restore(backup)
    assert home.sensors() == ["top"] * 7
    assert home.sensors(done.aside) == ["old"] * 400


def test_a_log_without_its_database_does_not_spoil_the_new_one(home: Home, backup: Path) -> None:
    crashed(home, 400)
    home.database.unlink()
    assert home.restore(backup).aside is None
    assert home.sensors() == ["top"] * 7


def test_not_beneath_a_program_that_has_it_open(home: Home, backup: Path) -> None:
    home.fill(3)
    with closing(sqlite3.connect(home.database)) as other:
        other.execute("SELECT count(*) FROM readings").fetchone()
        with pytest.raises(StorageError, match="is open in another program"):
            home.restore(backup)
    assert home.sensors() == ["old"] * 3
    assert ASIDE not in home.names()


# ---------------------------------------------------------------- from any version


@pytest.mark.parametrize("version", range(1, len(STEPS) + 1))
def test_a_backup_of_every_version(home: Home, tmp_path: Path, version: int) -> None:
    old = tmp_path / f"version {version}.db"
    with closing(sqlite3.connect(old)) as connection:
        connection.executescript((DUMPS / f"{version}.sql").read_text(encoding="utf-8"))
    before = old.read_bytes()
    done = home.restore(old)
    assert len(done.steps) == done.seen.steps_missing == len(STEPS) - version
    books = open_books(f"sqlite:///{home.database}", NIGHT)
    with books.write() as book:
        look(book, version)
    books.close()
    assert old.read_bytes() == before


def changed(file: Path, statement: str) -> None:
    with closing(sqlite3.connect(file)) as connection:
        connection.execute(statement)
        connection.commit()


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("INSERT INTO migrations VALUES ('next year', 1)", "written by a newer chamberwatch"),
        ("DROP TABLE migrations", "holds nothing of chamberwatch's"),
        ("INSERT INTO readings VALUES (1, 77, 1.0, 1, NULL)", "damaged or not whole"),
    ],
)
def test_a_backup_that_is_none_changes_nothing(
    home: Home, backup: Path, statement: str, said: str
) -> None:
    home.fill(3)
    before = home.names()
    changed(backup, statement)
    with pytest.raises(StorageError, match=said):
        home.restore(backup)
    assert home.names() == before
    assert home.sensors() == ["old"] * 3


def test_other_files_are_refused(home: Home, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="There is no file"):
        home.restore(tmp_path / "none.db")
    (tmp_path / "empty.db").touch()
    with pytest.raises(StorageError, match="holds nothing"):
        home.restore(tmp_path / "empty.db")
    (tmp_path / "text.db").write_text("to whom it may concern " * 99)
    with pytest.raises(StorageError, match="is no backup"):
        home.restore(tmp_path / "text.db")
    crashed(home, 9)
    with pytest.raises(StorageError, match="it is a database in use and no backup"):
        home.restore(home.database)


# ---------------------------------------------------------------- broken off


@pytest.mark.parametrize(
    "at",
    ["touch", "hardlink_to", "replace", "fsync"],
)
def test_whatever_fails_there_is_the_one_or_the_other(
    home: Home, backup: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    home.fill(3)
    seen = look_into(backup, home.pace())
    with monkeypatch.context() as broken:

        def fails(*_: object, **__: object) -> None:
            raise OSError(5, "Input/output error")

        if at == "fsync":
            broken.setattr("os.fsync", fails)
        else:
            broken.setattr(Path, at, fails)
        if at == "hardlink_to":
            broken.setattr("shutil.copy2", fails)
        with pytest.raises(StorageError, match="Input/output error"):
            restore(seen, home.database, NIGHT, home.pace(), nothing)
    assert home.sensors() == ["old"] * 3
    # What a broken-off one left keeps no later one off.
    later = restore(seen, home.database, NIGHT + DAY, home.pace(), nothing)
    assert home.sensors(later.aside) == ["old"] * 3
    assert home.sensors() == ["top"] * 7


def test_a_disk_without_second_names_keeps_a_copy(
    home: Home, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home.fill(3)

    def none(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", none)
    done = home.restore(backup)
    assert home.sensors(done.aside) == ["old"] * 3
    assert home.sensors() == ["top"] * 7


@pytest.mark.parametrize("during", ["copy", "looking it through"])
def test_told_to_stop_it_changes_nothing(home: Home, backup: Path, during: str) -> None:
    home.fill(3)
    before = home.names()
    changed(backup, "CREATE TABLE large AS SELECT zeroblob(3000000) AS filler")
    seen = look_into(backup, home.pace())

    def stop(what: str, _: float) -> None:
        if what == during:
            home.stopping.set()

    with pytest.raises(RefusedError, match="Broken off"):
        restore(seen, home.database, NIGHT, home.pace(), stop)
    assert home.names() == before
    assert home.sensors() == ["old"] * 3


def test_a_copy_that_lacks_rows_is_not_put_in_place(home: Home, backup: Path) -> None:
    home.fill(3)
    seen = look_into(backup, home.pace())
    changed(backup, "DELETE FROM readings WHERE time = (SELECT max(time) FROM readings)")
    with pytest.raises(StorageError, match="does not hold what it should"):
        restore(seen, home.database, NIGHT, home.pace(), nothing)
    assert home.sensors() == ["old"] * 3


def test_too_little_room_is_said_first(
    home: Home, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chamberwatch.storage.restoring.ROOM_BEYOND_BYTES", 10**18)
    with pytest.raises(StorageError, match=r"beside what is there\. Make room"):
        home.restore(backup)
    assert home.names() == []


def test_photos_that_the_backup_lacks_are_counted(home: Home, backup: Path) -> None:
    shutil.rmtree(backup.parent / "photos")
    done = home.restore(backup)
    assert (done.photos, done.lost_photos) == (1, 1)
