"""What hangs on the board of some sensors, in a house of many."""

from datetime import timedelta

from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.board import Board
from tests.make import NOON

SENSORS = ("low", "top", "hall")


def board() -> Board:
    """Return the board after three minutes, in which each sensor rose at a pace of its own."""
    made = Board(0.0)
    for minute in range(4):
        for pace, sensor in enumerate(SENSORS, start=1):
            at = NOON + timedelta(minutes=minute)
            made.show(Reading(at, sensor, Quantity.HUMIDITY, 80.0 + pace * minute))
    made.show(Reading(NOON, "top", Quantity.CO2, 700.0))
    return made


def test_trends_of_some_sensors() -> None:
    found = board().trends(["top", "hall", "never heard"])
    assert set(found) == {("top", Quantity.HUMIDITY), ("hall", Quantity.HUMIDITY)}
    assert round(found["top", Quantity.HUMIDITY], 6) == 120.0
    assert round(found["hall", Quantity.HUMIDITY], 6) == 180.0


def test_newest_of_some_sensors() -> None:
    made = board()
    found = made.newest_among(["top", "never heard"])
    assert found == {key: r for key, r in made.newest().items() if key[0] == "top"}
    assert len(found) == 2
    assert made.newest_among([]) == {}
