"""Old readings go a few at a time; what they came to stays, and a doubtful clock drops nothing."""

import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.review.reckoning import Held
from chamberwatch.core.review.summary import Rules
from chamberwatch.core.thinning import FIRST, STEADY_FOR
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.checked import ByHand
from chamberwatch.core.watch.reading import Quantity, Reading, Undated
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service import thinning as room
from chamberwatch.service.board import Board
from chamberwatch.service.books import OutRow, OutState, Span
from chamberwatch.service.calibrating import Again, Calibrating, Told
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.service.thinned_books import ThinnedBook
from chamberwatch.service.thinning import NOT_YET, STEADY, UNTRUSTED, Thinned, Thinning
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import NOON, TENT

RH, T = Quantity.HUMIDITY, Quantity.TEMPERATURE
DAY = timedelta(days=1)
KEEP = 3 * DAY
DAYS = 6
"""Days of readings, every five minutes; more than two are old."""
A_DAY = 288
HOUSE = House({"tent": TENT}, {"top": Sensor("top", "tent", quantities=(RH, T))})


@dataclass
class Kit:
    """A database of some days, all summed up, and what drops of it."""

    books: SqlBooks
    clock: HandClock = field(default_factory=HandClock)
    stopping: threading.Event = field(default_factory=threading.Event)

    def fill(self, days: int = DAYS) -> None:
        start = self.clock.wall - days * DAY
        with self.books.write() as book:
            book.readings.add(
                Reading(start + n * timedelta(minutes=5), "top", quantity, 80.0 + n % 13)
                for n in range(days * A_DAY)
                for quantity in (RH, T)
            )

    def sum_up(self) -> None:
        summing = SummingUp(self.books, self.clock, BandsThen(HOUSE, SpeciesTable({}, {})))
        while summing.look():
            pass

    def thinning(self) -> Thinning:
        return Thinning(self.books, self.clock, KEEP)

    def trust(self) -> None:
        """Let the clock have been seen for a week of nights."""
        since = self.clock.wall - STEADY_FOR
        with self.books.write() as book:
            book.kept.keep_text(
                STEADY, f'["{since.isoformat()}", "{(self.clock.wall - DAY).isoformat()}"]'
            )

    def night(self) -> Thinned:
        self.trust()
        return self.thinning().night(self.stopping)

    def rows(self, question: str) -> list[tuple[object, ...]]:
        with self.books._reader.begin() as connection:
            return [tuple(row) for row in connection.exec_driver_sql(question)]

    def summaries(self) -> list[tuple[object, ...]]:
        return self.rows("SELECT * FROM summaries ORDER BY 1, 2, 3, 4")

    def times(self) -> list[datetime]:
        with self.books.read() as book:
            page = book.readings.page(
                None, Span(NOON - 999 * DAY, NOON + 9999 * DAY), None, 99_999
            )
        return [reading.time for reading in page]

    def count(self) -> int:
        with self.books.read() as book:
            counted = book.readings.count()
        assert counted == len(self.times())
        return counted


@pytest.fixture
def bare(tmp_path: Path) -> Iterator[Kit]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield Kit(books)
    books.close()


@pytest.fixture(scope="module")
def summed_up(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("summed") / "cw.db"
    made = Kit(open_books(f"sqlite:///{path}", NOON))
    made.fill()
    made.sum_up()
    made.books.close()
    return path


@pytest.fixture
def kit(summed_up: Path, tmp_path: Path) -> Iterator[Kit]:
    shutil.copy(summed_up, tmp_path / "kit.db")
    books = open_books(f"sqlite:///{tmp_path / 'kit.db'}", NOON)
    yield Kit(books)
    books.close()


OLD_BEFORE = (NOON - KEEP).replace(hour=0)


def test_old_readings_go_and_what_they_came_to_stays(kit: Kit) -> None:
    before, count = kit.summaries(), kit.count()
    said = kit.night()
    assert said.before == OLD_BEFORE
    assert said.whole
    assert (said.waits, said.others) == ("", 0)
    assert kit.summaries() == before
    assert kit.count() == count - said.readings
    # Two minutes before the day are left for what is reckoned of its first minutes.
    assert min(kit.times()) == OLD_BEFORE
    assert said.readings == 2 * A_DAY * DAYS - len(kit.times()) == 5 * A_DAY
    # And the newest are found as ever.
    with kit.books.read() as book:
        assert book.readings.newest()["top", RH].time == max(kit.times())


def test_another_night_drops_the_day_that_has_become_old(kit: Kit) -> None:
    kit.night()
    kit.clock.turn(minutes=24 * 60)
    with kit.books.write() as book:
        book.readings.add([Reading(kit.clock.wall, "top", RH, 81.0)])
    kit.sum_up()
    before = kit.summaries()
    assert kit.night().readings == 2 * A_DAY
    assert kit.night().readings == 0
    assert kit.summaries() == before


def test_summaries_stay_whatever_is_told_later_of_thinned_days(kit: Kit) -> None:
    kit.night()
    day = round(OLD_BEFORE.timestamp())
    gone = f"SELECT * FROM summaries WHERE start_s < {day}"  # noqa: S608 - a number of ours
    before = kit.rows(gone)
    calibrating = Calibrating(kit.books, kit.clock, HOUSE, Board(0.0), Corrector(HOUSE))
    calibrating.record(Told("top", ByHand(RH, 1.0, 5.0), "Ann", NOON - 5 * DAY, "test"))
    done = calibrating.recalibrate(Again("top"), lambda _: None)
    assert done.gone_before == OLD_BEFORE
    assert done.changed == done.looked / 2 == 3.5 * A_DAY
    assert calibrating.recalibrate(Again(since=OLD_BEFORE), lambda _: None).gone_before is None
    with kit.books.write() as book:
        book.summing.follow(Rules({("top", "humidity_pct"): (Held(0, 99.0, None),)}, 9e4))
    kit.sum_up()
    assert kit.rows(gone) == before
    # What is still there is counted anew.
    most = "SELECT start_s, most FROM summaries WHERE length_s = 86400 AND quantity = 2"
    assert (day, 97.0) in kit.rows(most)


def test_what_comes_late_is_added_once_and_goes_the_next_night(kit: Kit) -> None:
    kit.night()
    # Of a day that was dropped, and of long before anything was ever heard.
    late = [Reading(NOON - n * DAY, "top", RH, 10.0) for n in (4, 300)]
    with kit.books.write() as book:
        assert book.readings.add(late) == 2
        assert book.readings.add(late) == 0
    kit.sum_up()
    least = "SELECT start_s, number, least FROM summaries WHERE length_s = 86400 AND least = 10.0"
    expected = [
        (round((NOON - n * DAY).replace(hour=0).timestamp()), number, 10.0)
        for n, number in ((300, 1), (4, A_DAY + 1))
    ]
    assert kit.rows(f"{least} AND quantity = 2 ORDER BY 1") == expected
    assert kit.night().readings == 2
    kit.sum_up()
    assert kit.rows(f"{least} AND quantity = 2 ORDER BY 1") == expected
    assert min(kit.times()) == OLD_BEFORE


# ---------------------------------------------------------------- what is not summed up


def test_nothing_goes_before_it_is_summed_up(bare: Kit) -> None:
    bare.fill()
    assert bare.night().readings == 0
    summing = SummingUp(bare.books, bare.clock, BandsThen(HOUSE, SpeciesTable({}, {})))
    for _ in range(3):  # a day a round, the newest first
        summing.look()
    assert bare.night().readings == 0
    bare.sum_up()
    assert bare.night().readings > 0


def test_a_day_that_is_to_be_reckoned_anew_stays_and_those_after_it(kit: Kit) -> None:
    with kit.books.write() as book:
        book.readings.add([Reading(NOON - 4.2 * DAY, "top", RH, 12.5)])
    said = kit.night()
    assert min(kit.times()) == (NOON - 4.2 * DAY).replace(hour=0, minute=0)
    kit.sum_up()
    assert kit.night().readings > 0
    assert said.whole
    assert min(kit.times()) == OLD_BEFORE


# ---------------------------------------------------------------- the clock


def doubtful(kit: Kit) -> None:
    kit.clock.synced = False


def years_ahead(kit: Kit) -> None:
    kit.clock.wall += 3650 * DAY
    with kit.books.write() as book:
        book.readings.add([Reading(kit.clock.wall, "top", RH, 80.0)])


def at_1970(kit: Kit) -> None:
    kit.clock.wall = datetime(1970, 1, 1, 0, 10, tzinfo=UTC)


def hours_back(kit: Kit) -> None:
    kit.clock.wall -= timedelta(hours=30)


@pytest.mark.parametrize(
    ("wrong", "waits"),
    [
        pytest.param(doubtful, UNTRUSTED, id="nobody vouches for it"),
        pytest.param(years_ahead, NOT_YET, id="set years ahead"),
        pytest.param(at_1970, "", id="a dead battery, believed all the same"),
        pytest.param(hours_back, NOT_YET, id="set back"),
    ],
)
def test_a_wrong_clock_drops_nothing(kit: Kit, wrong: Callable[[Kit], None], waits: str) -> None:
    kit.trust()
    wrong(kit)
    count = kit.count()
    said = kit.thinning().night(kit.stopping)
    assert (said.readings, said.waits) == (0, waits)
    assert kit.count() == count


def test_a_house_that_fell_silent_keeps_what_was_heard_last(kit: Kit) -> None:
    kit.clock.wall += 400 * DAY
    said = kit.night()
    assert said.before == OLD_BEFORE
    assert min(kit.times()) == OLD_BEFORE
    assert kit.night().readings == 0


def test_a_reading_from_the_future_does_not_make_the_present_old(kit: Kit) -> None:
    with kit.books.write() as book:
        book.readings.add([Reading(NOON + 3650 * DAY, "top", RH, 80.0)])
    assert kit.night().before == OLD_BEFORE
    assert min(kit.times()) == OLD_BEFORE


def test_the_clock_is_seen_night_by_night(kit: Kit) -> None:
    count = kit.count()
    for _ in range(7):
        assert kit.thinning().night(kit.stopping).waits == NOT_YET
        kit.clock.turn(minutes=24 * 60)
    assert kit.count() == count
    assert kit.thinning().night(kit.stopping).readings > 0


def test_what_was_kept_of_the_clock_and_cannot_be_read_counts_for_nothing(kit: Kit) -> None:
    for text in ("", "7", "[]", '["yesterday", "today"]'):
        with kit.books.write() as book:
            book.kept.keep_text(STEADY, text)
        assert kit.thinning().night(kit.stopping).waits == NOT_YET


def test_nothing_was_ever_heard(bare: Kit) -> None:
    assert bare.night() == Thinned(longest_s=0.0)
    bare.clock.synced = False
    assert bare.night() == Thinned()


# ---------------------------------------------------------------- in short transactions


@dataclass
class Slow:
    """Books on a slow card: each transaction takes some time for each row it drops."""

    kit: Kit
    per_row_s: float
    stop_after: int = 10**9
    took_s: list[float] = field(default_factory=list)
    full: bool = False

    def _number(self) -> int:
        ((number,),) = self.kit.rows("SELECT count(*) FROM readings")
        assert isinstance(number, int)
        return number

    @contextmanager
    def write(self) -> Iterator[ThinnedBook]:
        if self.full:
            raise StorageError("The disk is full; make room.")
        before = self._number()
        with self.kit.books.write() as book:
            yield book
        took_s = (before - self._number()) * self.per_row_s
        self.kit.clock.turn(seconds=took_s)
        if took_s:
            self.took_s.append(took_s)
        if len(self.took_s) >= self.stop_after:
            self.kit.stopping.set()

    @contextmanager
    def read(self) -> Iterator[ThinnedBook]:
        with self.kit.books.read() as book:
            yield book


@pytest.mark.parametrize(
    ("per_row_s", "longest_s"),
    [
        pytest.param(1e-6, 0.05, id="a quick disk"),
        pytest.param(2e-4, 0.11, id="a slow card"),
        pytest.param(1e-3, 0.51, id="a card that is dying"),
    ],
)
def test_no_transaction_is_long_and_others_have_their_time(
    kit: Kit, per_row_s: float, longest_s: float
) -> None:
    kit.trust()
    slow = Slow(kit, per_row_s)
    began_s = kit.clock.elapsed_s
    said = Thinning(slow, kit.clock, KEEP).night(kit.stopping)
    assert min(kit.times()) == OLD_BEFORE
    # Only the first may be too long: it is not known yet how slow the card is.
    assert max(slow.took_s) == pytest.approx(said.longest_s)
    assert said.longest_s <= longest_s
    assert all(took_s <= max(0.06, longest_s / 2) for took_s in slow.took_s[1:])
    assert sum(slow.took_s) < (kit.clock.elapsed_s - began_s) / 5


def test_stopped_in_the_middle_it_goes_on_the_next_night(kit: Kit) -> None:
    kit.trust()
    before, count = kit.summaries(), kit.count()
    said = Thinning(Slow(kit, 1e-3, stop_after=2), kit.clock, KEEP).night(kit.stopping)
    assert not said.whole
    assert said.readings == count - kit.count() == FIRST + FIRST // 2
    kit.stopping.clear()
    kit.sum_up()
    assert kit.summaries() == before
    assert kit.night().whole
    assert min(kit.times()) == OLD_BEFORE
    assert kit.summaries() == before


def test_stopped_at_once_it_drops_nothing(kit: Kit) -> None:
    count = kit.count()
    kit.stopping.set()
    assert not kit.night().whole
    assert kit.count() == count


def test_a_full_disk_is_told_and_nothing_is_lost(kit: Kit) -> None:
    count = kit.count()
    kit.trust()
    slow = Slow(kit, 0.0, full=True)
    with pytest.raises(StorageError, match="full"):
        Thinning(slow, kit.clock, KEEP).night(kit.stopping)
    assert kit.count() == count


def test_many_of_one_moment_go_together(bare: Kit) -> None:
    with bare.books.write() as book:
        book.readings.add(Reading(NOON - 4 * DAY, f"s{n}", RH, 80.0) for n in range(FIRST + 100))
        book.readings.add([Reading(NOON, "s0", RH, 80.0)])
    bare.sum_up()
    assert bare.night().readings == FIRST + 100
    assert bare.count() == 1


# ---------------------------------------------------------------- what else grows


MESSAGE = OutRow(
    0, 0, 0, "phone", "Tent", "Mist.", Priority.LOW, OutState.SENT, NOON, NOON
)  # fmt: skip


def test_settled_messages_and_used_links_go_after_their_time(bare: Kit) -> None:
    old = NOON - 370 * DAY
    with bare.books.write() as book:
        book.outbox.add(
            replace(MESSAGE, state=state, created=created)
            for created in (old, NOON - 360 * DAY)
            for state in OutState
        )
        for n, ago in enumerate((1.0, 6.0, 8.0, 400.0)):
            book.kept.use_link(f"link {n}", NOON - ago * DAY)
    said = bare.night()
    assert said.others == len(OutState) - 2 + 2
    assert bare.rows("SELECT state FROM outbox WHERE created < 1737000000000000 ORDER BY 1") == [
        ("sending",),
        ("waiting",),
    ]
    assert bare.rows("SELECT count(*) FROM outbox") == [(len(OutState) + 2,)]
    assert bare.rows("SELECT digest FROM used_links ORDER BY 1") == [("link 0",), ("link 1",)]


def test_values_that_can_never_be_dated_are_kept_up_to_a_number(
    bare: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "UNDATED_STAY", 600)
    with bare.books.write() as book:
        book.readings.add_undated(Undated("top", RH, 80.0, None, n) for n in range(1500))
        book.readings.add_undated(Undated("top", RH, 80.0, "boot-1", n) for n in range(7))
    assert bare.night().others == 900
    assert bare.rows("SELECT min(arrived_s) FROM undated WHERE boot IS NULL") == [(900.0,)]
    with bare.books.read() as book:
        assert book.readings.count_undated() == (7, 600)
    assert bare.night().others == 0
