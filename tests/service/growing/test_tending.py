"""Tasks as reminders: raised once, told by day in one message, over when they were done."""

import threading
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta

import pytest

from chamberwatch.core.day_words import SAID_IN_FULL, together
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.task import Task, TaskKind
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, State
from chamberwatch.core.wording import Message
from chamberwatch.service.books import Book
from chamberwatch.service.coming_back import come_back
from chamberwatch.service.growing.duties import TaskNow
from chamberwatch.service.growing.tending import CALL_OF, Tending
from chamberwatch.service.logbook import Logbook
from tests.make import at
from tests.service.machine import Bench


def task(kind: TaskKind, batch: int, chamber: str | None = "tent") -> TaskNow:
    made = Task(
        f"{kind.name.lower()}-{batch}",
        kind,
        batch,
        "grey-oyster",
        chamber,
        None,
        Window(at(-60), at(600)),
    )
    return TaskNow(made, f"Batch {batch}: {kind}", f"Do {kind}.", overdue=False)


@dataclass
class Day:
    """A list of a day, and a record that holds nothing."""

    listed: list[TaskNow] = field(default_factory=list)
    planned: int = 0

    def tasks(self) -> tuple[TaskNow, ...]:
        return tuple(self.listed)

    def renew(self) -> None:
        self.planned += 1

    def state(self) -> tuple[int, dict[int, Batch]]:
        return 0, {}


@dataclass
class Tended:
    bench: Bench
    day: Day
    tending: Tending

    def round(self, *listed: TaskNow) -> bool:
        self.day.listed = list(listed)
        tasks = self.tending.look()
        with self.bench.sql.write() as book:
            return self.tending.write(book, tasks, self.bench.clock.now())

    def titles(self) -> list[str]:
        return [row.title for row in self.bench.outbox()]


@pytest.fixture
def tended(bench: Bench) -> Tended:
    day = Day()
    tending = Tending(
        day,
        day,
        day,
        bench.standing,
        bench.house,
        bench.teller,
        bench.clock,
        UTC,
    )
    return Tended(bench, day, tending)


OPEN = task(TaskKind.OPEN, 14)
PICK = task(TaskKind.HARVEST, 9)


def test_every_task_has_a_call_of_its_own() -> None:
    assert set(CALL_OF) == set(TaskKind)
    assert set(CALL_OF.values()) == TASK_CALLS - {Call.TODAY}
    assert [CALL_OF[kind].value for kind in TaskKind] == [kind.value for kind in TaskKind]


def test_a_task_is_raised_and_told_once(tended: Tended) -> None:
    assert tended.round(OPEN)
    assert not tended.round(OPEN)
    assert tended.day.planned == 2
    reminder = tended.bench.reminder(Call.OPEN, "open-14")
    assert (reminder.state, reminder.priority) == (State.UNACKNOWLEDGED, Priority.LOW)
    assert tended.titles() == ["Batch 14: open"]


def test_everything_new_is_one_message(tended: Tended) -> None:
    tended.round(PICK, OPEN)
    assert tended.titles() == ["2 things the crop asks for today"]
    (row,) = tended.bench.outbox()
    assert row.body.splitlines() == [
        "Batch 9: harvest. Do harvest.",
        "Batch 14: open. Do open.",
    ]
    tended.round(PICK, OPEN, task(TaskKind.SOAK, 3))
    assert tended.titles() == ["Batch 3: soak", "2 things the crop asks for today"]


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        pytest.param(13 * 60, False, id="at one in the night"),
        pytest.param(19 * 60 + 29, False, id="a minute before the first visit"),
        pytest.param(19 * 60 + 30, True, id="at the first visit"),
        pytest.param(10 * 60, True, id="at the last visit"),
        pytest.param(10 * 60 + 1, False, id="after it"),
    ],
)
def test_nobody_is_woken_for_it(tended: Tended, minutes: int, told: bool) -> None:
    tended.bench.clock.turn(minutes=minutes)
    tended.round(OPEN)
    assert tended.bench.reminder(Call.OPEN, "open-14").active
    assert bool(tended.titles()) == told


def test_who_has_done_it_has_nothing_to_acknowledge(tended: Tended) -> None:
    tended.round(OPEN)
    assert tended.round()
    reminder = tended.bench.reminder(Call.OPEN, "open-14")
    assert (reminder.state, reminder.active) == (State.NORMAL, False)


def test_one_that_was_put_off_comes_back_by_day(tended: Tended) -> None:
    tended.round(OPEN)
    bench = tended.bench
    number = bench.reminder(Call.OPEN, "open-14").id
    logbook: Logbook = bench.logbook
    logbook.shelve(number, timedelta(hours=2), "page")
    tended.round(OPEN)
    assert tended.titles() == ["Batch 14: open"]
    bench.clock.turn(minutes=121)
    bench.rounds.look()
    tended.round(OPEN)
    assert tended.titles().count("Batch 14: open") == 2


def test_one_that_was_put_off_and_done_closes(tended: Tended) -> None:
    tended.round(OPEN)
    bench = tended.bench
    bench.logbook.shelve(bench.reminder(Call.OPEN, "open-14").id, timedelta(hours=2), "page")
    tended.round()
    bench.clock.turn(minutes=121)
    bench.rounds.look()
    assert bench.reminder(Call.OPEN, "open-14").state is State.NORMAL


def test_what_grows_outdoors_is_told_too(tended: Tended) -> None:
    tended.round(task(TaskKind.WATER, 20, chamber=None))
    assert tended.titles() == ["Batch 20: water"]
    assert tended.bench.reminder(Call.WATER, "water-20", chamber="").active


def test_todays_list_is_what_people_have_seen(tended: Tended) -> None:
    bench = tended.bench
    tended.round(OPEN, PICK)
    today = bench.reminder(Call.TODAY, "", chamber="")
    assert today.active
    bench.logbook.seen(today.id, today.episode, "link")
    assert not tended.round(OPEN, PICK)
    assert tended.round(OPEN)
    assert bench.reminder(Call.TODAY, "", chamber="").state is State.ACKNOWLEDGED
    assert tended.round()
    assert bench.reminder(Call.TODAY, "", chamber="").state is State.NORMAL


def test_a_message_stands_while_anything_of_it_is_to_do(tended: Tended) -> None:
    """Batch 14 was opened before the phone could be reached; batch 9 is still to be picked."""
    tended.round(OPEN, PICK)
    tended.round(PICK)
    tended.bench.delivery().deliver_due(threading.Event())
    assert [title for title, _ in tended.bench.phone.sent] == ["2 things the crop asks for today"]


def test_what_is_new_is_told_again_after_it_was_seen(tended: Tended) -> None:
    tended.round(OPEN)
    today = tended.bench.reminder(Call.TODAY, "", chamber="")
    tended.bench.logbook.seen(today.id, today.episode, "link")
    tended.round(OPEN, PICK)
    assert tended.titles() == ["Batch 9: harvest", "Batch 14: open"]
    assert tended.bench.reminder(Call.TODAY, "", chamber="").state is State.UNACKNOWLEDGED


def test_a_list_that_was_put_off_comes_back_whole(tended: Tended) -> None:
    tended.round(OPEN, PICK)
    bench = tended.bench
    bench.logbook.shelve(bench.reminder(Call.TODAY, "", chamber="").id, timedelta(hours=2), "page")
    tended.round(OPEN, PICK)
    bench.clock.turn(minutes=121)
    with bench.sql.write() as book:
        come_back(bench.teller, book, bench.clock.now())
    tended.round(OPEN, PICK)
    assert tended.titles() == ["2 things the crop asks for today"] * 2


@pytest.mark.parametrize("seen", [pytest.param(True, id="seen"), pytest.param(False, id="told")])
def test_a_batch_that_was_moved_is_not_told_again(tended: Tended, seen: bool) -> None:
    tended.round(OPEN)
    bench = tended.bench
    if seen:
        bench.logbook.seen(bench.reminder(Call.OPEN, "open-14").id, None, "page")
    moved = replace(OPEN, task=replace(OPEN.task, chamber="shelf"))
    tended.round(moved)
    assert not bench.reminder(Call.OPEN, "open-14").active
    there = bench.reminder(Call.OPEN, "open-14", chamber="shelf")
    assert there.state is (State.ACKNOWLEDGED if seen else State.UNACKNOWLEDGED)
    assert len(tended.titles()) == 1
    tended.round(OPEN)
    assert bench.reminder(Call.OPEN, "open-14").active
    assert len(tended.titles()) == 1


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        pytest.param(5 * 60, False, id="before he comes by"),
        pytest.param(6 * 60, True, id="when he comes by"),
        pytest.param(9 * 60, True, id="in the evening"),
        pytest.param(9 * 60 + 1, False, id="at night"),
    ],
)
def test_who_comes_by_once_a_day_is_told_too(tended: Tended, minutes: int, told: bool) -> None:
    once = replace(tended.bench.house.chamber("tent"), visits=(time(18, 0),))
    tended.tending.house.chambers.renew({"tent": once})  # type: ignore[attr-defined]
    tended.bench.clock.turn(minutes=minutes)
    day = Day([OPEN])
    with tended.bench.sql.write() as book:
        tended.tending.write(book, day.tasks(), tended.bench.clock.now())
    assert bool(tended.titles()) == told


def test_a_long_list_is_cut() -> None:
    said = [Message(f"{n}", "do") for n in range(SAID_IN_FULL + 2)]
    assert together(said).body.splitlines()[-1] == "And 2 more on today's list."
    assert together(said[:SAID_IN_FULL]).body.splitlines()[-1] == f"{SAID_IN_FULL - 1}. do"
    assert together([replace(said[0], body="alone")]) == Message("0", "alone")


class Broken:
    """Can't tell what is due, until it is mended."""

    def __init__(self, day: Day) -> None:
        self.day = day
        self.broken = True

    def look(self) -> tuple[TaskNow, ...]:
        if self.broken:
            raise ZeroDivisionError
        return self.day.tasks()

    def write(self, book: Book, tasks: tuple[TaskNow, ...], now: datetime) -> bool:
        del book, tasks, now
        return False


def test_what_is_wrong_with_the_crop_leaves_the_air_watched(
    tended: Tended, caplog: pytest.LogCaptureFixture
) -> None:
    bench = tended.bench
    broken = Broken(tended.day)
    bench.rounds._p = replace(bench.rounds._p, tending=broken)  # type: ignore[arg-type]
    bench.clock.turn(minutes=30)
    for _ in range(3):
        bench.rounds.look()
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active
    assert caplog.text.count("Telling what is due failed") == 1
    broken.broken = False
    bench.rounds.look()
    broken.broken = True
    bench.rounds.look()
    assert caplog.text.count("Telling what is due failed") == 2
