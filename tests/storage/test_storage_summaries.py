"""Summaries hold against a plain reckoning from all readings, whatever comes in which order."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete

from chamberwatch.core.review.reckoning import Held
from chamberwatch.core.review.summary import Level, Rules, Summary
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.columns import to_micros
from chamberwatch.storage.tables import READINGS
from tests.make import NOON
from tests.plain_summaries import QUANTITIES, PlainSummaries
from tests.servers import only_files, only_servers

T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2
SENSORS = ("low", "top")
LATER = NOON + timedelta(days=40)


def near(found: Sequence[Summary], expected: Sequence[Summary]) -> None:
    """Hold summaries against each other: all but the mean to the last bit."""
    bare = [replace(each, mean=0.0) for each in found]
    assert bare == [replace(each, mean=0.0) for each in expected]
    means = [each.mean for each in found]
    assert means == pytest.approx([each.mean for each in expected], rel=1e-12, abs=1e-12)


@dataclass
class Kept:
    """A database, and beside it what it should say."""

    url: str
    plain: PlainSummaries = field(default_factory=PlainSummaries)

    def __post_init__(self) -> None:
        self.books: SqlBooks = open_books(self.url, NOON)

    def add(self, readings: Sequence[Reading]) -> None:
        with self.books.write() as book:
            book.readings.add(readings)
        known = {(r.time, r.sensor, r.quantity) for r in self.plain.readings}
        for reading in readings:
            key = (reading.time, reading.sensor, reading.quantity)
            if key not in known:
                known.add(key)
                self.plain.readings.append(reading)

    def correct(self, by: float) -> None:
        """Recalibrate every other reading."""
        fresh = [
            replace(r, value=r.value + by, raw=r.value if r.raw is None else r.raw)
            for r in sorted(self.plain.readings)[::2]
        ]
        with self.books.write() as book:
            book.readings.correct(fresh)
        known = {(r.time, r.sensor, r.quantity): r for r in fresh}
        self.plain.readings = [
            known.get((r.time, r.sensor, r.quantity), r) for r in self.plain.readings
        ]

    def follow(self, rules: Rules) -> None:
        with self.books.write() as book:
            book.summing.follow(rules)
        self.plain.rules = rules

    def reach(self, now: datetime = LATER) -> None:
        with self.books.write() as book:
            book.summing.reach_on(now)

    def reach_back(self) -> None:
        with self.books.write() as book:
            book.summing.reach_back()

    def sum_up(self) -> None:
        """Go on until nothing is left."""
        while True:
            with self.books.write() as book:
                more = book.summing.reach_on(LATER) or book.summing.reach_back()
                waiting = book.summing.waiting(10_000)
                book.summing.keep(book.summing.reckon(waiting))
            if not more and not waiting:
                return

    def restart(self) -> None:
        self.books.close()
        self.books = open_books(self.url, NOON)

    def look(self, sensors: Sequence[str], quantity: str, level: Level, span: Span) -> None:
        with self.books.read() as book:
            found = book.summaries.within(sensors, quantity, level, span)
        near(found, self.plain.within(sensors, quantity, level, span))

    def meanwhile(self, limit: int, readings: Sequence[Reading]) -> None:
        """Have readings come, and be corrected, between the reckoning and the keeping of it."""
        with self.books.read() as book:
            reckoned = book.summing.reckon(book.summing.waiting(limit))
        self.add(readings)
        with self.books.write() as book:
            book.summing.keep(reckoned)

    def look_at_all(
        self, span: Span, steps_s: Sequence[int] = (60, 300, 900, 3600, 10_800, 86_400, 604_800)
    ) -> None:
        for step_s in steps_s:
            with self.books.read() as book:
                found = book.summaries.columns(SENSORS, QUANTITIES, step_s, span)
                bare = book.summaries.columns(SENSORS, QUANTITIES, step_s, span, judged=False)
            expected = self.plain.columns(SENSORS, QUANTITIES, step_s, span)
            for quantity in QUANTITIES:
                one, other = found[quantity], expected[quantity]
                assert replace(one, total=()) == replace(other, total=())
                assert one.total == pytest.approx(other.total, rel=1e-12)
                # What is not judged says the same of the values, from what is kept.
                unjudged = {"within": (), "below": (), "above": ()}
                assert replace(bare[quantity], total=(), **unjudged) == replace(
                    other, total=(), **unjudged
                )
                assert bare[quantity].total == pytest.approx(other.total, rel=1e-12)


Keep = Callable[[], AbstractContextManager[Kept]]


@pytest.fixture
def kept(fresh: Callable[[], str]) -> Keep:
    @contextmanager
    def made() -> Iterator[Kept]:
        one = Kept(fresh())
        try:
            yield one
        finally:
            one.books.close()

    return made


def around(before_h: float, after_h: float) -> Span:
    return Span(NOON - timedelta(hours=before_h), NOON + timedelta(hours=after_h))


EVER = around(24 * 400, 24 * 400)

# Crowded, and around the ends of stretches, where mistakes live.
offsets_s = st.one_of(
    st.integers(-900, 900),
    st.builds(
        lambda quarter, s: 900 * quarter + s,
        st.integers(-4, 5),
        st.sampled_from([-61, -60, -59, -30, -1, 0, 1, 30, 59, 60, 61]),
    ),
)
anywhere_s = st.one_of(
    *[offsets_s] * 5,
    st.integers(-2 * 86400, 2 * 86400),
    st.just(-90 * 86400),
)
readings = st.builds(
    lambda s, micros, sensor, quantity, value: Reading(
        NOON + timedelta(seconds=s, microseconds=micros), sensor, quantity, value
    ),
    anywhere_s,
    st.sampled_from([0, 0, 250_000]),
    st.sampled_from(SENSORS),
    st.sampled_from([T, T, T, RH, RH, RH, CO2, Quantity.PRESSURE, Quantity.BATTERY]),
    st.floats(5.0, 40.0).map(lambda value: round(value, 2)),
)
histories = st.lists(
    st.tuples(
        offsets_s,
        st.one_of(st.none(), st.floats(5.0, 20.0)),
        st.one_of(st.none(), st.floats(20.0, 40.0)),
    ),
    max_size=3,
    unique_by=lambda each: each[0],
).map(
    lambda told: tuple(
        Held(to_micros(NOON + timedelta(seconds=s)), low, high) for s, low, high in sorted(told)
    )
)
rules = st.builds(
    lambda one, two, pressure: Rules(
        {
            line: history
            for line, history in ((("top", "humidity_pct"), one), (("low", "co2_ppm"), two))
            if history
        },
        pressure,
    ),
    histories,
    histories,
    st.sampled_from([101_325.0, 90_000.5]),
)
some = st.lists(readings, min_size=1, max_size=12)
deeds = st.lists(
    st.one_of(
        st.tuples(st.just("add"), some),
        st.tuples(st.just("correct"), st.sampled_from([0.5, -1.25])),
        st.tuples(st.just("follow"), rules),
        st.tuples(st.just("reach"), anywhere_s.map(lambda s: NOON + timedelta(seconds=s))),
        st.tuples(st.just("meanwhile"), st.sampled_from([1, 5, 400]), some),
        st.sampled_from([("reach_back",), ("restart",), ("sum_up",), ("sum_up",)]),
    ),
    min_size=1,
    max_size=8,
)


ODD_HISTORIES = given(
    first=st.lists(readings, min_size=4, max_size=20),
    done=deeds,
    ends_s=st.tuples(offsets_s, offsets_s),
)
UNHURRIED = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


@only_files("many histories are quicker told to a file")
@settings(UNHURRIED, max_examples=15)
@ODD_HISTORIES
def test_every_level_says_what_all_readings_come_to(
    kept: Keep,
    first: Sequence[Reading],
    done: Sequence[tuple[object, ...]],
    ends_s: tuple[int, int],
) -> None:
    with kept() as one:
        _tell(one, first, done, ends_s)


@only_servers("a few of these histories, each some hundred questions over a socket")
@settings(UNHURRIED, max_examples=3)
@ODD_HISTORIES
def test_every_level_says_so_on_a_server_too(
    kept: Keep,
    first: Sequence[Reading],
    done: Sequence[tuple[object, ...]],
    ends_s: tuple[int, int],
) -> None:
    with kept() as one:
        _tell(one, first, done, ends_s)


def _tell(
    one: Kept,
    first: Sequence[Reading],
    done: Sequence[tuple[object, ...]],
    ends_s: tuple[int, int],
) -> None:
    one.add(first)
    one.sum_up()
    for name, *given_ in done:
        getattr(one, str(name))(*given_)
        one.look_at_all(around(24, 24), (86_400,))
    begins, ends = sorted(NOON + timedelta(seconds=s) for s in ends_s)
    for span in (EVER, Span(begins, ends)):
        one.look_at_all(span)
    one.sum_up()
    one.look_at_all(EVER)
    for quantity in ("humidity_pct", "dew_point_c"):
        one.look(("top",), quantity, Level.QUARTER, Span(begins, ends))


@pytest.mark.parametrize("year", [2040, 2110])
def test_years_far_from_now(kept: Keep, year: int) -> None:
    """Seconds since 1970 are more than four bytes hold."""
    then = NOON.replace(year=year)
    with kept() as one:
        one.add([Reading(then + timedelta(minutes=n), "top", RH, 80.0 + n) for n in range(40)])
        with one.books.write() as book:
            book.summing.reach_on(then + timedelta(days=2))
            book.summing.reach_back()
            waiting = book.summing.waiting(99)
            book.summing.keep(book.summing.reckon(waiting))
        assert waiting
        one.look_at_all(Span(then - timedelta(days=2), then + timedelta(days=2)))


# ---------------------------------------------------------------- readings that were dropped


def reading(minutes: float, quantity: Quantity = RH, value: float = 90.0) -> Reading:
    return Reading(NOON + timedelta(minutes=minutes), "top", quantity, value)


def dropped(one: Kept) -> datetime:
    """Sum two days up and drop the readings of the first."""
    one.follow(Rules({("top", "humidity_pct"): (Held(0, 85.0, None),)}))
    one.add([reading(n, q, 80.0 + n % 7) for n in range(-2880, 0, 7) for q in (T, RH)])
    one.sum_up()
    with one.books.write() as book:
        before = book.summing.drop_before(NOON)
        book.readings._connection.execute(delete(READINGS).where(READINGS.c.time < before))
    return before


def test_summaries_outlive_their_readings(kept: Keep) -> None:
    with kept() as one:
        before = dropped(one)
        assert before == NOON.replace(hour=0)
        one.look_at_all(EVER)
        one.look_at_all(around(40, -3))
        one.restart()
        one.sum_up()
        one.look_at_all(EVER)


def test_what_comes_late_is_added_to_them(kept: Keep) -> None:
    with kept() as one:
        before = dropped(one)
        late = [reading(-2000.5, RH, 70.0), reading(-2000.5, T, 18.0), reading(-1999, CO2, 600.0)]
        one.add(late)
        one.add(late)
        one.add([reading(-10.5, RH, 71.0)])
        # At once, and once it is added for good: of both stretches, and derived as well.
        one.look_at_all(EVER)
        with one.books.write() as book:
            assert book.summing.add_late() == 3
            assert book.summing.add_late() == 0
        one.look_at_all(EVER)
        one.sum_up()
        one.look_at_all(EVER)
        one.look(("top",), "humidity_pct", Level.DAY, Span(NOON - timedelta(days=4), before))


def test_a_band_of_before_does_not_change_what_cannot_be_counted_any_more(kept: Keep) -> None:
    with kept() as one:
        before = dropped(one)
        then = Span(NOON - timedelta(days=4), before)
        with one.books.write() as book:
            old = book.summaries.within(["top"], "humidity_pct", Level.DAY, then)
            book.summing.follow(Rules({("top", "humidity_pct"): (Held(0, 99.0, None),)}, 9e4))
        one.sum_up()
        with one.books.read() as book:
            assert book.summaries.within(["top"], "humidity_pct", Level.DAY, then) == old
            since = book.summaries.within(["top"], "humidity_pct", Level.DAY, Span(before, NOON))
        assert [(each.within, each.above) for each in since] == [(0, 0)]


def test_readings_are_not_given_up_before_they_are_summed_up(kept: Keep) -> None:
    with kept() as one:
        one.add([reading(n) for n in range(-2880, 0, 60)])
        with one.books.write() as book:
            assert book.summing.drop_before(NOON) == datetime(1970, 1, 1, tzinfo=NOON.tzinfo)
        one.reach()
        with one.books.write() as book:
            assert book.summing.drop_before(NOON) == datetime(1970, 1, 1, tzinfo=NOON.tzinfo)
        one.sum_up()
        one.correct(0.5)
        with one.books.write() as book:
            first = book.summing.drop_before(NOON)
        # The oldest was corrected a moment ago and waits to be reckoned.
        assert first == (NOON - timedelta(days=2)).replace(hour=0)
        one.sum_up()
        with one.books.write() as book:
            assert book.summing.drop_before(NOON) == NOON.replace(hour=0)
            assert book.summing.drop_before(first) == NOON.replace(hour=0)


# ---------------------------------------------------------------- while it is at work


def test_what_comes_while_it_is_reckoned_is_not_lost(kept: Keep) -> None:
    with kept() as one:
        one.add([reading(n) for n in range(-600, 0)])
        one.reach()
        one.reach_back()
        one.meanwhile(400, [reading(-100.5, value=70.0), reading(-37.5, value=99.0)])
        with one.books.read() as book:
            left = book.summing.waiting(400)
        assert [each.touched for each in left] == [2, 2]
        one.look_at_all(EVER)


def test_a_pair_over_the_end_of_a_quarter_hour(kept: Keep) -> None:
    """A humidity that comes late changes what the temperature before it derives."""
    with kept() as one:
        one.add(
            [reading(-15 - 0.1, T, 18.0), reading(-15.9, RH, 80.0), reading(-600), reading(60)]
        )
        one.sum_up()
        one.look(("top",), "dew_point_c", Level.QUARTER, EVER)
        one.add([reading(-15 + 0.3, RH, 90.0)])
        one.look(("top",), "dew_point_c", Level.QUARTER, EVER)
        one.sum_up()
        one.look(("top",), "dew_point_c", Level.QUARTER, EVER)


def test_a_recalibrated_reading_counts_as_it_is_worth_now(kept: Keep) -> None:
    with kept() as one:
        one.add([reading(n, q, 80.0) for n in range(-600, 0) for q in (T, RH)])
        one.sum_up()
        one.correct(1.5)
        one.look_at_all(EVER)
        one.sum_up()
        one.look_at_all(EVER)


@pytest.mark.parametrize("deed", ["keep", "reach_on", "reach_back", "follow"])
def test_what_is_broken_off_leaves_everything_as_it_was(kept: Keep, deed: str) -> None:
    with kept() as one:
        one.add([reading(n, q) for n in range(-3000, 0, 5) for q in (T, RH)])
        one.reach()
        with one.books.read() as book:
            reckoned = book.summing.reckon(book.summing.waiting(400))
        more = {
            "keep": (reckoned,),
            "reach_on": (LATER,),
            "reach_back": (),
            "follow": (Rules({("top", "humidity_pct"): (Held(0, 95.0, None),)}),),
        }

        def broken_off() -> None:
            with one.books.write() as book:
                getattr(book.summing, deed)(*more[deed])
                raise RuntimeError("power")

        with pytest.raises(RuntimeError, match="power"):
            broken_off()
        one.restart()
        one.look_at_all(EVER)
        one.sum_up()
        one.look_at_all(EVER)


def test_nothing_was_ever_read(kept: Keep) -> None:
    with kept() as one:
        one.sum_up()
        one.look_at_all(EVER)


def test_the_same_rules_again_change_nothing(kept: Keep) -> None:
    with kept() as one:
        rules = Rules({("top", "humidity_pct"): (Held(0, 85.0, None),)}, 9e4)
        with one.books.write() as book:
            changed = [book.summing.follow(each) for each in (rules, rules, Rules())]
    assert changed == [True, False, True]


# ---------------------------------------------------------------- how much is read at once


def forget_the_readings(one: Kept) -> None:
    """Take the readings away behind its back: what is answered now is answered from summaries."""
    with one.books.write() as book:
        book.readings._connection.exec_driver_sql("DELETE FROM readings")


def left_out(one: Kept, raw_at_most: timedelta) -> tuple[timedelta, timedelta] | None:
    """Return how long before noon what is left out begins and ends."""
    with one.books.read() as book:
        found = book.summaries.left_out(EVER, raw_at_most)
    return None if found is None else (NOON - found.start, NOON - found.end)


def number(one: Kept, *, judged: bool, raw_at_most: timedelta | None = None) -> int:
    """Return how many humidities there are said to be."""
    with one.books.read() as book:
        said = book.summaries.columns(
            ("top",), ("humidity_pct",), 900, EVER, judged=judged, raw_at_most=raw_at_most
        )
    return sum(said["humidity_pct"].number)


@pytest.mark.parametrize(
    ("change", "kept_s"),
    [
        pytest.param(Rules({("top", "humidity_pct"): (Held(0, 90.0, None),)}), 600, id="a band"),
        pytest.param(Rules(pressure_pa=9e4), 0, id="the pressure"),
        pytest.param(
            Rules({("top", "humidity_pct"): (Held(0, 90.0, None),)}, 9e4), 0, id="both at once"
        ),
    ],
)
def test_another_band_leaves_the_values_as_they_are_kept(
    kept: Keep, change: Rules, kept_s: int
) -> None:
    with kept() as one:
        one.add([reading(n) for n in range(-600, 0)])
        # A last one far on, so that all of it is over and summed up.
        one.add([reading(60, CO2, 600.0)])
        one.sum_up()
        one.follow(change)
        forget_the_readings(one)
        assert number(one, judged=False) == kept_s
        assert number(one, judged=True) == 0


def test_an_hour_is_right_again_beside_a_quarter_hour_that_waits_to_be_counted(kept: Keep) -> None:
    with kept() as one:
        one.add([reading(n) for n in range(-600, 0)])
        one.add([reading(60, CO2, 600.0)])
        one.sum_up()
        # Another band for one quarter-hour, a value more in the next but one, which is newer.
        since = [to_micros(NOON - timedelta(minutes=n)) for n in (120, 105)]
        band = (Held(since[0], 95.0, None), Held(since[1], None, None))
        one.follow(Rules({("top", "humidity_pct"): band}))
        one.add([reading(-80.5, value=50.0)])
        with one.books.write() as book:
            book.summing.keep(book.summing.reckon(book.summing.waiting(1)))
            assert len(book.summing.waiting(9)) == 1
        one.look_at_all(around(24, 24), (900, 3600, 86_400))
        one.sum_up()
        one.look_at_all(around(24, 24), (900, 3600, 86_400))


def test_what_is_read_at_once_ends_with_the_newest_days(kept: Keep) -> None:
    with kept() as one:
        # Noon to noon over five days, none of it summed up, and a year ago a day.
        one.add([reading(60.0 * n) for n in range(-24 * 5, 0)])
        one.add([reading(60.0 * n) for n in range(-24 * 366, -24 * 365)])
        assert number(one, judged=False) == 24 * 6
        # The half day of today, and one before that to its full length.
        assert number(one, judged=False, raw_at_most=timedelta(days=1)) == 12 + 24
        assert number(one, judged=False, raw_at_most=timedelta(0)) == 0
        # From the first reading to a second after the last that is not read.
        first, second = timedelta(days=366), timedelta(seconds=1)
        assert left_out(one, timedelta(days=1)) == (first, timedelta(hours=37) - second)
        assert left_out(one, timedelta(0)) == (first, timedelta(hours=1) - second)
        assert left_out(one, timedelta(days=6)) is None
        # The empty year between does not count.
        assert number(one, judged=False, raw_at_most=timedelta(days=6)) == 24 * 6
        one.sum_up()
        assert number(one, judged=False, raw_at_most=timedelta(hours=1)) == 24 * 6
        assert left_out(one, timedelta(hours=1)) is None
        # The newest is not over and settled yet; what came before is summed up.
        assert left_out(one, timedelta(0)) == (timedelta(hours=1), timedelta(hours=1) - second)
