"""The last hours of each sensor, from the book."""

import pytest

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.strips import Strips
from tests.make import at, humidity
from tests.service.machine import Bench


def keep(bench: Bench, *readings: Reading) -> None:
    with bench.sql.write() as book:
        book.readings.add(readings)


def strips(bench: Bench) -> Strips:
    return Strips(bench.sql, bench.clock, bench.house)


def test_a_mean_for_every_five_minutes_of_each_sensor(bench: Bench) -> None:
    keep(
        bench,
        *(humidity(90.0 - n, -14 + n) for n in range(4)),
        humidity(70.0, -14, "top"),
        humidity(40.0, -14, "room"),
    )
    lines = strips(bench).of("tent")
    assert lines == {
        ("middle", Quantity.HUMIDITY): ((at(-12.5), 88.5),),
        ("top", Quantity.HUMIDITY): ((at(-12.5), 70.0),),
    }


def test_six_hours_and_no_more(bench: Bench) -> None:
    keep(bench, humidity(90.0, -361), humidity(80.0, -359), humidity(70.0, -1))
    (points,) = strips(bench).of("tent").values()
    assert [value for _, value in points] == [80.0, 70.0]


def test_it_is_read_once_a_minute(bench: Bench) -> None:
    kept = strips(bench)
    keep(bench, humidity(90.0, -10))
    first = kept.of("tent")
    keep(bench, humidity(80.0, -5))
    bench.clock.turn(seconds=59)
    assert kept.of("tent") is first
    bench.clock.turn(seconds=1)
    ((points),) = kept.of("tent").values()
    assert [value for _, value in points] == [90.0, 80.0]


def test_a_clock_set_back_does_not_keep_it_for_ever(bench: Bench) -> None:
    kept = strips(bench)
    keep(bench, humidity(90.0, -300))
    assert kept.of("tent")
    bench.clock.turn(minutes=-2)
    keep(bench, humidity(80.0, -200))
    ((points),) = kept.of("tent").values()
    assert len(points) == 2


def test_no_such_chamber(bench: Bench) -> None:
    with pytest.raises(UnknownNameError, match="no chamber “attic”"):
        strips(bench).of("attic")
