"""The air of a week in figures."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.growing.band import Band
from chamberwatch.core.review.change import Hours, Outside, Unheard, outside, unheard, when
from chamberwatch.core.review.climate import (
    Freshness,
    Holding,
    Spell,
    freshness,
    holding,
    share,
    spells,
    typical_day,
    worst,
)
from chamberwatch.core.review.climate import (
    outside as air_outside,
)
from chamberwatch.core.review.summary import Summary
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity
from tests.core.review import climates
from tests.core.review.climates import HUMID, MINUTE, MONDAY, climate, hours, minutes, misting

RH = Quantity.HUMIDITY
LOW, HIGH = Standing.BELOW, Standing.ABOVE
OK = 85.0


def humid(_quantity: Quantity, _time: datetime) -> Band:
    return HUMID


def after(minute: int) -> datetime:
    return MONDAY + minute * MINUTE


def test_a_share_is_of_samples() -> None:
    found = share(RH, [*minutes([85.0, 70.0]), Summary(after(2), 6, 90.0, 96.0, 99.0, 1, 0, 5)])
    assert found is not None
    assert (found.judged, found.within, found.below, found.above) == (10, 3, 2, 5)
    assert (found.least, found.most, found.heard) == (70.0, 99.0, timedelta(minutes=45))
    assert found.mean == pytest.approx((2 * 85.0 + 2 * 70.0 + 6 * 96.0) / 10)
    assert found.in_band == pytest.approx(0.3)


def test_nothing_heard_and_nothing_judged() -> None:
    assert share(RH, []) is None
    found = share(RH, list(minutes([85.0], band=None)))
    assert found is not None
    assert found.in_band is None


@pytest.mark.parametrize(
    ("values", "found"),
    [
        pytest.param([OK] * 20, [], id="inside"),
        pytest.param([78.0] * 4 + [OK] * 9, [], id="too short"),
        pytest.param([OK] + [78.0] * 5 + [OK], [(LOW, 1, 6, 78.0)], id="five minutes"),
        pytest.param(
            [78.0] * 5 + [OK] * 5 + [77.0] * 5, [(LOW, 0, 15, 77.0)], id="back for a moment"
        ),
        pytest.param(
            [78.0] * 5 + [OK] * 6 + [77.0] * 5,
            [(LOW, 0, 5, 78.0), (LOW, 11, 16, 77.0)],
            id="back for longer",
        ),
        pytest.param(
            [78.0] * 5 + [97.0] * 6, [(LOW, 0, 5, 78.0), (HIGH, 5, 11, 97.0)], id="across"
        ),
        pytest.param(
            [78.0] * 5 + [None] * 6 + [77.0] * 5,
            [(LOW, 0, 5, 78.0), (LOW, 11, 16, 77.0)],
            id="a gap",
        ),
    ],
)
def test_spells(values: list[float | None], found: list[tuple[Standing, int, int, float]]) -> None:
    said = spells(RH, minutes(values), humid)
    assert [(s.side, s.start, s.end, s.extreme) for s in said] == [
        (side, after(start), after(end), extreme) for side, start, end, extreme in found
    ]


def test_which_quarters_hold_something_outside() -> None:
    def quarter(number: int, below: int = 0, above: int = 0) -> Summary:
        start = MONDAY + number * timedelta(minutes=15)
        return Summary(start, 9, 70.0, 80.0, 90.0, 9 - below - above, below, above)

    rows = [quarter(0), quarter(1, below=1), quarter(2, above=2), quarter(3), quarter(5, below=9)]
    assert air_outside(rows) == ((after(15), after(45)), (after(75), after(90)))
    assert air_outside([]) == ()


def test_a_minute_of_both_sides_counts_for_the_lower() -> None:
    half = [Summary(after(n), 4, 70.0, 85.0, 99.0, 0, 2, 2) for n in range(6)]
    (only,) = spells(RH, half, humid)
    assert only.side is LOW


def test_how_far_is_counted_in_deadbands() -> None:
    (only,) = spells(RH, minutes([76.0] * 10), humid)
    # 4 % below for ten minutes; the deadband of humidity is 2 %.
    assert only.excess == pytest.approx(20.0)
    assert not only.harm
    assert only.lasted == timedelta(minutes=10)


@pytest.mark.parametrize(
    ("band", "limit", "harm"),
    [
        pytest.param(HUMID, 80.0, True, id="beyond harm"),
        pytest.param(Band(harm_low=72.0), 72.0, True, id="only a harm limit"),
        pytest.param(Band(80.0, 95.0), 80.0, False, id="no harm limit"),
    ],
)
def test_which_limit_it_was(band: Band, limit: float, harm: bool) -> None:
    (only,) = spells(RH, minutes([69.0] * 5), lambda _q, _t: band)
    assert (only.limit, only.harm) == (limit, harm)


@pytest.mark.parametrize("band", [None, Band(high=95.0)], ids=["no band", "no such limit"])
def test_a_spell_without_its_limit_is_none(band: Band | None) -> None:
    assert spells(RH, minutes([69.0] * 5), lambda _q, _t: band) == ()


def test_the_worst_first() -> None:
    def one(harm: bool, excess: float, start: int) -> Spell:
        return Spell(RH, LOW, after(start), after(start + 9), 70.0, 80.0, harm, excess)

    mild, long, harmful, later = (
        one(False, 2.0, 0),
        one(False, 50.0, 1),
        one(True, 1.0, 2),
        one(False, 2.0, 3),
    )
    assert worst([later, mild, long, harmful]) == (harmful, long, mild, later)
    assert worst([later, mild, long, harmful], 1) == (harmful,)


# In Kathmandu clocks stand 45 minutes past; in Lisbon 25 October 2026 had 25 hours.
@pytest.mark.parametrize(
    ("zone", "start", "days", "each"),
    [
        pytest.param("Asia/Kathmandu", MONDAY, 7, dict.fromkeys(range(24), 28), id="quarters"),
        pytest.param(
            "Europe/Lisbon",
            datetime.fromisoformat("2026-10-24T23:00:00+00:00"),
            25 / 24,
            {h: 8 if h == 1 else 4 for h in range(24)},
            id="an hour twice",
        ),
    ],
)
def test_the_typical_day(zone: str, start: datetime, days: float, each: dict[int, int]) -> None:
    quarter = timedelta(minutes=15)
    rows = [
        Summary(start + n * quarter, 1, 80.0, 80.0 + n % 2, 90.0, 1)
        for n in range(round(days * 96))
    ]
    found = typical_day(rows, ZoneInfo(zone))
    assert {h.hour: h.judged for h in found} == each
    assert all(h.mean == pytest.approx(80.5) for h in found)


def test_an_hour_without_a_reading_has_no_mean() -> None:
    found = typical_day([], ZoneInfo("UTC"))
    assert {(h.mean, h.in_band) for h in found} == {(None, None)}


def test_how_much_of_an_hour_was_in_band() -> None:
    half = Summary(MONDAY, 4, 80.0, 82.0, 90.0, 1, 1, 0)
    assert typical_day([half], ZoneInfo("UTC"))[0].in_band == 0.5


def test_mistings_and_how_long_they_held() -> None:
    venting = Found(0, "tent", Kind.VENTING, MONDAY, MONDAY)
    found = holding(
        [misting(30), misting(10, action=None), misting(), misting(99, confirmed=False), venting]
    )
    assert found == Holding(3, 1, (timedelta(minutes=10), timedelta(minutes=30)))
    assert found.typical == timedelta(minutes=20)
    assert holding([]).typical is None


def test_air_changes() -> None:
    def fit(per_h: float | None, *, vented: bool = False) -> Exchange:
        return Exchange(0, "tent", MONDAY, MONDAY, vented, per_h)

    venting = Found(0, "tent", Kind.VENTING, MONDAY, MONDAY)
    found = freshness([venting, misting()], [fit(0.6), fit(None), fit(1.0), fit(9.0, vented=True)])
    assert found == Freshness(1, 0.8, 0.6, 1.0, 2)
    assert freshness([], []) == Freshness(0, None, None, None, 0)


# ---------------------------------------------------------------------- what to change


@pytest.mark.parametrize(
    ("counts", "found"),
    [
        pytest.param({}, None, id="never"),
        pytest.param({22: 5, 23: 5, 0: 5, 1: 5}, Hours(22, 1), id="over midnight"),
        pytest.param({14: 9}, Hours(14, 15), id="one hour"),
        pytest.param(dict.fromkeys(range(24), 1), None, id="at all hours"),
        pytest.param({23: 9}, Hours(23, 0), id="the last"),
    ],
)
def test_when_it_happens(counts: dict[int, int], found: Hours | None) -> None:
    assert when(hours(counts), LOW) == found
    assert when(hours(counts, above=True), HIGH) == found


@pytest.mark.parametrize(
    ("span", "night"),
    [(Hours(22, 6), True), (Hours(6, 22), False), (Hours(20, 0), False), (Hours(20, 1), True)],
)
def test_hours_of_the_night(span: Hours, night: bool) -> None:
    assert span.at_night is night


def test_what_was_outside_for_too_long() -> None:
    dry = climates.share(below=200, above=30)
    stale = climates.share(Quantity.CO2, above=400)
    few = climates.share(Quantity.TEMPERATURE, within=1, below=50)
    day = {RH: hours({3: 60, 4: 60})}
    found = outside(climate([dry, stale, few], day, [timedelta(minutes=20)]))
    assert found == (
        Outside(Quantity.CO2, HIGH, 400 / 1300, None, timedelta(minutes=20)),
        Outside(RH, LOW, 200 / 1130, Hours(3, 5), timedelta(minutes=20)),
    )


def test_what_is_missing() -> None:
    gone = climates.share(heard=timedelta(days=5))
    whole = climates.share(Quantity.CO2, heard=timedelta(days=6, hours=23))
    never = climates.share(Quantity.TEMPERATURE, within=0, heard=timedelta(days=1))
    found = unheard(climate([gone, whole, never]), timedelta(days=7))
    assert found == (Unheard(RH, timedelta(days=2)),)
