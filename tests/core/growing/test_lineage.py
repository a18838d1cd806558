"""From which batch another came, and how old its line is."""

import re
from dataclasses import replace

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.lineage import (
    ancestors,
    check_circle,
    check_offspring,
    check_origin,
    generation,
    old_line,
)
from tests.core.growing.lives import OYSTER, K, live, on, start, tell


def batch(number: int, parent: int | None = None, split_from: int | None = None) -> Batch:
    begun = start(parent=parent, split_from=split_from)
    return live(OYSTER, tell(K.STARTED, number, start=begun, batch=number))


# 1 from a kit; 2 from 1; 3 split from 2; 4 from 3; 5 from 4; 6 from a batch that isn't there;
# 7 split from 1; 8 and 9 from each other, which can't be.
HOUSE = {
    b.id: b
    for b in (
        batch(1),
        batch(2, 1),
        batch(3, 1, 2),
        batch(4, 3),
        batch(5, 4),
        batch(6, 99),
        batch(7, None, 1),
        batch(8, 9),
        batch(9, 8),
    )
}


@pytest.mark.parametrize(
    ("number", "nth", "above"),
    [
        pytest.param(1, 1, (), id="kit"),
        pytest.param(2, 2, (1,), id="from the kit"),
        pytest.param(3, 2, (2, 1), id="split keeps the generation"),
        pytest.param(5, 4, (4, 3, 2, 1), id="fourth"),
        pytest.param(6, 2, (), id="parent not there"),
        pytest.param(7, 1, (1,), id="split from the kit"),
        pytest.param(8, 3, (9,), id="a circle ends"),
    ],
)
def test_line(number: int, nth: int, above: tuple[int, ...]) -> None:
    assert generation(HOUSE, number) == nth
    assert ancestors(HOUSE, number) == above


@pytest.mark.parametrize(
    ("parent", "split_from", "day", "says"),
    [
        pytest.param(99, None, 20, "There is no batch 99", id="none"),
        pytest.param(None, 99, 20, "There is no batch 99", id="split from none"),
        pytest.param(5, None, 4.5, "Batch 5 was started on 6 November, later than", id="younger"),
    ],
)
def test_it_comes_from_an_older_batch(
    parent: int | None, split_from: int | None, day: float, says: str
) -> None:
    with pytest.raises(RefusedError, match=re.escape(says)):
        check_origin(HOUSE, start(parent=parent, split_from=split_from), on(day))
    check_origin(HOUSE, start(parent=4, split_from=5), on(5))


@pytest.mark.parametrize(
    ("number", "parent"),
    [pytest.param(5, 5, id="itself"), pytest.param(2, 5, id="what came of it")],
)
def test_no_batch_comes_from_itself(number: int, parent: int) -> None:
    with pytest.raises(RefusedError, match=f"{number} can't come from batch {parent}"):
        check_circle(HOUSE, number, start(parent=parent))
    check_circle(HOUSE, parent + 1, start(parent=parent))
    check_circle(HOUSE, number, start())


@pytest.mark.parametrize(
    ("number", "young"),
    [pytest.param(1, 2, id="by spawn"), pytest.param(2, 3, id="by splitting")],
)
def test_what_came_from_a_batch_is_younger(number: int, young: int) -> None:
    check_offspring(HOUSE, number)
    later = {**HOUSE, number: replace(HOUSE[number], started=on(young + 0.5))}
    says = f"Batch {young} came from batch {number} and was started earlier, on {young + 1} Nov"
    with pytest.raises(RefusedError, match=says):
        check_offspring(later, number)


@pytest.mark.parametrize(
    ("nth", "begins"),
    [
        pytest.param(3, "", id="young"),
        pytest.param(4, "fourth generation from the same culture; ", id="fourth"),
        pytest.param(8, "eighth generation from", id="eighth"),
        pytest.param(9, "generation 9 from", id="ninth"),
    ],
)
def test_an_old_line_is_said_and_marked_as_common_practice(nth: int, begins: str) -> None:
    note = old_line(nth)
    assert note.startswith(begins)
    assert note.endswith("(common practice)") is bool(begins)
