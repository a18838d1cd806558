"""Whether a sensor that is being checked has come to rest."""

from collections.abc import Sequence
from datetime import datetime

import pytest

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.settled import Rest, settled
from tests.make import NOON, at

Q = Quantity


def line(change: float, count: int = 31, every_min: float = 1.0) -> list[tuple[datetime, float]]:
    """Return a straight line that changes by so much in half an hour and ends now at 75."""
    return [
        (at(-n * every_min), 75.0 - change * n * every_min / 30.0) for n in reversed(range(count))
    ]


@pytest.mark.parametrize(
    ("quantity", "points", "rest", "change"),
    [
        pytest.param(Q.HUMIDITY, line(0.0), Rest.AT_REST, 0.0, id="still"),
        pytest.param(Q.HUMIDITY, line(0.4), Rest.AT_REST, 0.4, id="about its noise"),
        pytest.param(Q.HUMIDITY, line(-2.0), Rest.DRIFTS, -2.0, id="falls"),
        pytest.param(Q.HUMIDITY, line(0.6, 7, 5.0), Rest.DRIFTS, 0.6, id="seldom heard"),
        pytest.param(Q.TEMPERATURE, line(0.3), Rest.DRIFTS, 0.3, id="temperature"),
        pytest.param(Q.CO2, line(15.0), Rest.AT_REST, 15.0, id="CO2"),
        # Left the air of the tent three quarters of an hour ago: that is not looked at.
        pytest.param(
            Q.HUMIDITY, [(at(-45), 95.0), *line(0.2)], Rest.AT_REST, 0.2, id="long before"
        ),
        pytest.param(
            Q.HUMIDITY, [(at(-n), 75.0 + 0.4 * (-1) ** n) for n in range(30, -1, -1)],
            Rest.AT_REST, 0.0, id="noise",
        ),
    ],
)  # fmt: skip
def test_drift_is_told_from_noise(
    quantity: Quantity, points: Sequence[tuple[datetime, float]], rest: Rest, change: float
) -> None:
    found = settled(quantity, points, NOON)
    assert found.rest is rest
    assert found.change == pytest.approx(change, abs=0.06)


@pytest.mark.parametrize(
    ("points", "mean"),
    [
        pytest.param([], None, id="nothing"),
        pytest.param(line(0.0, 4, 5.0), 75.0, id="too few"),
        pytest.param(line(0.0, 10), 75.0, id="not for long"),
        pytest.param(line(0.0)[:15], None, id="fell silent"),
        pytest.param([(at(5), 75.0)], None, id="in the future"),
    ],
)
def test_of_too_little_nothing_is_said(
    points: Sequence[tuple[datetime, float]], mean: float | None
) -> None:
    found = settled(Q.HUMIDITY, points, NOON)
    assert (found.rest, found.change, found.mean) == (Rest.UNHEARD, None, mean)
