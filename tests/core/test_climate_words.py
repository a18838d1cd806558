"""What is said of the air of a week."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core import climate_words, review_words
from chamberwatch.core.review.change import Hours
from chamberwatch.core.review.climate import Freshness, Holding, Share, Spell
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity
from tests.core.review.climates import MONDAY, climate, hours, share

LISBON = ZoneInfo("Europe/Lisbon")
MIN = timedelta(minutes=1)
RH, CO2, T = Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE
LOW, HIGH = Standing.BELOW, Standing.ABOVE


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (0.0, "0 %"),
        (0.0099, "less than 1 %"),
        (0.01, "1 %"),
        (0.5, "50 %"),
        (0.99, "99 %"),
        (0.9901, "over 99 %"),
        (1.0, "100 %"),
    ],
)
def test_a_share(part: float, said: str) -> None:
    assert climate_words.percent(part) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (0, "0 min"),
        (45, "45 min"),
        (60, "1 h"),
        (190, "3 h 10 min"),
        (1440, "1 day"),
        (52 * 60, "2 days 4 h"),
    ],
)
def test_how_long(minutes: int, said: str) -> None:
    assert review_words.lasted(minutes * MIN) == said


@pytest.mark.parametrize(
    ("now", "before", "said"),
    [
        pytest.param(share(), None, "100 % within the band", id="all"),
        pytest.param(share(within=0), None, "no band held for it", id="no band"),
        pytest.param(
            share(within=90, below=10), None, "90 % within the band, 10 % too dry", id="dry"
        ),
        pytest.param(
            share(CO2, within=60, below=10, above=30),
            None,
            "60 % within the band, 10 % fresher than the crop wants, 30 % stale",
            id="both sides",
        ),
        pytest.param(share(), share(), "100 % within the band; as the week before", id="same"),
        pytest.param(share(), share(within=0), "100 % within the band", id="no band before"),
        pytest.param(
            share(T, within=9, above=1),
            share(T),
            "90 % within the band, 10 % too warm; worse than the week before (100 %)",
            id="worse",
        ),
        pytest.param(
            share(T),
            share(T, within=8, below=2),
            "100 % within the band; better than the week before (80 %)",
            id="better",
        ),
    ],
)
def test_in_band(now: Share, before: Share | None, said: str) -> None:
    assert climate_words.in_band(now, before) == said


def test_between_which_values() -> None:
    assert climate_words.span_words(share()) == "61 % to 97 %, mean 84 %"


@pytest.mark.parametrize(
    ("found", "said"),
    [
        pytest.param(
            Spell(RH, LOW, MONDAY, MONDAY + 190 * MIN, 66.0, 80.0, True, 1.0),
            "Too dry for 3 h 10 min, from Monday 00:00; humidity harmfully low: 66 %, band from "
            "80 %.",
            id="harmful",
        ),
        pytest.param(
            Spell(CO2, HIGH, MONDAY, MONDAY + 20 * MIN, 1340.0, 1000.0, False, 1.0),
            "Stale for 20 min, from Monday 00:00; CO2 up to 1340 ppm, band up to 1000 ppm.",
            id="stale",
        ),
    ],
)
def test_a_spell(found: Spell, said: str) -> None:
    assert climate_words.spell(found, LISBON) == said


@pytest.mark.parametrize(
    ("found", "said"),
    [
        pytest.param(Holding(0, 0, ()), "No misting shows in the readings.", id="none"),
        pytest.param(
            Holding(1, 0, ()), "1 misting found; of none is known how long it held.", id="unknown"
        ),
        pytest.param(
            Holding(2, 1, (9 * MIN,)),
            "2 mistings found, 1 of them not recorded; the one whose end is known held 9 min.",
            id="one",
        ),
        pytest.param(
            Holding(1, 1, ()),
            "1 misting found, not recorded; of none is known how long it held.",
            id="not recorded",
        ),
        pytest.param(
            Holding(2, 2, ()),
            "2 mistings found, none of them recorded; of none is known how long it held.",
            id="none recorded",
        ),
        pytest.param(
            Holding(3, 0, (9 * MIN, 24 * MIN, 90 * MIN)),
            "3 mistings found; one typically held 24 min (9 min to 1 h 30 min).",
            id="three",
        ),
    ],
)
def test_mistings(found: Holding, said: str) -> None:
    assert climate_words.holding(found) == said


@pytest.mark.parametrize(
    ("found", "said"),
    [
        pytest.param(
            Freshness(0, None, None, None, 0),
            "No venting found. The closed chamber's air changes could not be told from the CO2.",
            id="none",
        ),
        pytest.param(
            Freshness(1, 0.84, 0.84, 0.84, 1),
            "1 venting found. Closed, its air changed 0.8 times an hour (one stretch of the "
            "record).",
            id="one",
        ),
        pytest.param(
            Freshness(14, 0.8, 0.6, 1.1, 9),
            "14 ventings found. Closed, its air changed about 0.8 times an hour (0.6 to 1.1, "
            "from 9 stretches).",
            id="many",
        ),
    ],
)
def test_air_changes(found: Freshness, said: str) -> None:
    assert climate_words.freshness(found) == said


def test_nothing_to_change() -> None:
    assert climate_words.changes(climate([share()]), timedelta(days=7)) == ()


def test_what_to_change_at_night() -> None:
    week = climate([share(below=300)], {RH: hours({0: 50, 1: 50})}, [24 * MIN])
    (only,) = climate_words.changes(week, timedelta(days=7))
    assert only == (
        "Too dry 25 % of the time, mostly from 00:00 to 02:00. A misting typically held only "
        "24 min. Make the last visit of the day the one that fills the tray. Let more water stand "
        "(wet walls, a fuller tray, a cloth that stays wet), close the cover better, or leave it "
        "less of a draught."
    )


def test_what_holds_long_is_not_complained_of() -> None:
    week = climate([share(below=300)], {}, [90 * MIN])
    (only,) = climate_words.changes(week, timedelta(days=7))
    assert only.startswith("Too dry 25 % of the time, at no hours in particular. Let more water")


def test_no_more_than_three_and_gaps_first() -> None:
    shares = [
        share(heard=timedelta(days=5), below=300, above=300),
        share(CO2, above=900),
        share(T, below=400),
    ]
    said = climate_words.changes(climate(shares), timedelta(days=7))
    assert len(said) == 3
    assert said[0].startswith("The humidity is missing for 2 days. ")
    assert [s.split(" ")[0] for s in said[1:]] == ["Stale", "Too"]


@pytest.mark.parametrize(
    ("span", "said"),
    [(Hours(22, 0), "mostly from 22:00 to 24:00"), (Hours(9, 11), "mostly from 09:00 to 11:00")],
)
def test_hours_of_the_clock(span: Hours, said: str) -> None:
    assert climate_words.hours_words(span) == said
