"""Whatever comes in which order, and whenever old readings go: sums say what all readings came to.

Two things are left out here. What follows from temperature and humidity: of what comes late for a
time whose readings went, only what came late can be paired. And a reading that comes once more
after it went: nobody can know it again, so it counts again.
"""

from collections.abc import Sequence
from datetime import timedelta

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from chamberwatch.core.review.summary import Level
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.thinning import PAIRED
from tests.make import NOON
from tests.storage.test_storage_summaries import EVER, Keep, Kept, kept  # noqa: F401 - a fixture

HOURS = st.one_of(st.integers(-200, 0), st.sampled_from([-24, -25, -48, -72, -73, -2000]))
READINGS = st.lists(
    st.builds(
        lambda hours, s, sensor, value: Reading(
            NOON + timedelta(hours=hours, seconds=s), sensor, Quantity.CO2, float(value)
        ),
        HOURS,
        st.sampled_from([0, 1, 59, 60, 61, 899, 1800]),
        st.sampled_from(["low", "top"]),
        st.integers(400, 2000),
    ),
    min_size=1,
    max_size=10,
)
DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("add"), READINGS),
        st.tuples(st.just("thin"), st.integers(-200, 0), st.sampled_from([1, 2, 1000])),
        st.sampled_from([("sum_up",), ("sum_up",), ("late",), ("reach_back",), ("restart",)]),
    ),
    max_size=12,
)


def thin(one: Kept, hours: int, limit: int) -> None:
    """Drop readings as the night does, perhaps not to the end."""
    with one.books.write() as book:
        day = book.summing.drop_before(NOON + timedelta(hours=hours)) - PAIRED
    with one.books.write() as book:
        book.thinning.readings(day, limit)


def add(one: Kept, readings: Sequence[Reading]) -> None:
    """Have readings come, each for the first time."""
    known = {(r.time, r.sensor) for r in one.plain.readings}
    one.add([r for r in readings if (r.time, r.sensor) not in known])


def late(one: Kept) -> None:
    with one.books.write() as book:
        book.summing.add_late()


def look(one: Kept) -> None:
    for level in Level:
        one.look(("low", "top"), "co2_ppm", level, EVER)
    with one.books.read() as book:
        page = book.readings.page(None, EVER, None, 9999)
        assert book.readings.count() == len(page)


OLD = Reading(NOON - timedelta(hours=2000), "top", Quantity.CO2, 777.0)


@settings(
    max_examples=8,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(READINGS, DEEDS)
@example(
    [Reading(NOON - timedelta(hours=n), "top", Quantity.CO2, 900.0) for n in range(0, 150, 7)],
    [("sum_up",), ("thin", -60, 1000), ("add", [OLD]), ("late",), ("sum_up",), ("thin", 0, 1000)],
)
@example(
    [Reading(NOON - timedelta(hours=13), "low", Quantity.CO2, 400.0)],
    [("add", [Reading(NOON, "low", Quantity.CO2, 400.0)])],
)
def test_the_sums_are_those_of_all_readings(
    kept: Keep,  # noqa: F811 - the fixture
    first: Sequence[Reading],
    done: Sequence[tuple[object, ...]],
) -> None:
    with kept() as one:
        one.add(first)
        one.sum_up()
        for name, *given_ in done:
            if name == "thin":
                thin(one, *given_)  # type: ignore[arg-type]
            elif name == "late":
                late(one)
            elif name == "add":
                add(one, *given_)  # type: ignore[arg-type]
            else:
                getattr(one, str(name))(*given_)
            look(one)
        late(one)
        one.sum_up()
        thin(one, 0, 9999)
        look(one)
