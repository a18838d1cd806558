"""Backups: whole, looked through, and only where they belong."""

import errno
import fcntl
import hashlib
import os
import resource
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.backups import Stay
from chamberwatch.core.errors import RefusedError, StorageError
from chamberwatch.core.growing.photo import Photo
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.backup_ports import Made, Pace, Rotated
from chamberwatch.service.whose import house_of
from chamberwatch.storage.backup_folder import MARK, BackupFolder
from chamberwatch.storage.backup_photos import copy_photo
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.copying import look_through
from chamberwatch.storage.photo_files import PhotoFolder
from tests.fakes import HandClock
from tests.storage.test_storage_dumps import PICKED, STARTED

NIGHT = datetime(2026, 1, 20, 3, 10, tzinfo=UTC)
DAY = timedelta(days=1)
PICTURE, SMALL = b"\xff\xd8 a picture", b"\xff\xd8 small"
DIGEST = hashlib.sha256(PICTURE).hexdigest()


class Kit:
    """A database with readings and a photo, and a folder for backups."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.file = home / "cw.db"
        self.clock = HandClock(wall=NIGHT)
        self.stopping = threading.Event()
        self.books: SqlBooks = open_books(f"sqlite:///{self.file}", NIGHT)
        self.place = BackupFolder(home / "stick", self.file)
        self.told: list[tuple[str, float]] = []
        with self.books.write() as book:
            house_of(book.kept)

    def add(self, first: int, number: int) -> None:
        with self.books.write() as book:
            book.readings.add(
                Reading(NIGHT - timedelta(seconds=n), "top", Quantity.HUMIDITY, 80.0 + n % 9)
                for n in range(first, first + number)
            )

    def photograph(self, picture: bytes = PICTURE) -> str:
        digest = hashlib.sha256(picture).hexdigest()
        with self.books.write() as book:
            if not book.growing.all():
                book.growing.start(replace(STARTED, id=0, batch=0))
                book.growing.add(replace(PICKED, id=0))
            photo = book.photos.add(2, Photo(0, 0, digest, (9, 9), (3, 3), len(picture)))
        files = PhotoFolder(self.home / "photos")
        files.keep(f"{digest}.jpg", picture)
        files.keep(f"{digest}-small.jpg", SMALL)
        self.photo = photo.id
        return digest

    def forget_photo(self, number: int) -> None:
        with self.books.write() as book:
            book.photos.remove(number, NIGHT)

    def pace(self) -> Pace:
        return Pace(self.stopping, self.clock)

    def progress(self, what: str, share: float) -> None:
        self.told.append((what, share))

    def make(self, **beside: str) -> Made:
        with self.place.alone(self.pace(), 0.0):
            return self.place.make(
                self.clock.wall,
                {f".{k}": v for k, v in beside.items()},
                self.pace(),
                self.progress,
            )

    def rotate(self, made: Made) -> Rotated:
        """Let the newest alone stay."""
        return self.place.rotate(Stay(1, 0, 0), UTC, made)

    def files(self) -> list[str]:
        return sorted(
            str(path.relative_to(self.place.folder))
            for path in self.place.folder.rglob("*")
            if path.is_file() and path.name != MARK
        )


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    made = Kit(tmp_path)
    made.place.begin()
    yield made
    made.books.close()


def number(path: Path, question: str = "SELECT count(*) FROM readings") -> int:
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as file:
        return int(file.execute(question).fetchone()[0])


FIRST = "chamberwatch-20260120-031000"


def test_everything_is_in_it(kit: Kit) -> None:
    kit.add(0, 5000)
    kit.photograph()
    made = kit.make(toml="[site]\n")
    assert kit.files() == [
        f"{FIRST}.db",
        f"{FIRST}.toml",
        f"photos/{DIGEST}-small.jpg",
        f"photos/{DIGEST}.jpg",
    ]
    assert made == Made(
        kit.place.folder / f"{FIRST}.db", NIGHT, made.file.stat().st_size, 5000, 1, 0
    )
    assert number(made.file) == 5000
    assert made.file.stat().st_mode & 0o77 == 0
    assert (kit.place.folder / f"{FIRST}.toml").read_text(encoding="utf-8") == "[site]\n"
    assert (kit.place.folder / "photos" / f"{DIGEST}.jpg").read_bytes() == PICTURE
    # One file: neither a log nor an index of one is needed to read it.
    with closing(sqlite3.connect(made.file)) as file:
        assert file.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    shares = [share for what, share in kit.told if what == "database"]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert kit.told[-1] == ("looking it through", 1.0)


def test_another_in_the_same_second_has_a_name_of_its_own(kit: Kit) -> None:
    assert {kit.make().file.name for _ in range(2)} == {
        f"{FIRST}.db",
        "chamberwatch-20260120-031001.db",
    }


def test_it_shows_one_moment_while_others_write(kit: Kit, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.storage.copying.PAGES_AT_ONCE", 8)
    kit.add(0, 20_000)
    steps: list[float] = []

    def written_meanwhile(what: str, share: float) -> None:
        if what == "database" and len(steps) < 40:
            steps.append(share)
            kit.add(20_000 + 100 * len(steps), 100)

    made = kit.place.make(NIGHT, {}, kit.pace(), written_meanwhile)
    assert made.readings == number(made.file) == 20_000
    # A copy that began anew with each write would go back to its beginning.
    assert steps == sorted(steps)
    assert len(steps) > 10
    with kit.books.read() as book:
        assert book.readings.count() == 20_000 + 100 * len(steps)


# ---------------------------------------------------------------- where they belong


def test_nothing_is_written_where_no_mark_is(tmp_path: Path) -> None:
    kit = Kit(tmp_path)
    with pytest.raises(StorageError, match=r"is not there\. Plug the stick in"):
        kit.make()
    kit.place.folder.mkdir()
    with pytest.raises(StorageError, match=r"not marked .* perhaps the stick is not plugged in"):
        kit.make()
    assert not kit.files()
    kit.place.begin()
    kit.place.begin()
    assert kit.make().file.exists()
    kit.books.close()


def test_a_disk_that_dies_is_told_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def dying(_: Path) -> bool:
        raise OSError(errno.EIO, "Input/output error")

    place = BackupFolder(tmp_path / "stick", tmp_path / "cw.db")
    monkeypatch.setattr(Path, "is_file", dying)
    assert "can be written" in place.trouble()
    assert "Input/output error" in place.trouble()


def test_a_folder_in_a_folder_that_is_not_there_is_not_begun(tmp_path: Path) -> None:
    place = BackupFolder(tmp_path / "media" / "stick", tmp_path / "cw.db")
    with pytest.raises(StorageError, match="No backup can be written"):
        place.begin()
    (tmp_path / "media").write_text("a file")
    with pytest.raises(StorageError, match="is not there"):
        place.make(NIGHT, {}, Pace(threading.Event(), HandClock()), lambda _, __: None)


def test_only_one_at_a_time(kit: Kit) -> None:
    with (kit.place.folder / MARK).open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(RefusedError, match="Another backup is being made"):
            kit.make()
    assert kit.make().file.exists()


@dataclass
class PatientClock(HandClock):
    """Lets the other backup be done after a while."""

    done: Callable[[], None] = lambda: None
    waited_s: float = 0.0

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.turn(seconds=seconds)
        self.waited_s += seconds
        if self.waited_s > 600:
            self.done()
        return event.is_set()


@pytest.mark.parametrize(
    ("patience_s", "waits"),
    [pytest.param(700.0, True, id="long enough"), pytest.param(500.0, False, id="not so long")],
)
def test_at_night_another_one_is_waited_for(kit: Kit, patience_s: float, waits: bool) -> None:
    with (kit.place.folder / MARK).open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        clock = PatientClock(wall=NIGHT, done=lambda: fcntl.flock(other, fcntl.LOCK_UN))
        waiting = kit.place.alone(Pace(kit.stopping, clock), patience_s)
        if waits:
            with waiting, pytest.raises(RefusedError, match="Wait until it is done"):
                kit.make()
        else:
            with pytest.raises(StorageError, match="give one of them another hour"), waiting:
                raise AssertionError("it was not waited for")
            assert patience_s <= clock.waited_s <= patience_s + 5


def test_who_waits_can_be_told_to_stop(kit: Kit) -> None:
    kit.stopping.set()
    with (kit.place.folder / MARK).open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(RefusedError, match="Broken off"), kit.place.alone(kit.pace(), 700.0):
            raise AssertionError("it was not waited for")


def test_a_folder_that_knows_no_locks(kit: Kit, monkeypatch: pytest.MonkeyPatch) -> None:
    def unlocked(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "flock", unlocked)
    with pytest.raises(StorageError, match="No locks available"):
        kit.make()


# ---------------------------------------------------------------- what goes wrong


@contextmanager
def no_file_larger_than(limit: int) -> Iterator[None]:
    """Let the kernel refuse to write more to any file, as a full disk or FAT32 does."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("limit", [0, 20_000, 500_000])
def test_a_full_stick_leaves_what_there_was(kit: Kit, limit: int) -> None:
    kit.add(0, 40_000)
    old = kit.make(toml="[site]\n")
    before = kit.files()
    kit.clock.wall += DAY
    with no_file_larger_than(limit), pytest.raises(StorageError, match="has it room"):
        kit.make(toml="[site]\n")
    assert kit.files() == before
    look_through(old.file, kit.pace())
    assert kit.make().readings == 40_000


def test_too_little_room_is_said_before_anything_is_written(
    kit: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chamberwatch.storage.backup_folder.ROOM_BEYOND_BYTES", 10**18)
    with pytest.raises(StorageError, match="MB free, and a backup needs 1000000"):
        kit.make()
    assert not kit.files()


def test_where_room_is_short_those_that_stay_for_ever_are_named(
    kit: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    kit.make()
    (kit.place.folder / "chamberwatch-20250101-031000.db").write_bytes(b"torn")
    monkeypatch.setattr("chamberwatch.storage.backup_folder.ROOM_BEYOND_BYTES", 10**18)
    with pytest.raises(StorageError, match="1 of the backups there are of another house"):
        kit.make()


def test_a_damaged_database_makes_no_backup(kit: Kit) -> None:
    kit.add(0, 20_000)
    kit.books.close()
    whole = kit.make()
    data = bytearray(kit.file.read_bytes())
    middle = len(data) // 8192 * 4096
    data[middle : middle + 4096] = b"\x55" * 4096
    kit.file.write_bytes(data)
    with pytest.raises(StorageError, match=r"damaged|malformed"):
        kit.make()
    assert kit.files() == [whole.file.name]
    kit.books = open_books(f"sqlite:///{kit.home / 'other.db'}", NIGHT)


def test_a_backup_that_was_damaged_since_is_seen(kit: Kit) -> None:
    kit.add(0, 20_000)
    made = kit.make()
    data = bytearray(made.file.read_bytes())
    data[-4096:] = b"\x55" * 4096
    made.file.write_bytes(data)
    with pytest.raises(StorageError, match=r"is damaged .* Take another backup"):
        look_through(made.file, kit.pace())
    made.file.write_bytes(b"no database, but long enough to be taken for one" * 99)
    with pytest.raises(StorageError, match="is not a database"):
        look_through(made.file, kit.pace())


def test_a_backup_that_does_not_fit_together_is_seen(kit: Kit) -> None:
    made = kit.make()
    with closing(sqlite3.connect(made.file)) as file:
        file.execute("INSERT INTO readings VALUES (1, 77, 80.0, 1, NULL)")
        file.commit()
    with pytest.raises(StorageError, match="does not fit together"):
        look_through(made.file, kit.pace())


def test_a_copy_that_lacks_rows_is_not_kept(kit: Kit, monkeypatch: pytest.MonkeyPatch) -> None:
    kit.add(0, 10)

    def fewer(path: Path, pace: Pace) -> dict[str, int]:
        return {**look_through(path, pace), "readings": 9}

    monkeypatch.setattr("chamberwatch.storage.backup_folder.look_through", fewer)
    with pytest.raises(StorageError, match=r"does not hold what the database does \(readings\)"):
        kit.make()
    assert not kit.files()


@pytest.mark.parametrize("during", ["database", "photos", "looking it through"])
def test_told_to_stop_it_leaves_nothing_and_the_next_is_whole(kit: Kit, during: str) -> None:
    kit.add(0, 60_000)
    for n in range(3):
        kit.photograph(PICTURE + bytes([n]))

    def stop(what: str, share: float) -> None:
        if what == during and share < 1:
            kit.stopping.set()

    with pytest.raises(RefusedError, match="Broken off"):
        kit.place.make(NIGHT, {}, kit.pace(), stop)
    assert not [name for name in kit.files() if not name.startswith("photos/")]
    kit.stopping.clear()
    assert (kit.make().readings, kit.make().photos) == (60_000, 3)


def test_what_a_power_cut_left_is_taken_away(kit: Kit) -> None:
    left = [f".{FIRST}.db.part", f".{FIRST}.db.part-journal", f"{FIRST}.toml", "photos/.x.part"]
    (kit.place.folder / "photos").mkdir()
    for name in left:
        (kit.place.folder / name).write_text("half")
    kit.clock.wall += DAY
    kit.make()
    assert kit.files() == ["chamberwatch-20260121-031000.db"]


# ---------------------------------------------------------------- photos


def test_a_photo_is_there_once_for_all_backups(kit: Kit) -> None:
    kit.photograph()
    kit.make()
    copied = kit.place.folder / "photos" / f"{DIGEST}.jpg"
    before = copied.stat().st_mtime_ns
    kit.clock.wall += DAY
    assert kit.make().photos == 1
    assert copied.stat().st_mtime_ns == before


def test_a_photo_without_a_sound_file_is_counted(kit: Kit) -> None:
    for name, data in ((f"{DIGEST}.jpg", b"something else"), (f"{DIGEST}-small.jpg", None)):
        kit.photograph()
        path = kit.home / "photos" / name
        path.unlink()
        if data is not None:
            path.write_bytes(data)
        kit.clock.wall += DAY
        made = kit.make()
        assert (made.photos, made.lost_photos) == (1, 1)
        for each in (kit.place.folder / "photos").glob("*"):
            each.unlink()


def test_a_photo_that_is_there_already_is_not_read_again(kit: Kit, tmp_path: Path) -> None:
    kit.photograph()
    assert copy_photo(DIGEST, kit.home / "photos", tmp_path / "p", kit.pace())
    assert copy_photo(DIGEST, tmp_path / "nowhere", tmp_path / "p", kit.pace())


# ---------------------------------------------------------------- which stay


def test_the_old_ones_go_with_all_that_is_theirs(kit: Kit) -> None:
    kit.photograph()
    first = kit.make(toml="a", **{"species.toml": "b"})
    kit.forget_photo(kit.photo)
    kit.clock.wall += DAY
    second = kit.make(toml="a")
    assert kit.place.rotate(Stay(2, 0, 0), UTC, second) == Rotated()
    assert len(kit.files()) == 7
    assert kit.rotate(second) == Rotated((first.file.name,))
    # The photo was taken away for good, and no backup that stays names it.
    assert kit.files() == [second.file.name, f"{second.file.stem}.toml"]


def test_the_one_just_made_stays_whatever_the_clock_says(kit: Kit) -> None:
    kit.clock.wall += 3650 * DAY
    ahead = kit.make()
    kit.clock.wall -= 3650 * DAY
    made = kit.make()
    assert kit.rotate(made) == Rotated()
    kit.clock.wall += DAY
    later = kit.make()
    assert kit.rotate(later) == Rotated((made.file.name,))
    assert [path for _, path in kit.place.all()] == [ahead.file, later.file]


def test_of_two_houses_each_takes_away_its_own(kit: Kit, tmp_path: Path) -> None:
    (tmp_path / "cabin").mkdir()
    cabin = Kit(tmp_path / "cabin")
    cabin.place = BackupFolder(kit.place.folder, cabin.file)
    cabin.photograph()
    foreign = cabin.make(toml="cabin")
    cabin.books.close()
    kit.photograph(PICTURE + b" of ours")
    old = kit.make()
    assert len(kit.files()) == 7
    kit.forget_photo(kit.photo)
    kit.clock.wall += DAY
    made = kit.make()
    assert kit.rotate(made) == Rotated((old.file.name,))
    assert kit.files() == sorted(
        [
            *(foreign.file.name, f"{foreign.file.stem}.toml", made.file.name),
            *(f"photos/{DIGEST}-small.jpg", f"photos/{DIGEST}.jpg"),
        ]
    )


def test_one_that_does_not_say_whose_it_is_stays(kit: Kit) -> None:
    with closing(sqlite3.connect(kit.file)) as file, file:
        file.execute("DELETE FROM texts")
    unsigned = kit.make()
    kit.clock.wall += DAY
    still_unsigned = kit.make()
    assert kit.rotate(still_unsigned) == Rotated()
    with kit.books.write() as book:
        house_of(book.kept)
    kit.clock.wall += DAY
    old = kit.make()
    kit.clock.wall += DAY
    made = kit.make()
    assert kit.rotate(made) == Rotated((old.file.name,))
    assert kit.files() == sorted(each.file.name for each in (unsigned, still_unsigned, made))


def test_while_one_cannot_be_read_no_photo_goes(kit: Kit) -> None:
    kit.photograph()
    torn = kit.make()
    kit.forget_photo(kit.photo)
    torn.file.write_bytes(b"torn")
    kit.clock.wall += DAY
    old = kit.make()
    kit.clock.wall += DAY
    made = kit.make()
    went = kit.rotate(made)
    assert went.gone == (old.file.name,)
    assert went.trouble.startswith(f"{torn.file} can't be read, so no photo was taken away")
    assert (kit.place.folder / "photos" / f"{DIGEST}.jpg").exists()
    assert torn.file.exists()


def test_files_of_others_are_left_alone(kit: Kit) -> None:
    names = ["holiday.jpg", "chamberwatch.db", "chamberwatch-old.db", "notes.toml"]
    for name in names:
        (kit.place.folder / name).write_text("mine")
    made = kit.make()
    kit.rotate(made)
    assert kit.files() == sorted([*names, made.file.name])


def test_the_folder_of_the_database_itself_is_refused(tmp_path: Path) -> None:
    place = BackupFolder(tmp_path / ".", tmp_path / "cw.db")
    with pytest.raises(StorageError, match="Name another folder"):
        place.begin()
    assert not (tmp_path / MARK).exists()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a file to somebody else")
def test_what_root_begins_belongs_to_whom_the_database_does(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    os.chown(home, 1234, 1234)
    place = BackupFolder(tmp_path / "stick", home / "cw.db")
    place.begin()
    assert {(each.stat().st_uid) for each in (place.folder, place.folder / MARK)} == {1234}
