"""Corrections as they are kept, and readings that are corrected afterwards."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks

RH, CO2 = Quantity.HUMIDITY, Quantity.CO2
WEEK = timedelta(days=7)


@pytest.fixture
def first(noon: datetime) -> Calibration:
    return Calibration(0, "top", RH, 0.97, -1.63, noon, "Ann “A”", "NaCl", noon + WEEK)


def everything(books: SqlBooks, noon: datetime, sensor: str | None = None) -> list[Reading]:
    with books.read() as book:
        return list(book.readings.page(sensor, Span(noon - WEEK, noon + WEEK), None, 100))


def shown(readings: list[Reading]) -> list[tuple[str, Quantity, float, float | None]]:
    return [(r.sensor, r.quantity, r.value, r.raw) for r in readings]


def test_none_at_first(books: SqlBooks) -> None:
    with books.read() as book:
        assert (list(book.calibrations.all()), book.calibrations.newest_id()) == ([], 0)


def test_they_come_back_in_the_order_in_which_they_hold(
    books: SqlBooks, first: Calibration
) -> None:
    with books.write() as book:
        kept = [
            book.calibrations.add(
                replace(first, at=first.at + timedelta(hours=hours), slope=slope)
            )
            for hours, slope in ((2, 1.0), (0, 1.1), (2, 1.2), (-1, 0.9))
        ]
    assert [c.id for c in kept] == [1, 2, 3, 4]
    with books.read() as book:
        assert list(book.calibrations.all()) == [kept[3], kept[1], kept[0], kept[2]]
        assert book.calibrations.newest_id() == 4


def test_what_is_rolled_back_is_not_there(books: SqlBooks, first: Calibration) -> None:
    def fail() -> None:
        with books.write() as book:
            book.calibrations.add(first)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with books.read() as book:
        assert book.calibrations.newest_id() == 0


@pytest.fixture
def readings(books: SqlBooks, noon: datetime) -> list[Reading]:
    """Four series that report at the very same times, and one value with a raw one."""
    made = [
        Reading(noon + timedelta(seconds=second), sensor, quantity, 80.0 + second)
        for second in range(3)
        for sensor in ("top", "middle")
        for quantity in (RH, CO2)
    ]
    made[0] = replace(made[0], value=78.0, raw=80.0)
    with books.write() as book:
        assert book.readings.add(made) == 12
    return made


@pytest.mark.parametrize("limit", [1, 2, 3, 5, 12, 50])
def test_pages_leave_nothing_out(
    books: SqlBooks, noon: datetime, readings: list[Reading], limit: int
) -> None:
    found: list[Reading] = []
    span = Span(noon, noon + timedelta(seconds=2, microseconds=1))
    with books.read() as book:
        while page := book.readings.page(None, span, found[-1] if found else None, limit):
            assert len(page) <= limit
            found += page
    assert sorted(found) == sorted(readings)
    assert [r.time for r in found] == sorted(r.time for r in readings)


def test_a_page_of_one_sensor_and_span(
    books: SqlBooks, noon: datetime, readings: list[Reading]
) -> None:
    assert len(readings) == 12
    with books.read() as book:
        span = Span(noon + timedelta(seconds=1), noon + timedelta(seconds=2))
        page = book.readings.page("top", span, None, 100)
        assert {(r.sensor, r.quantity, r.value) for r in page} == {
            ("top", RH, 81.0),
            ("top", CO2, 81.0),
        }
        assert list(book.readings.page("nowhere", span, None, 100)) == []


def test_a_correction_takes_the_place_of_the_value(
    books: SqlBooks, noon: datetime, readings: list[Reading]
) -> None:
    before = everything(books, noon)
    renewed = [
        replace(readings[0], value=77.0),  # corrected otherwise
        replace(readings[1], value=99.0, raw=80.0),  # corrected for the first time
        replace(readings[5], value=60.0, raw=59.0),  # not what the sensor sent: left alone
    ]
    with books.write() as book:
        assert book.readings.correct(renewed) == 2
        assert book.readings.correct([]) == 0
        assert book.readings.count() == 12
    after = everything(books, noon)
    assert len(after) == len(before)
    assert set(shown(after)) - set(shown(before)) == {
        ("top", RH, 77.0, 80.0),
        ("top", CO2, 99.0, 80.0),
    }


def test_a_correction_can_be_taken_back(
    books: SqlBooks, noon: datetime, readings: list[Reading]
) -> None:
    with books.write() as book:
        assert book.readings.correct([replace(readings[0], value=80.0, raw=None)]) == 1
    assert shown(everything(books, noon, "top"))[0] == ("top", RH, 80.0, None)
