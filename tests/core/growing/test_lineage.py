"""From which batch another came, and how old its line is."""

import re

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.lineage import (
    ancestors,
    check_origin,
    descendants,
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
    ("number", "nth", "above", "below"),
    [
        pytest.param(1, 1, (), (2, 3, 4, 5, 7), id="kit"),
        pytest.param(2, 2, (1,), (3, 4, 5), id="from the kit"),
        pytest.param(3, 2, (2, 1), (4, 5), id="split keeps the generation"),
        pytest.param(5, 4, (4, 3, 2, 1), (), id="fourth"),
        pytest.param(6, 2, (), (), id="parent not there"),
        pytest.param(7, 1, (1,), (), id="split from the kit"),
        pytest.param(8, 3, (9,), (9,), id="a circle ends"),
    ],
)
def test_line(number: int, nth: int, above: tuple[int, ...], below: tuple[int, ...]) -> None:
    assert generation(HOUSE, number) == nth
    assert ancestors(HOUSE, number) == above
    assert descendants(HOUSE, number) == below


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
