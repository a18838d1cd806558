"""How long an address is left alone, and what waits with it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.books import OutRow, OutState
from chamberwatch.service.ports import Outcome, Trouble
from chamberwatch.service.reaching import Reach, first_of, keep_reach, reach_of, wait_after
from tests.make import NOON, at
from tests.service.machine import Bench

ROW = OutRow(1, 1, 1, "phone", "t", "b", Priority.MEDIUM, OutState.WAITING, NOON, NOON, tries=1)
DOWN = Outcome(ok=False, reason="no answer")


@pytest.mark.parametrize(
    ("trouble", "tries", "minutes"),
    [
        (Trouble.PASSING, 1, 0.5),
        (Trouble.PASSING, 7, 32),
        (Trouble.PASSING, 8, 60),
        (Trouble.PASSING, 1000, 60),
        (Trouble.CROWDED, 1, 2),
        (Trouble.CROWDED, 2, 4),
        (Trouble.LASTING, 1, 10),
        (Trouble.LASTING, 4, 60),
    ],
)
def test_waits(trouble: Trouble, tries: int, minutes: float) -> None:
    assert wait_after(tries, trouble) == timedelta(minutes=minutes)


def test_failures_add_up_and_one_that_arrives_ends_them() -> None:
    once = Reach().after(DOWN, ROW, NOON)
    assert once == Reach(None, NOON, "no answer", 1, NOON, NOON + timedelta(seconds=30))
    twice = once.after(replace(DOWN, reason="refused"), ROW, at(1))
    assert (twice.failures, twice.since, twice.failed) == (2, NOON, at(1))
    # Another row's first try is the address's second.
    assert (twice.again, twice.reason) == (at(2), "refused")
    well = twice.after(Outcome(ok=True), ROW, at(3))
    assert well == Reach(went=at(3), failed=at(1), reason="refused")


@pytest.mark.parametrize(
    ("priority", "tries", "minutes", "held"),
    [
        pytest.param(Priority.MEDIUM, 0, 1, True, id="waits with the address"),
        pytest.param(Priority.MEDIUM, 0, 2, False, id="its time has come"),
        pytest.param(Priority.HIGH, 0, 1, False, id="grave and never tried"),
        pytest.param(Priority.HIGH, 1, 1, True, id="grave and tried"),
    ],
)
def test_what_is_held(priority: Priority, tries: int, minutes: int, held: bool) -> None:
    reach = Reach(again=at(2))
    row = replace(ROW, priority=priority, tries=tries)
    assert reach.held(row, at(minutes)) is held
    assert not Reach().held(row, NOON)


def test_a_clock_that_was_set_back_holds_nothing_for_years() -> None:
    assert not Reach(again=at(60 * 24 * 365)).held(ROW, NOON)


def test_what_is_urgent_keeps_its_own_pace() -> None:
    reach = Reach(failures=7, since=NOON)
    grave = replace(ROW, priority=Priority.HIGH)
    assert reach.after(DOWN, grave, NOON).again == NOON + timedelta(seconds=30)
    assert reach.after(DOWN, ROW, NOON).again == at(60)


def test_the_order_of_sending() -> None:
    rows = [
        replace(ROW, id=1, created=at(-9), tries=5),
        replace(ROW, id=2, created=at(-1), tries=0),
        replace(ROW, id=3, created=at(-2), tries=0),
        replace(ROW, id=4, priority=Priority.LOW, tries=0, created=at(-20)),
        replace(ROW, id=5, priority=Priority.HIGH, tries=3),
        replace(ROW, id=6, priority=Priority.HIGH, tries=4),
    ]
    order = []
    while rows:
        first = first_of(rows, lambda _: False)
        assert first is not None
        order.append(first.id)
        rows.remove(first)
    # What was tried often steps down behind what has not had its turn.
    assert order == [5, 3, 2, 6, 4, 1]
    assert first_of([ROW], lambda _: True) is None


REACH = Reach(NOON, at(1), "no answer", 3, at(-2), at(4))


def test_it_is_kept(bench: Bench) -> None:
    with bench.sql.write() as book:
        assert reach_of(book, "phone") == Reach()
        keep_reach(book, "phone", REACH)
        assert reach_of(book, "phone") == REACH
        assert reach_of(book, "other") == Reach()


@pytest.mark.parametrize(
    "text", ["", "no JSON", "[]", "{}", '{"went": 5}', '{"went": "yesterday"}']
)
def test_what_cant_be_read_is_nothing(bench: Bench, text: str) -> None:
    with bench.sql.write() as book:
        book.kept.keep_text("reach of phone", text)
        assert reach_of(book, "phone") == Reach()
