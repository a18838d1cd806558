"""Timetables by the clock on the wall, and what devices give in sum."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.watch.device import (
    Device,
    Kind,
    Supply,
    Timetable,
    in_words,
    serving,
    supply,
    working_in,
)

LISBON = ZoneInfo("Europe/Lisbon")
ASUNCION = ZoneInfo("America/Asuncion")  # goes forward at midnight, so that a day begins at 01:00
MINUTE = timedelta(minutes=1)
DAY = timedelta(days=1)
BY_DAY = ((time(7), time(22)),)
BY_NIGHT = ((time(22), time(6)),)
FIVE_IN_THIRTY = Timetable(BY_DAY, 5 * MINUTE, 30 * MINUTE)


def _winter(hour: int, minute: int = 0, second: int = 0) -> datetime:
    """Return a moment of a winter's day, when Lisbon is at UTC."""
    return datetime(2026, 1, 20, hour, minute, second, tzinfo=UTC)


@pytest.mark.parametrize(
    ("timetable", "at", "runs", "on_duty"),
    [
        pytest.param(Timetable(), _winter(3), True, True, id="always"),
        pytest.param(Timetable(BY_DAY), _winter(6, 59, 59), False, False, id="before its window"),
        pytest.param(Timetable(BY_DAY), _winter(7), True, True, id="as its window begins"),
        pytest.param(Timetable(BY_DAY), _winter(21, 59, 59), True, True, id="as it ends"),
        pytest.param(Timetable(BY_DAY), _winter(22), False, False, id="after it"),
        pytest.param(Timetable(BY_NIGHT), _winter(23), True, True, id="late in the evening"),
        pytest.param(Timetable(BY_NIGHT), _winter(0), True, True, id="midnight"),
        pytest.param(Timetable(BY_NIGHT), _winter(6), False, False, id="in the morning"),
        pytest.param(
            Timetable(((time(7), time(0)),)), _winter(0), False, False, id="until midnight"
        ),
        pytest.param(Timetable(((time(7), time(7)),)), _winter(5), True, True, id="a whole day"),
        pytest.param(FIVE_IN_THIRTY, _winter(7, 4, 59), True, True, id="its five minutes"),
        pytest.param(FIVE_IN_THIRTY, _winter(7, 5), False, True, id="its pause"),
        pytest.param(FIVE_IN_THIRTY, _winter(7, 30), True, True, id="its next run"),
        pytest.param(FIVE_IN_THIRTY, _winter(6, 31), False, False, id="no run out of its window"),
        pytest.param(
            Timetable((), 60 * MINUTE, 7 * 60 * MINUTE),
            _winter(21, 30),
            True,
            True,
            id="the last of a day",
        ),
        pytest.param(
            Timetable((), 60 * MINUTE, 7 * 60 * MINUTE),
            _winter(0, 30),
            True,
            True,
            id="begins anew at midnight",
        ),
        pytest.param(Timetable((), 5 * MINUTE), _winter(0, 30), True, True, id="on without every"),
    ],
)
def test_it_runs_by_its_timetable(
    timetable: Timetable, at: datetime, runs: bool, on_duty: bool
) -> None:
    assert timetable.running(at, LISBON) is runs
    assert timetable.on_duty(at, LISBON) is on_duty


def test_it_runs_by_local_time() -> None:
    assert Timetable(BY_DAY).running(datetime(2026, 7, 20, 6, 30, tzinfo=UTC), LISBON)
    assert not Timetable(BY_DAY).running(datetime(2026, 7, 20, 21, 30, tzinfo=UTC), LISBON)


@pytest.mark.parametrize(
    ("timetable", "start", "end", "minutes"),
    [
        pytest.param(Timetable(), _winter(0), _winter(8), 480, id="always"),
        pytest.param(Timetable(BY_DAY), _winter(6), _winter(8), 60, id="half in its window"),
        pytest.param(Timetable(BY_DAY), _winter(1), _winter(2), 0, id="out of it"),
        pytest.param(Timetable(BY_DAY), _winter(0), _winter(0) + 3 * DAY, 2700, id="three days"),
        pytest.param(Timetable(BY_NIGHT), _winter(21), _winter(7) + DAY, 480, id="over midnight"),
        pytest.param(
            Timetable(((time(6), time(10)), (time(8), time(12)), (time(7), time(8)))),
            _winter(0),
            _winter(12),
            360,
            id="windows that overlap count once",
        ),
        pytest.param(FIVE_IN_THIRTY, _winter(7), _winter(22), 150, id="five in thirty"),
        pytest.param(FIVE_IN_THIRTY, _winter(7, 4), _winter(7, 31), 2, id="ends of two runs"),
        pytest.param(FIVE_IN_THIRTY, _winter(7, 6), _winter(7, 29), 0, id="a pause"),
        pytest.param(
            # Runs at 0, 7, 14 and 21 o'clock, and anew at midnight.
            Timetable((), 60 * MINUTE, 7 * 60 * MINUTE),
            _winter(20),
            _winter(2) + DAY,
            120,
            id="counted from midnight",
        ),
        pytest.param(
            Timetable(((time(7, 20), time(7, 33)),), 10 * MINUTE, 30 * MINUTE),
            _winter(0),
            _winter(12),
            3,
            id="counted from midnight, not from the window",
        ),
    ],
)
def test_share_of_a_span(
    timetable: Timetable, start: datetime, end: datetime, minutes: float
) -> None:
    share = timetable.share(start, end, LISBON)
    assert share * (end - start).total_seconds() == pytest.approx(minutes * 60, abs=1e-6)


@pytest.mark.parametrize(
    ("start", "length_h", "timetable", "hours"),
    [
        # Lisbon 2026: forward at 01:00 UTC on 29 March (01:00 to 02:00 by the wall), back at
        # 01:00 UTC on 25 October (02:00 to 01:00); EU directive 2000/84/EC.
        pytest.param(
            datetime(2026, 3, 29, tzinfo=LISBON), 23, Timetable(), 23, id="the short day, always"
        ),
        pytest.param(
            datetime(2026, 3, 29, tzinfo=LISBON),
            23,
            Timetable(BY_DAY),
            15,
            id="the short day, by day",
        ),
        pytest.param(
            datetime(2026, 3, 28, 12, tzinfo=LISBON),
            23,
            Timetable(BY_NIGHT),
            7,
            id="a night with an hour less",
        ),
        pytest.param(
            datetime(2026, 3, 29, tzinfo=LISBON),
            23,
            Timetable(((time(1), time(2)),)),
            0,
            id="the hour that is left out",
        ),
        pytest.param(
            datetime(2026, 10, 25, tzinfo=LISBON),
            25,
            Timetable(((time(1), time(2)),)),
            2,
            id="the hour that comes twice",
        ),
        pytest.param(
            datetime(2026, 10, 24, 12, tzinfo=LISBON),
            25,
            Timetable(BY_NIGHT, 15 * MINUTE, 60 * MINUTE),
            9 / 4,
            id="a night with an hour more, with a cycle",
        ),
        pytest.param(
            # Forward at 00:00 on 6 October 2024: that day's first hour is left out.
            datetime(2024, 10, 5, 12, tzinfo=ASUNCION),
            24,
            Timetable(((time(23), time(2)),)),
            2,
            id="a clock that jumps at midnight",
        ),
    ],
)
def test_days_on_which_the_clocks_change(
    start: datetime, length_h: float, timetable: Timetable, hours: float
) -> None:
    zone = start.tzinfo
    assert zone is not None
    first = start.astimezone(UTC)
    last = first + timedelta(hours=length_h)
    assert timetable.share(first, last, zone) * length_h == pytest.approx(hours, abs=1e-9)
    # Said in the zone itself it is the same span.
    local = timetable.share(first.astimezone(zone), last.astimezone(zone), zone)
    assert local * length_h == pytest.approx(hours, abs=1e-9)


def test_of_no_span_it_is_whether_it_runs() -> None:
    assert FIVE_IN_THIRTY.share(_winter(7, 1), _winter(7, 1), LISBON) == 1.0
    assert FIVE_IN_THIRTY.share(_winter(7, 6), _winter(7, 6), LISBON) == 0.0
    assert FIVE_IN_THIRTY.share(_winter(7, 1), _winter(7), LISBON) == 1.0


_times = st.times().map(lambda t: t.replace(second=0, microsecond=0))
_timetables = st.builds(
    lambda windows, on, more: Timetable(
        tuple(windows),
        timedelta(minutes=on) if on else None,
        timedelta(minutes=on + more) if on else None,
    ),
    st.lists(st.tuples(_times, _times), max_size=3),
    st.integers(0, 90),
    st.integers(0, 180),
)
# Around both nights on which the clocks change.
_starts = st.sampled_from([datetime(2026, 3, 28, tzinfo=UTC), datetime(2026, 10, 24, tzinfo=UTC)])


@settings(max_examples=60, deadline=None)
@given(
    timetable=_timetables, start=_starts, first=st.integers(0, 1500), length=st.integers(1, 900)
)
def test_share_is_what_counting_minutes_gives(
    timetable: Timetable, start: datetime, first: int, length: int
) -> None:
    begin = start + first * MINUTE
    # All that is drawn begins and ends on whole minutes, so each minute is in or out as a whole.
    counted = sum(timetable.running(begin + n * MINUTE, LISBON) for n in range(length))
    share = timetable.share(begin, begin + length * MINUTE, LISBON)
    assert share * length == pytest.approx(counted, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    timetable=_timetables,
    start=_starts,
    cuts=st.tuples(*[st.integers(0, 200_000_000)] * 2).map(sorted),
)
def test_shares_of_parts_add_up(timetable: Timetable, start: datetime, cuts: list[int]) -> None:
    middle, end = (start + timedelta(milliseconds=cut + 1 + n) for n, cut in enumerate(cuts))

    def running_s(a: datetime, b: datetime) -> float:
        return timetable.share(a, b, LISBON) * (b - a).total_seconds()

    parts = running_s(start, middle) + running_s(middle, end)
    assert parts == pytest.approx(running_s(start, end), abs=1e-5)


# ------------------------------------------------------------------ devices

FAN = Device("exhaust", "tent", Kind.FAN, FIVE_IN_THIRTY, flow_m3_per_h=20.0)
MISTER = Device("mister", "tent", Kind.HUMIDIFIER, Timetable(BY_NIGHT), water_g_per_h=150.0)
MAT = Device("mat", "tub", Kind.HEATER, power_w=15.0)
ALL = (FAN, MISTER, MAT)


def test_supply_over_an_evening() -> None:
    # 20:00 to 24:00: the fan runs 4 x 5 of 240 min, the mister two hours of four.
    given = supply(ALL, 0.5, _winter(20), _winter(0) + DAY, LISBON)
    assert given.air_changes_per_h == pytest.approx(20.0 / 0.5 * 20 / 240)
    assert given.water_g_per_h == pytest.approx(75.0)
    assert given.heat_w == pytest.approx(15.0)


def test_supply_of_a_moment() -> None:
    assert supply(ALL, 0.5, _winter(7), _winter(7), LISBON) == Supply(40.0, 0.0, 15.0)


@pytest.mark.parametrize("volume_m3", [None, 0.0])
def test_a_fan_counts_for_nothing_where_the_volume_is_not_known(volume_m3: float | None) -> None:
    assert supply([FAN], volume_m3, _winter(7), _winter(8), LISBON) == Supply()


def test_no_devices_give_nothing() -> None:
    assert supply([], 0.5, _winter(7), _winter(8), LISBON) == Supply()


def test_who_works_where_and_when() -> None:
    assert working_in(ALL, "tent") == (FAN, MISTER)
    assert serving(ALL, Kind.FAN, _winter(7, 10), LISBON) == (FAN,)  # in a pause
    assert serving(ALL, Kind.FAN, _winter(23), LISBON) == ()
    assert serving(ALL, Kind.HUMIDIFIER, _winter(23), LISBON) == (MISTER,)
    assert serving(ALL, Kind.HEATER, _winter(12), LISBON) == (MAT,)


@pytest.mark.parametrize(
    ("device", "words"),
    [
        pytest.param(FAN, "fan, 20 m3/h, 5 min in every 30 min from 07:00 to 22:00", id="fan"),
        pytest.param(MISTER, "humidifier, 150 g/h, from 22:00 to 06:00", id="humidifier"),
        pytest.param(MAT, "heater, 15 W, all the time", id="heater"),
        pytest.param(
            Device("d", "tent", Kind.FAN, Timetable((), 90 * MINUTE, 180 * MINUTE), 4.5),
            "fan, 4.5 m3/h, 90 min in every 3 h, day and night",
            id="units that differ",
        ),
        pytest.param(
            Device("d", "tent", Kind.FAN, Timetable((), MINUTE / 2, MINUTE * 3 / 2), 4.5),
            "fan, 4.5 m3/h, 30 s in every 90 s, day and night",
            id="seconds",
        ),
        pytest.param(
            Device(
                "d",
                "tent",
                Kind.HEATER,
                Timetable((*BY_DAY, (time(23, 30), time(0)))),
                power_w=60.0,
            ),
            "heater, 60 W, from 07:00 to 22:00 and from 23:30 to 00:00",
            id="two windows",
        ),
    ],
)
def test_a_device_in_words(device: Device, words: str) -> None:
    assert in_words(device) == words
