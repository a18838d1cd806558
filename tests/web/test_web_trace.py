"""The last hours as a line: time to the right, gaps as gaps, nothing made longer than it is."""

import pytest

from chamberwatch.core.watch.course import Points
from chamberwatch.web.pages.trace import Scale, Trace, trace
from tests.make import NOON, at

SCALE = Scale(60.0, 100.0, 40.0)


def piece(*minutes: float, value: float = 90.0) -> Points:
    return tuple((at(each), value) for each in minutes)


@pytest.mark.parametrize(
    ("pieces", "drawn"),
    [
        pytest.param((), Trace(), id="nothing"),
        pytest.param((piece(-360, -180, 0),), Trace(("0,10 60,10 120,10",)), id="six hours"),
        pytest.param((piece(-15, -6, 0),), Trace(("115,10 118,10 120,10",)), id="a first quarter"),
        pytest.param(
            (piece(-300, -240), piece(-60, 0)),
            Trace(("20,10 40,10", "100,10 120,10")),
            id="a gap stays open",
        ),
        pytest.param((piece(-120),), Trace((), ((80.0, 10.0),)), id="one alone is a dot"),
        pytest.param((piece(-400, -240, 0),), Trace(("40,10 120,10",)), id="older is left out"),
        pytest.param((piece(-700, -500),), Trace(), id="all of it is older"),
        pytest.param((piece(-60, 3),), Trace(("100,10 120,10",)), id="a clock that runs ahead"),
        pytest.param(
            (piece(-60, 0, value=20.0),), Trace(("100,40 120,40",)), id="beyond the scale: its end"
        ),
    ],
)
def test_a_line_is_laid_out(pieces: tuple[Points, ...], drawn: Trace) -> None:
    assert trace(pieces, NOON, SCALE) == drawn


@pytest.mark.parametrize(("value", "y"), [(100.0, 0.0), (80.0, 20.0), (60.0, 40.0), (140.0, 0.0)])
def test_higher_is_further_up(value: float, y: float) -> None:
    assert SCALE.at(value) == y
