"""What came of a forecast, when one is made, and how good they were."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.watch.foretold import (
    Foretold,
    Outcome,
    Since,
    TrackRecord,
    ends,
    news,
    reached,
    timely,
    track_record,
)
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from tests.make import NOON, at

MINUTE = timedelta(minutes=1)
DRY = Foretold(
    1, "tent", "middle", Quantity.HUMIDITY, Side.LOW, 80.0, NOON, at(18), at(25), at(35)
)
STALE = replace(DRY, quantity=Quantity.CO2, side=Side.HIGH, limit=1000.0)
Values = list[tuple[datetime, float]]


def line(start: float, per_min: float, minutes: int, since: float = 0.0) -> Values:
    """Return a value each minute."""
    return [(at(since + n), start + per_min * n) for n in range(minutes + 1)]


FALLS = line(84.9, -0.2, 60)  # below 80 from minute 25 on


# ------------------------------------------------------------------ reached


@pytest.mark.parametrize(
    ("foretold", "values", "when"),
    [
        pytest.param(DRY, FALLS, 25.0, id="falls through"),
        pytest.param(STALE, line(900.0, 4.0, 60), 26.0, id="rises through"),
        pytest.param(DRY, line(84.0, -0.01, 60), None, id="not reached"),
        pytest.param(
            DRY, [(at(0), 81.0), (at(1), 79.8), *line(81.0, 0.0, 9, 2)], None, id="noise"
        ),
        pytest.param(DRY, FALLS[:27], None, id="not long enough beyond to be sure"),
        pytest.param(DRY, [], None, id="nothing heard"),
    ],
)
def test_a_limit_is_reached_when_the_value_stays_beyond(
    foretold: Foretold, values: Values, when: float | None
) -> None:
    assert reached(foretold, values) == (None if when is None else at(when))


# ------------------------------------------------------------------ what came of it


def since(
    values: Values, now: float, disturbed: float | None = None, *, void: bool = False
) -> Since:
    known = [(time, value) for time, value in values if time <= at(now)]
    return Since(known, None if disturbed is None else at(disturbed), void, at(now))


STAYS = line(84.0, 0.0, 200)


@pytest.mark.parametrize(
    ("told", "what"),
    [
        pytest.param(since(FALLS, 45.0), (Outcome.CAME, 25.0), id="came"),
        pytest.param(since(FALLS, 39.0), (Outcome.OPEN, None), id="came, not sure yet"),
        pytest.param(since(FALLS, 20.0), (Outcome.OPEN, None), id="not yet"),
        pytest.param(since(FALLS, 45.0, 10.0), (Outcome.ACTED, None), id="misted before"),
        pytest.param(since(FALLS, 45.0, 31.0), (Outcome.CAME, 25.0), id="misted after it"),
        pytest.param(since(STAYS, 20.0, 15.0), (Outcome.ACTED, None), id="misted, still good"),
        pytest.param(since(STAYS, 64.0), (Outcome.OPEN, None), id="late, but it may yet"),
        pytest.param(since(STAYS, 65.0), (Outcome.DID_NOT, None), id="did not come"),
        pytest.param(since(STAYS, 20.0, void=True), (Outcome.UNKNOWN, None), id="another limit"),
        pytest.param(
            since(FALLS, 45.0, void=True), (Outcome.CAME, 25.0), id="in doubt since then"
        ),
        pytest.param(since(FALLS[:6] + FALLS[20:], 45.0), (Outcome.UNKNOWN, None), id="a gap"),
        pytest.param(since(FALLS[:6], 30.0), (Outcome.UNKNOWN, None), id="silent since"),
        pytest.param(since([], 11.0), (Outcome.UNKNOWN, None), id="the daemon stood still"),
    ],
)
def test_what_came_of_a_forecast(told: Since, what: tuple[Outcome, float | None]) -> None:
    outcome, minutes = what
    assert ends(DRY, told) == (outcome, None if minutes is None else at(minutes))


def test_a_forecast_without_a_latest_time_is_given_twice_its_time() -> None:
    never = replace(DRY, latest=None)
    assert ends(never, since(STAYS, 79.0))[0] is Outcome.OPEN
    assert ends(never, since(STAYS, 80.0))[0] is Outcome.DID_NOT


def test_a_sensor_that_reports_seldom_may_be_silent_for_longer() -> None:
    seldom = [(at(n), 84.0 - 0.2 * n) for n in range(0, 61, 12)]
    known = Since(seldom, None, False, at(60), gap=timedelta(minutes=30))
    assert ends(DRY, known)[0] is Outcome.CAME
    assert ends(DRY, replace(known, gap=timedelta(minutes=10)))[0] is Outcome.UNKNOWN


# ------------------------------------------------------------------ when one is made


@pytest.mark.parametrize(
    ("likely", "latest", "early", "is_it"),
    [
        pytest.param(25.0, 35.0, 30.0, True, id="in time"),
        pytest.param(31.0, 40.0, 30.0, False, id="too far"),
        pytest.param(4.0, 6.0, 30.0, False, id="too near"),
        pytest.param(3.0, 6.0, 5.0, True, id="near, for one who wants it so"),
        pytest.param(25.0, 50.0, 30.0, False, id="too wide"),
        pytest.param(25.0, None, 30.0, False, id="perhaps never"),
    ],
)
def test_a_notice_is_due_when_the_limit_is_near_and_sure(
    likely: float, latest: float | None, early: float, is_it: bool
) -> None:
    foretold = replace(
        DRY,
        earliest=at(min(18.0, likely - 1.0)),
        likely=at(likely),
        latest=None if latest is None else at(latest),
    )
    assert timely(foretold, early * MINUTE, NOON) is is_it


CAME = replace(DRY, outcome=Outcome.CAME, came=at(40))


@pytest.mark.parametrize(
    ("last", "disturbed", "now", "is_it"),
    [
        pytest.param(None, None, 0.0, True, id="the first"),
        pytest.param(DRY, None, 90.0, False, id="one is open"),
        pytest.param(CAME, None, 60.0, False, id="just come"),
        pytest.param(CAME, None, 70.0, True, id="long ago"),
        pytest.param(CAME, 45.0, 60.0, True, id="misted since"),
        pytest.param(CAME, -5.0, 60.0, False, id="misted before it was made"),
        pytest.param(replace(CAME, came=None), None, 56.0, True, id="it did not come"),
    ],
)
def test_one_forecast_is_made_of_each_dry_out(
    last: Foretold | None, disturbed: float | None, now: float, is_it: bool
) -> None:
    assert news(last, None if disturbed is None else at(disturbed), at(now)) is is_it


# ------------------------------------------------------------------ the record


def made(days_ago: float, came: float | None, outcome: Outcome = Outcome.CAME) -> Foretold:
    """Return a forecast of so many days ago that came so many minutes off."""
    by = timedelta(days=days_ago)
    first = replace(
        DRY, at=NOON - by, earliest=at(18) - by, likely=at(25) - by, latest=at(35) - by
    )
    return replace(
        first, came=None if came is None else first.likely + came * MINUTE, outcome=outcome
    )


@pytest.mark.parametrize(
    ("foretold", "record", "good"),
    [
        pytest.param([], TrackRecord(0, 0, 0), False, id="none"),
        pytest.param([made(n, 5.0) for n in range(4)], TrackRecord(4, 4, 4), False, id="too few"),
        pytest.param([made(n, 9.5) for n in range(5)], TrackRecord(5, 5, 5), True, id="enough"),
        pytest.param([made(n, -9.5) for n in range(5)], TrackRecord(5, 5, 0), True, id="too soon"),
        pytest.param(
            [made(n, 30.0 if n > 6 else 0.0) for n in range(10)],
            TrackRecord(10, 7, 7),
            True,
            id="just good",
        ),
        pytest.param(
            [made(n, 30.0 if n > 5 else 0.0) for n in range(10)],
            TrackRecord(10, 6, 6),
            False,
            id="not good",
        ),
        pytest.param(
            [made(n, None, Outcome.DID_NOT) for n in range(5)],
            TrackRecord(5, 0, 0),
            False,
            id="never came",
        ),
        pytest.param(
            [
                made(n, None, o)
                for n, o in enumerate([Outcome.ACTED, Outcome.UNKNOWN, Outcome.OPEN])
            ],
            TrackRecord(0, 0, 0),
            False,
            id="not counted",
        ),
        pytest.param(
            [made(n, 0.0 if n < 20 else 60.0) for n in range(29)],
            TrackRecord(20, 20, 20),
            True,
            id="the last twenty",
        ),
        pytest.param([made(30.1, 0.0)] * 9, TrackRecord(0, 0, 0), False, id="of another month"),
        pytest.param(
            [replace(made(n, 300.0), latest=None) for n in range(5)],
            TrackRecord(5, 0, 5),
            False,
            id="perhaps never",
        ),
    ],
)
def test_the_record_is_of_what_nobody_intervened_in(
    foretold: list[Foretold], record: TrackRecord, good: bool
) -> None:
    found = track_record(foretold, NOON)
    assert found == record
    assert found.good is good
