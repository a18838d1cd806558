"""Readings in the database: kept once, found again, summed up."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import IntegrityError

from chamberwatch.core.watch.reading import Quantity, Reading, Undated
from chamberwatch.service.books import Bucket, Span
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.columns import NaiveTimeError

T0 = datetime(2025, 3, 1, 12, 0, tzinfo=UTC)
RH, TEMP = Quantity.HUMIDITY, Quantity.TEMPERATURE


def at(seconds: float, sensor: str = "top", value: float = 90.0, q: Quantity = RH) -> Reading:
    return Reading(T0 + timedelta(seconds=seconds), sensor, q, value)


def every(start_s: float = -1e6, end_s: float = 1e6) -> Span:
    return Span(T0 + timedelta(seconds=start_s), T0 + timedelta(seconds=end_s))


def keep(books: SqlBooks, *readings: Reading) -> int:
    with books.write() as book:
        return book.readings.add(readings)


def test_a_reading_comes_back_exactly(books: SqlBooks) -> None:
    reading = Reading(datetime(2025, 3, 1, 1, 2, 3, 456789, UTC), "top", RH, 90.1, timed=False)
    assert keep(books, reading) == 1
    with books.read() as book:
        assert book.readings.within(["top"], RH, every(), 10) == [reading]
        assert book.readings.newest() == {("top", RH): reading}


def test_a_time_from_another_zone_comes_back_in_utc(books: SqlBooks) -> None:
    here = at(0, value=1.0)
    there = replace(here, time=T0.astimezone(timezone(timedelta(hours=5, minutes=30))))
    keep(books, there)
    with books.read() as book:
        (found,) = book.readings.within(["top"], RH, every(), 10)
    assert found == here
    assert found.time.tzinfo is UTC


def test_a_time_without_a_zone_is_refused(books: SqlBooks) -> None:
    naive = replace(at(0), time=T0.replace(tzinfo=None))
    with pytest.raises(NaiveTimeError, match="Give it in UTC"):
        keep(books, at(5), naive)
    with books.read() as book:
        assert book.readings.count() == 0
    keep(books, at(5))
    with books.read() as book, pytest.raises(NaiveTimeError, match="Give it in UTC"):
        book.readings.within(["top"], RH, Span(naive.time, naive.time), 1)


@pytest.mark.parametrize(
    ("first", "second", "new"),
    [
        pytest.param([at(0)], [at(0)], 0, id="the same again"),
        pytest.param([at(0)], [at(0, value=50.0)], 0, id="same key, another value"),
        pytest.param([at(0)], [at(0, "low")], 1, id="another sensor"),
        pytest.param([at(0)], [at(0, q=TEMP)], 1, id="another quantity"),
        pytest.param([at(0)], [at(0), at(1), at(1)], 1, id="twice in one go"),
        pytest.param([at(0)], [], 0, id="nothing"),
        pytest.param([at(0)], [at(-90_000), at(0), at(90_000)], 2, id="late, same and early"),
    ],
)
def test_each_key_is_kept_once_and_new_ones_are_counted(
    books: SqlBooks, first: Sequence[Reading], second: Sequence[Reading], new: int
) -> None:
    assert keep(books, *first) == len(first)
    assert keep(books, *second) == new
    with books.read() as book:
        assert book.readings.count() == len(first) + new
        assert book.readings.within(["top"], RH, every(0, 0.5), 9) == [at(0)]


def test_more_than_fits_in_one_statement_is_counted_rightly(books: SqlBooks) -> None:
    keep(books, *(at(s) for s in range(0, 30_000, 3)))
    assert keep(books, *(at(s) for s in range(30_000))) == 20_000
    with books.read() as book:
        assert book.readings.count() == 30_000


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    batches=st.lists(
        st.lists(st.integers(-10_000, 10_000).map(lambda m: at(m * 60.0)), max_size=8), max_size=8
    )
)
def test_the_count_is_right_in_whatever_order_hours_come(
    books: SqlBooks, batches: list[list[Reading]]
) -> None:
    with books.read() as book:
        before = book.readings.within(["top"], RH, every(), 100_000)
        assert book.readings.count() == len(before)
    for batch in batches:
        keep(books, *batch)
    kept = set(before).union(*batches)
    with books.read() as book:
        assert book.readings.count() == len(kept)
        newest = max(kept, default=None)
        assert book.readings.newest() == ({("top", RH): newest} if newest else {})


def test_the_newest_of_each_series_however_old(books: SqlBooks) -> None:
    silent = at(-40 * 86_400, "cellar", 14.0, TEMP)
    older = at(-50 * 86_400, "cellar", 13.0, TEMP)
    keep(books, silent, older)
    keep(books, *(at(s, sensor) for s in range(0, 7200, 60) for sensor in ("top", "low")))
    keep(books, at(-5, "top", 1.0))
    with books.read() as book:
        assert book.readings.newest() == {
            ("cellar", TEMP): silent,
            ("top", RH): at(7140),
            ("low", RH): at(7140, "low"),
        }


def test_within_is_half_open_ordered_and_limited(books: SqlBooks) -> None:
    # "zinc" is heard first, so its number comes before that of "ash".
    keep(books, at(0, "zinc"), at(10, "zinc"), at(20, "zinc"))
    keep(books, at(0, "ash"), at(10, "ash"), at(10, "oak"), at(10, "ash", q=TEMP))
    with books.read() as book:
        found = book.readings.within(["zinc", "ash", "unheard of"], RH, every(0, 20), 10)
        assert found == [at(0, "ash"), at(0, "zinc"), at(10, "ash"), at(10, "zinc")]
        assert book.readings.within(["zinc", "ash"], RH, every(0, 20), 3) == found[:3]
        assert book.readings.within([], RH, every(), 3) == []
        assert book.readings.within(["oak"], Quantity.CO2, every(), 3) == []


def test_buckets_are_aligned_and_averaged_by_sample(books: SqlBooks) -> None:
    keep(books, at(59, value=1.0), at(60, value=80.0), at(119.999999, value=86.0))
    keep(books, at(61, "low", 92.0), at(300, value=70.0), at(70, q=TEMP))
    with books.read() as book:
        found = book.readings.buckets(["top", "low", "unheard of"], RH, every(60, 301), 60.0, 10)
        assert found == [
            Bucket(T0 + timedelta(minutes=1), 3, 80.0, 86.0, 92.0),
            Bucket(T0 + timedelta(minutes=5), 1, 70.0, 70.0, 70.0),
        ]
        assert book.readings.buckets(["top", "low"], RH, every(60, 301), 60.0, 1) == found[:1]
        assert book.readings.buckets(["unheard of"], RH, every(), 60.0, 10) == []


def test_buckets_begin_at_whole_steps_since_1970_also_before_it(books: SqlBooks) -> None:
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    for micros in (-60_000_001, -60_000_000, -1, 0, 59_999_999, 90_000_000):
        keep(books, Reading(epoch + timedelta(microseconds=micros), "top", RH, 1.0))
    span = Span(epoch - timedelta(days=1), epoch + timedelta(days=1))
    with books.read() as book:
        found = book.readings.buckets(["top"], RH, span, 60.0, 10)
    starts = [((bucket.start - epoch).total_seconds(), bucket.count) for bucket in found]
    assert starts == [(-120.0, 1), (-60.0, 2), (0.0, 2), (60.0, 1)]


def test_a_value_that_is_no_number_is_refused(books: SqlBooks) -> None:
    with pytest.raises(IntegrityError):
        keep(books, at(0), at(1, value=float("nan")))
    with books.read() as book:
        assert book.readings.count() == 0


def waiting(arrived_s: float, boot: str | None = "boot-1") -> Undated:
    return Undated("top", RH, 88.5, boot, arrived_s)


def test_undated_values_wait_and_are_taken_oldest_first(books: SqlBooks) -> None:
    with books.write() as book:
        book.readings.add_undated([])
        book.readings.add_undated([waiting(20.5), waiting(3.25), waiting(9.0, "boot-0")])
        book.readings.add_undated([waiting(1.0, None)])
    with books.read() as book:
        assert book.readings.count_undated() == (3, 1)
    with books.write() as book:
        assert book.readings.take_waiting("boot-1") == [waiting(3.25), waiting(20.5)]
        assert book.readings.take_waiting("boot-1") == []
    with books.read() as book:
        assert book.readings.count_undated() == (1, 1)


def test_values_of_other_boots_can_never_be_dated(books: SqlBooks) -> None:
    with books.write() as book:
        book.readings.add_undated(
            [waiting(1.0), waiting(2.0, "boot-0"), waiting(3.0, None), waiting(4.0, "older")]
        )
        assert book.readings.forget_boots("boot-1") == 2
        assert book.readings.forget_boots("boot-1") == 0
        assert book.readings.count_undated() == (1, 3)
        assert book.readings.take_waiting("boot-0") == []


def fail_after(books: SqlBooks, *readings: Reading) -> None:
    with books.write() as book:
        book.readings.add(readings)
        raise RuntimeError("power")


def test_a_series_made_in_a_failed_transaction_is_made_anew(books: SqlBooks) -> None:
    with pytest.raises(RuntimeError, match="power"):
        fail_after(books, at(0, "lost"), at(0, "lost", q=TEMP))
    keep(books, at(1, "other"))
    keep(books, at(2, "lost"))
    with books.read() as book:
        assert book.readings.newest() == {
            ("other", RH): at(1, "other"),
            ("lost", RH): at(2, "lost"),
        }
        assert book.readings.count() == 2


def test_a_series_that_another_process_made_is_found(books: SqlBooks, url: str) -> None:
    keep(books, at(0))
    other = open_books(url, T0)
    keep(other, at(1), at(0, "low"), at(7200))
    other.close()
    assert keep(books, at(1), at(1, "low"), at(3600)) == 2
    with books.read() as book:
        assert book.readings.count() == 6
        assert book.readings.newest()["top", RH] == at(7200)
