"""A plan stands for its week, unless the record goes another way."""

from datetime import date

import pytest

from chamberwatch.core.growing.batch import Batch, Container, EntryKind, Start
from chamberwatch.core.growing.rotation.plan import PlannedStart
from chamberwatch.core.growing.rotation.promise import Promise, promise
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


PLAN: Promise = promise([start(9), start(3), start(4, "shiitake")], [batch()], MONDAY)


def test_starts_come_in_the_order_of_their_days() -> None:
    assert [each.on.day for each in PLAN.starts] == [3, 4, 9]


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
