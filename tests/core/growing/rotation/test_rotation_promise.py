"""A plan stands for its week, unless the record goes another way."""

from dataclasses import replace
from datetime import date

import pytest

from chamberwatch.core.growing.batch import Batch, Container, EntryKind, Start
from chamberwatch.core.growing.rotation.plan import (
    Awaited,
    Gives,
    Plan,
    PlannedStart,
    Space,
    Wanted,
    WeekExpectation,
)
from chamberwatch.core.growing.rotation.promise import Promise, cut, promise, put_off, where_free
from tests.core.growing.lives import live, tell
from tests.core.growing.timed import OYSTER

MONDAY, SUNDAY = date(2026, 11, 2), date(2026, 11, 8)
K = EntryKind


def start(day: int, species: str = "grey-oyster") -> PlannedStart:
    on = date(2026, 11, day)
    return PlannedStart(species, on, ("tent", "top"), on, ("tent", "top"), on, ())


def batch(split_from: int | None = None) -> Batch:
    begun = Start("grey-oyster", Container.BAG, split_from=split_from)
    return live(OYSTER, tell(K.STARTED, 0, start=begun))


def lost() -> Batch:
    begun = Start("grey-oyster", Container.BAG)
    return live(OYSTER, tell(K.STARTED, 0, start=begun), tell(K.CONTAMINATED, 1))


def week(day: int) -> WeekExpectation:
    return WeekExpectation(date(2026, 11, day), 0.1, 0.2, {})


def gap(day: int) -> Gives:
    return Gives(date(2026, 11, day), "tent", "top", "grey-oyster", 0.1, "Why.")


WISH = Wanted("grey-oyster", (0.4, 0.6), 500.0)
TENT = Space("tent", ("top", "low"))
WHOLE = Plan(
    starts=(start(9), start(3), start(4, "shiitake")),
    weeks=(week(2), week(9)),
    gives=(gap(9),),
    starts_per_week={},
    slots={},
    meets=False,
    helps=("Wish for less.",),
)
PLAN: Promise = promise(WHOLE, [WISH], [TENT], [batch()], MONDAY)


def test_starts_come_in_the_order_of_their_days_and_know_their_turn() -> None:
    """One oyster was started before."""
    assert [(each.on.day, each.species, each.turn) for each in PLAN.plan.starts] == [
        (3, "grey-oyster", 2),
        (4, "shiitake", 1),
        (9, "grey-oyster", 3),
    ]


def test_a_new_plan_counts_on() -> None:
    """What the second of the old plan was called, the first of the new one is."""
    (left, *_) = PLAN.left([batch()] * 2)[1:]
    moved = replace(WHOLE, starts=(start(11),))
    (again,) = promise(moved, [WISH], [TENT], [batch()] * 2, date(2026, 11, 9)).plan.starts
    assert (again.species, again.turn) == (left.species, left.turn) == ("grey-oyster", 3)


@pytest.mark.parametrize(
    ("wanted", "spaces", "same"),
    [
        pytest.param([WISH], [TENT], True, id="as asked"),
        pytest.param([replace(WISH, batch_dry_g=300.0)], [TENT], False, id="another wish"),
        pytest.param([WISH], [replace(TENT, holds=2)], False, id="another chamber"),
    ],
)
def test_what_a_plan_answers(wanted: list[Wanted], spaces: list[Space], same: bool) -> None:
    assert PLAN.answers(wanted, spaces) is same


@pytest.mark.parametrize(
    ("batches", "today", "stands"),
    [
        pytest.param([batch()], MONDAY, True, id="as it was made"),
        pytest.param([batch()], SUNDAY, True, id="to the end of the week"),
        pytest.param([batch()], date(2026, 11, 9), False, id="not into the next"),
        pytest.param([batch()], date(2027, 11, 2), False, id="not a year on"),
        pytest.param([batch()] * 3, MONDAY, True, id="both were started"),
        pytest.param([batch()] * 4, MONDAY, False, id="one more than planned"),
        pytest.param([batch(), batch(1), batch(1), batch(1)], MONDAY, True, id="a split is none"),
        pytest.param([batch(), lost()], MONDAY, False, id="one was lost"),
    ],
)
def test_when_a_plan_stands(batches: list[Batch], today: date, stands: bool) -> None:
    assert PLAN.holds(batches, today) is stands


@pytest.mark.parametrize(
    ("begun", "days"),
    [
        pytest.param(1, [3, 4, 9], id="none made"),
        pytest.param(2, [4, 9], id="the earliest counts as made"),
        pytest.param(3, [4], id="then the next of that species"),
    ],
)
def test_what_is_left_to_start(begun: int, days: list[int]) -> None:
    assert [each.on.day for each in PLAN.left([batch()] * begun)] == days


# ------------------------------------------------------------------ as it is shown


def test_the_first_weeks_of_a_plan() -> None:
    first = cut(PLAN.plan, 1)
    assert [each.on.day for each in first.starts] == [3, 4]
    assert (first.weeks, first.gives, first.meets, first.helps) == ((week(2),), (), True, ())
    assert cut(PLAN.plan, 2) == PLAN.plan


@pytest.mark.parametrize(
    ("first", "days"),
    [
        pytest.param(2, (3, 3, 3, 20, 24), id="not before its own day"),
        pytest.param(5, (5, 5, 5, 22, 26), id="all its days move"),
    ],
)
def test_a_start_is_put_off_as_a_whole(first: int, days: tuple[int, ...]) -> None:
    crop = Awaited(date(2026, 11, 20), date(2026, 11, 24), 0.1, 0.2)
    found = put_off(replace(start(3), harvests=(crop,)), date(2026, 11, first))
    (moved,) = found.harvests
    dates = (found.on, found.opens_on, found.leaves_on, moved.low, moved.high)
    assert tuple(each.day for each in dates) == days
    assert (moved.kg_low, moved.kg_high) == (0.1, 0.2)


@pytest.mark.parametrize(
    ("days", "taken", "free"),
    [
        pytest.param([3, 3], [], [True, False], id="each place goes to one"),
        pytest.param([3], [("tent", "low")], [True], id="another shelf is taken"),
        pytest.param([3], [("tent", "top")], [False], id="this one is"),
        pytest.param([3], [("tent", ""), ("garden", "bed")], [True], id="no shelf known"),
        pytest.param([4], [("tent", "top")], [True], id="it may be free by then"),
    ],
)
def test_only_free_places_are_told_of_what_is_due(
    days: list[int], taken: list[tuple[str, str]], free: list[bool]
) -> None:
    found = where_free([start(day) for day in days], [TENT], taken, date(2026, 11, 3))
    assert [each.colonise_at for each in found] == [("tent", "top") if f else None for f in free]


def test_a_start_without_a_place_takes_none() -> None:
    nowhere = replace(start(3), colonise_at=None)
    found = tuple(where_free([nowhere, start(3)], [TENT], [], date(2026, 11, 3)))
    assert found == (nowhere, start(3))


@pytest.mark.parametrize(
    ("least_kg", "short"),
    [
        pytest.param(0.0, {9}, id="what gives"),
        pytest.param(0.2, {9}, id="the most of it is as much as is wished"),
        pytest.param(0.25, {2, 9}, id="nor is the other enough"),
    ],
)
def test_weeks_in_which_less_comes_than_is_wished(least_kg: float, short: set[int]) -> None:
    assert {monday.day for monday in WHOLE.short_weeks(least_kg)} == short
