"""Backups at night: what goes wrong is said once, kept, and harms nobody."""

import json
import logging
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

import pytest

from chamberwatch.core.backups import BackupStand, Stay
from chamberwatch.core.errors import RefusedError, StorageError
from chamberwatch.service.backing_up import (
    FAULT,
    LAST,
    TROUBLE,
    BackingUp,
    last_backup,
    stand,
)
from chamberwatch.service.backup_ports import SHORTEST_REST_S, Made, Pace, Progress, Rotated
from chamberwatch.service.books import Books
from chamberwatch.service.thinning import Thinned, Thinning
from chamberwatch.service.upkeep import LAST_NIGHT, ThinningStand, Upkeep, thinning_stand
from chamberwatch.service.whose import HOUSE
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import FullDisk, HandClock
from tests.make import NOON

FILE = Path("/mnt/stick/chamberwatch-20260120-120000.db")
STAY = Stay(3, 4, 3)
DAY = 24 * 60


@dataclass
class Stick:
    """A place for backups that can be pulled out."""

    folder: Path = Path("/mnt/stick")
    trouble: Exception | None = None
    lost: int = 0
    gone: Sequence[str] = ()
    away: Exception | None = None
    books: SqlBooks | None = None
    made: list[Mapping[str, str]] = field(default_factory=list)
    signed: list[bool] = field(default_factory=list)
    patience_s: list[float] = field(default_factory=list)
    held: bool = False
    rotated: list[Stay] = field(default_factory=list)

    @contextmanager
    def alone(self, pace: Pace, patience_s: float) -> Iterator[None]:
        self.patience_s.append(patience_s)
        self.held = True
        yield
        self.held = False

    def make(
        self,
        now: datetime,
        beside: Mapping[str, str],
        pace: Pace,
        progress: Progress,
    ) -> Made:
        assert self.held
        if self.books is not None:
            with self.books.read() as book:
                self.signed.append(book.kept.text(HOUSE) is not None)
        if self.trouble is not None:
            raise self.trouble
        pace.check()
        progress("database", 1.0)
        self.made.append(beside)
        return Made(FILE, now, 23_000_000, 525_460, 3, self.lost)

    def rotate(self, stay: Stay, zone: tzinfo, made: Made) -> Rotated:
        assert made.file == FILE
        assert zone is UTC
        self.rotated.append(stay)
        assert self.held
        if self.away is not None:
            raise self.away
        return Rotated(tuple(self.gone))


@dataclass
class Kit:
    """What a night works with."""

    books: SqlBooks
    clock: HandClock = field(default_factory=HandClock)
    stick: Stick = field(default_factory=Stick)
    stopping: threading.Event = field(default_factory=threading.Event)

    def backing_up(self, stay: Stay | None = STAY, books: Books | None = None) -> BackingUp:
        return BackingUp(
            books or self.books, self.clock, self.stick, stay, UTC, lambda: {".toml": "[site]"}
        )

    def night(self) -> None:
        self.backing_up().night(self.stopping)
        self.clock.turn(minutes=DAY)

    def stand(self) -> BackupStand:
        with self.books.read() as book:
            return last_backup(book)

    def keep(self, name: str, text: str) -> None:
        with self.books.write() as book:
            book.kept.keep_text(name, text)


@pytest.fixture
def kit(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> Iterator[Kit]:
    caplog.set_level(logging.INFO, "chamberwatch")
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield Kit(books)
    books.close()


def test_one_is_made_and_kept_in_mind(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    assert kit.stand() == BackupStand()
    kit.stick.gone = ["chamberwatch-20260101-031000.db"]
    kit.night()
    assert kit.stand() == BackupStand(str(FILE), NOON, 23_000_000)
    assert kit.stick.made == [{".toml": "[site]"}]
    assert kit.stick.rotated == [STAY]
    assert caplog.messages == [
        f"Backup made: {FILE}, 23 MB; gone: chamberwatch-20260101-031000.db"
    ]


def test_by_hand_elsewhere_all_stay(kit: Kit) -> None:
    told: list[str] = []
    made, went = kit.backing_up(None).make(kit.stopping, lambda what, _: told.append(what))
    assert (made.file, went, told) == (FILE, Rotated(), ["database"])
    assert not kit.stick.rotated


def test_lost_photos_are_told(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    kit.stick.lost = 2
    kit.night()
    assert "2 of 3 photos have no sound file" in caplog.text


def test_what_is_wrong_is_said_once_until_it_is_right_again(
    kit: Kit, caplog: pytest.LogCaptureFixture
) -> None:
    kit.night()
    kit.stick.trouble = StorageError("The stick is not there. Plug it in.")
    for _ in range(3):
        kit.night()
    since = NOON + timedelta(days=1)
    assert kit.stand() == BackupStand(
        str(FILE), NOON, 23_000_000, "The stick is not there. Plug it in.", since
    )
    kit.stick.trouble = StorageError("The stick is full. Make room.")
    kit.night()
    assert kit.stand().since == NOON + timedelta(days=4)
    kit.stick.trouble = None
    kit.night()
    assert kit.stand() == BackupStand(str(FILE), NOON + timedelta(days=5), 23_000_000)
    kit.stick.trouble = StorageError("The stick is full. Make room.")
    kit.night()
    full = "There is no backup of tonight. The stick is full. Make room."
    assert [text for text in caplog.messages if not text.startswith("Backup made")] == [
        "There is no backup of tonight. The stick is not there. Plug it in.",
        full,
        full,
    ]


def test_a_fault_of_ours_ends_nothing(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    kit.stick.trouble = ZeroDivisionError("never thought of")
    kit.night()
    kit.night()
    assert kit.stand().trouble == FAULT
    assert caplog.text.count("never thought of") == 1


def test_broken_off_is_no_trouble(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    kit.stopping.set()
    kit.night()
    assert kit.stand() == BackupStand()
    assert caplog.messages == ["The backup was broken off; the next one is made tomorrow night."]
    with pytest.raises(RefusedError, match="Broken off"):
        kit.backing_up().make(kit.stopping)


def test_a_copy_says_whose_it_is(kit: Kit) -> None:
    kit.stick.books = kit.books
    kit.night()
    kit.night()
    assert kit.stick.signed == [True, True]


def test_only_the_night_waits_for_others(kit: Kit) -> None:
    kit.night()
    kit.backing_up().make(kit.stopping)
    assert kit.stick.patience_s == [2 * 3600.0, 0.0]


def test_that_old_ones_stay_makes_the_new_one_no_worse(
    kit: Kit, caplog: pytest.LogCaptureFixture
) -> None:
    kit.stick.away = StorageError("It can't be written. Look at it.")
    kit.night()
    assert kit.stand() == BackupStand(str(FILE), NOON, 23_000_000)
    assert caplog.messages == [
        f"Backup made: {FILE}, 23 MB",
        "Old backups could not be taken away. It can't be written. Look at it.",
    ]


def test_one_that_cannot_be_noted_is_there_all_the_same(
    kit: Kit, caplog: pytest.LogCaptureFixture
) -> None:
    kit.backing_up(books=FullDisk(kit.books, full=True)).night(kit.stopping)
    assert caplog.messages == [
        f"The backup {FILE} is there, but that could not be kept: The disk is full; make room.",
        f"Backup made: {FILE}, 23 MB",
    ]


def test_where_even_the_database_cannot_be_written(
    kit: Kit, caplog: pytest.LogCaptureFixture
) -> None:
    kit.stick.trouble = StorageError("The stick is full. Make room.")
    kit.backing_up(books=FullDisk(kit.books, full=True)).night(kit.stopping)
    assert caplog.messages == [
        "What is wrong with the backup could not be kept: The disk is full; make room.",
        "There is no backup of tonight. The stick is full. Make room.",
    ]


def test_where_the_database_cannot_even_be_read(kit: Kit) -> None:
    kit.books.close()
    kit.stick.trouble = StorageError("The stick is full. Make room.")
    kit.night()


@pytest.mark.parametrize("text", ["", "nonsense", "[]", "7"])
def test_what_was_kept_and_cannot_be_read_counts_for_nothing(kit: Kit, text: str) -> None:
    kit.keep(LAST, text)
    kit.keep(TROUBLE, text)
    with kit.books.read() as book:
        assert stand(book.kept) == BackupStand()


def test_a_rest_is_as_long_as_the_work() -> None:
    clock = HandClock()
    pace = Pace(threading.Event(), clock)
    began_s = clock.monotonic()
    clock.turn(seconds=3)
    assert pace.rest(began_s) == began_s + 6
    assert pace.rest(clock.monotonic()) == began_s + 6 + SHORTEST_REST_S


# ---------------------------------------------------------------- the night as a whole


@dataclass(slots=True)
class Scripted(Thinning):
    """Thinning whose outcome the test says."""

    outcome: Callable[[], Thinned] = Thinned

    def night(self, stopping: threading.Event) -> Thinned:
        del stopping
        return self.outcome()


def upkeep(kit: Kit, outcome: Callable[[], Thinned], *, backs_up: bool = True) -> Upkeep:
    thinning = Scripted(kit.books, kit.clock, timedelta(days=30), outcome)
    return Upkeep(kit.books, kit.clock, thinning, kit.backing_up() if backs_up else None)


def raising(error: Exception) -> Callable[[], Thinned]:
    def fail() -> Thinned:
        raise error

    return fail


def test_a_night(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    assert thinning_stand(kit.books) == ThinningStand()
    upkeep(kit, lambda: Thinned(138_240, 3, NOON, "", 0.0412)).night(kit.stopping)
    assert thinning_stand(kit.books) == ThinningStand(NOON.isoformat(), 138_240, 41)
    assert len(kit.stick.made) == 1
    (said,) = caplog.messages[1:]
    assert said == (
        "138240 readings older than 2026-01-20 went; what they came to stays. The database was "
        "held for 41 ms at the longest."
    )


def test_why_readings_stay_is_said_once(kit: Kit, caplog: pytest.LogCaptureFixture) -> None:
    night = upkeep(kit, lambda: Thinned(waits="Old readings stay."), backs_up=False)
    for _ in range(3):
        night.night(kit.stopping)
    assert caplog.messages == ["Old readings stay."]
    assert thinning_stand(kit.books).waits == "Old readings stay."


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (StorageError("The disk is full."), "it is tried the next night. The disk is full."),
        (ZeroDivisionError("never thought of"), "failed; it is tried the next night."),
    ],
)
def test_what_fails_ends_nothing(
    kit: Kit, caplog: pytest.LogCaptureFixture, error: Exception, said: str
) -> None:
    upkeep(kit, raising(error)).night(kit.stopping)
    assert said in caplog.text
    assert len(kit.stick.made) == 1


def test_readings_go_though_there_is_no_backup(kit: Kit) -> None:
    kit.stick.trouble = StorageError("The stick is full. Make room.")
    upkeep(kit, lambda: Thinned(7, 0, NOON)).night(kit.stopping)
    assert thinning_stand(kit.books).readings == 7


def test_stopped_in_between_the_rest_waits_for_the_next_night(kit: Kit) -> None:
    kit.stopping.set()
    upkeep(kit, raising(AssertionError("not now"))).night(kit.stopping)
    assert thinning_stand(kit.books) == ThinningStand()


@pytest.mark.parametrize("text", ["", "nonsense", json.dumps({"more": 1}), "7"])
def test_a_night_that_was_kept_and_cannot_be_read(kit: Kit, text: str) -> None:
    kit.keep(LAST_NIGHT, text)
    assert thinning_stand(kit.books) == ThinningStand()


def test_a_machine_that_is_off_at_night_does_it_by_day(kit: Kit) -> None:
    night = upkeep(kit, lambda: Thinned(7, 0, NOON))
    night.if_missed(kit.stopping)  # never yet
    assert len(kit.stick.made) == 1
    for _ in range(25):
        kit.clock.turn(minutes=60)
        night.if_missed(kit.stopping)
    assert len(kit.stick.made) == 1
    kit.clock.turn(minutes=60)
    # Another start: what is known lies in the book.
    night = upkeep(kit, lambda: Thinned(7, 0, NOON))
    night.if_missed(kit.stopping)
    night.if_missed(kit.stopping)
    assert len(kit.stick.made) == 2
    assert thinning_stand(kit.books).at == kit.clock.wall.isoformat()


def test_what_fails_by_day_is_not_tried_each_hour(kit: Kit) -> None:
    tried: list[int] = []

    def fail() -> Thinned:
        tried.append(1)
        raise StorageError("The disk is full.")

    night = upkeep(kit, fail)
    for _ in range(26):
        night.if_missed(kit.stopping)
        kit.clock.turn(minutes=60)
    assert len(tried) == 1
    night.if_missed(kit.stopping)
    assert len(tried) == 2


def test_a_clock_set_back_makes_no_night(kit: Kit) -> None:
    upkeep(kit, lambda: Thinned(7, 0, NOON)).night(kit.stopping)
    kit.clock.wall -= timedelta(days=400)
    upkeep(kit, raising(AssertionError("not now"))).if_missed(kit.stopping)
    kit.keep(LAST_NIGHT, json.dumps({"at": "yesterday"}))
    upkeep(kit, raising(AssertionError("not now"))).if_missed(kit.stopping)
    assert len(kit.stick.made) == 1


def test_a_database_that_cannot_be_read_makes_no_night(kit: Kit) -> None:
    kit.books.close()
    upkeep(kit, raising(AssertionError("not now"))).if_missed(kit.stopping)
    assert not kit.stick.made


def test_a_night_that_lasts_is_not_begun_again(kit: Kit) -> None:
    def longer() -> Thinned:
        night.night(kit.stopping)
        return Thinned()

    night = upkeep(kit, longer)
    night.night(kit.stopping)
    night.night(kit.stopping)
    assert len(kit.stick.made) == 2
