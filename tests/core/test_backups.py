"""Which backups stay."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.backups import Stay, name_of, staying, time_of
from tests.make import NOON

DAY = timedelta(days=1)
LISBON = ZoneInfo("Europe/Lisbon")
NIGHT = datetime(2026, 1, 20, 3, 10, tzinfo=UTC)  # a Tuesday


def test_a_name_says_the_time() -> None:
    assert name_of(NIGHT) == "chamberwatch-20260120-031000.db"
    assert time_of("chamberwatch-20260120-031000.db") == NIGHT
    assert name_of(NIGHT.astimezone(ZoneInfo("Asia/Tokyo"))) == name_of(NIGHT)


@pytest.mark.parametrize(
    "name",
    [
        "chamberwatch.db",
        "chamberwatch-20260120-031000.toml",
        ".chamberwatch-20260120-031000.db.part",
        "chamberwatch-20261320-031000.db",
        "my-chamberwatch-20260120-031000.db",
        "",
    ],
)
def test_other_names_are_left_alone(name: str) -> None:
    assert time_of(name) is None


def stays(stay: Stay, nights: int) -> list[int]:
    """Return how many days old those are that stay after so many nights."""
    times: set[datetime] = set()
    for n in range(nights):
        times.add(NIGHT + n * DAY)
        times = set(staying(times, stay, UTC))
    newest = max(times)
    return sorted((newest - at) // DAY for at in times)


@pytest.mark.parametrize(
    ("stay", "nights", "expected"),
    [
        pytest.param(Stay(3, 0, 0), 1, [0], id="the first"),
        pytest.param(Stay(3, 0, 0), 30, [0, 1, 2], id="days"),
        # The last night was the 18th of February, a Wednesday: of weeks their Sundays stay.
        pytest.param(Stay(1, 3, 0), 30, [0, 3, 10], id="weeks"),
        pytest.param(Stay(1, 0, 2), 30, [0, 18], id="months"),
        # A Tuesday again, the 19th of May: three Sundays, the last of April and of March.
        pytest.param(Stay(3, 4, 3), 120, [0, 1, 2, 9, 16, 19, 49], id="as usual"),
        pytest.param(Stay(1, 0, 0), 400, [0], id="only the last"),
    ],
)
def test_what_stays_night_after_night(stay: Stay, nights: int, expected: list[int]) -> None:
    assert stays(stay, nights) == expected


def test_days_are_those_of_the_site() -> None:
    times = [NOON.replace(hour=0, minute=30), NOON.replace(hour=11)]
    newest = max(times)
    assert staying(times, Stay(2, 0, 0), UTC) == {newest}
    assert staying(times, Stay(2, 0, 0), ZoneInfo("America/New_York")) == set(times)


def test_a_long_pause_makes_none_go() -> None:
    times = {NIGHT - 800 * DAY, NIGHT - 400 * DAY, NIGHT}
    assert staying(times, Stay(3, 0, 0), LISBON) == times


@given(
    st.sets(st.datetimes(datetime(2026, 1, 1), datetime(2028, 1, 1)), max_size=60),  # noqa: DTZ001
    st.builds(Stay, st.integers(1, 9), st.integers(0, 9), st.integers(0, 9)),
)
def test_always_the_newest_and_never_more_than_was_said(naive: set[datetime], stay: Stay) -> None:
    times = {at.replace(tzinfo=UTC) for at in naive}
    kept = staying(times, stay, LISBON)
    assert kept <= times
    assert len(kept) <= stay.days + stay.weeks + stay.months
    assert (max(times) in kept) if times else not kept
    # What stays would stay the next time as well.
    assert staying(kept, stay, LISBON) == kept
