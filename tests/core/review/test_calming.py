"""The reminders that tire most, and what a week played again says of longer delays."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.review.calming import (
    Delays,
    Patiences,
    Setting,
    Suggestion,
    Tiring,
    delays,
    worst,
)
from chamberwatch.core.review.episode import Episode
from chamberwatch.core.review.record import Fate
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Event, Priority, Reminder
from tests.core.review.weeks import (
    COOL,
    DRY,
    LOOK,
    MIST,
    TODAY,
    VENT,
    WEEK,
    Told,
)

MINUTE = timedelta(minutes=1)
HUMIDITY = Quantity.HUMIDITY
MOIST = Delays(3 * MINUTE, 2 * MINUTE, 2.0, 6.0)
FRESH = Delays(5 * MINUTE, 3 * MINUTE, 75.0, 400.0)
KEYS = {("tent", Call.MIST): MOIST, ("tent", Call.VENT): FRESH}
PATIENCES = Patiences(KEYS, {"middle": 5 * MINUTE})


def unknown(first: Episode, second: Episode) -> float | None:
    del first, second
    return None


def tiring(
    told: Told,
    patiences: Patiences = PATIENCES,
    inside: Callable[[Episode, Episode], float | None] = unknown,
) -> tuple[Tiring, ...]:
    return worst(told.record(), patiences, inside)


def suggested(told: Told, **more: object) -> Suggestion | None:
    (found,) = tiring(told, **more)  # type: ignore[arg-type]
    return found.suggestion


# ---------------------------------------------------------------------- which are the worst


def test_a_calm_week_has_none() -> None:
    told = Told()
    told.episode(MIST, 10, 60)  # nobody was told, and it lasted
    assert tiring(told) == ()


def test_the_three_worst_by_messages_chatter_and_what_was_over_at_once() -> None:
    told = Told()
    for minutes in (100, 500, 900, 1300):
        told.told(VENT, minutes, minutes + 120)
    for minutes in (100, 120, 140):
        told.told(MIST, minutes, minutes + 10)
    told.told(COOL, 50, 110)
    told.told(LOOK, 200, 205)
    told.told(TODAY, 0)
    for day in range(1, 7):
        told.tell(TODAY, 1440 * day, 1440 * day)
    found = tiring(told)
    assert [(t.reminder, t.messages, t.chattering, t.fleeting, t.weight) for t in found] == [
        (MIST, 3, 3, 0, 6),
        (VENT, 4, 0, 0, 4),
        (LOOK, 1, 0, 1, 2),
    ]
    assert [(t.raises, t.typical) for t in found] == [
        (3, 10 * MINUTE),
        (4, 120 * MINUTE),
        (1, 5 * MINUTE),
    ]


def test_messages_of_other_weeks_and_those_not_sent_do_not_count() -> None:
    told = Told()
    told.move(VENT, Event.RAISED, -60)
    told.tell(VENT, -60, -60)
    told.tell(VENT, 30, fate=Fate.DROPPED)
    told.tell(VENT, 60, 60)
    told.tell(VENT, WEEK, WEEK)
    assert tiring(told) == ()
    told.tell(VENT, 90, 90)
    (found,) = tiring(told)
    assert (found.messages, found.raises, found.typical, found.suggestion) == (2, 0, None, None)


# ---------------------------------------------------------------------- a longer on-delay


def short_ones(*lasting: float, number: int = MIST, told: Told | None = None) -> Told:
    """Return a week of single short episodes, so far apart that none is part of another."""
    told = told or Told()
    for place, minutes in enumerate(lasting):
        told.told(number, 1000 * (place + 1), 1000 * (place + 1) + minutes)
    return told


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        # Outside for lasting + 3 (on) - 2 (off) minutes: 3.9, 3.9, 3.9 are less than 5.
        pytest.param(
            short_ones(2.9, 2.9, 2.9),
            Suggestion(Setting.ON_DELAY, HUMIDITY, 5.0, 3.0, 3, 3),
            id="a little longer is enough",
        ),
        # 4 minutes exactly reach a delay of 4 + 1 = 5: it would have been raised all the same.
        pytest.param(
            short_ones(4, 4, 4),
            Suggestion(Setting.ON_DELAY, HUMIDITY, 10.0, 3.0, 3, 3),
            id="as long as the delay is long enough to be raised",
        ),
        pytest.param(
            short_ones(2, 2, 2, 2, 18),
            Suggestion(Setting.ON_DELAY, HUMIDITY, 5.0, 3.0, 4, 5),
            id="the least change that spares nearly all",
        ),
        pytest.param(
            short_ones(2, 2, 18, 18, 18),
            Suggestion(Setting.ON_DELAY, HUMIDITY, 20.0, 3.0, 5, 5),
            id="a greater one where it spares far more",
        ),
        pytest.param(short_ones(120, 140, 160), None, id="really dry"),
        pytest.param(short_ones(2, 120), None, id="one alone is no reason"),
        pytest.param(short_ones(2, 2, 90, 90, 90, 90, 90), None, id="too few of many"),
        pytest.param(
            short_ones(2, 2, 90, 90, 90, 90),
            Suggestion(Setting.ON_DELAY, HUMIDITY, 5.0, 3.0, 2, 6),
            id="a third is some help",
        ),
    ],
)
def test_a_longer_on_delay(told: Told, expected: Suggestion | None) -> None:
    assert suggested(told) == expected


def test_what_somebody_misted_away_is_not_spared() -> None:
    told = short_ones(2, 2, 2, 2)
    told.did(Deed.MISTED, 1001)
    told.did(Deed.MISTED, 2001, recorded=False)
    told.did(Deed.MISTED, 2998)  # it was outside already, and not raised yet
    (found,) = tiring(told)
    assert (found.needed, found.suggestion) == (3, None)


def test_what_is_harmful_is_not_spared() -> None:
    told = Told()
    for start in (1000, 2000, 3000):
        told.move(MIST, Event.RAISED, start)
        told.tell(MIST, start, start, priority=Priority.HIGH)
        told.move(MIST, Event.RETURNED, start + 2)
    for start in (4000, 5000):
        told.move(MIST, Event.RAISED, start)
        told.move(MIST, Event.WORSENED, start + 1)
        told.move(MIST, Event.RETURNED, start + 2)
    (found,) = tiring(told)
    assert (found.needed, found.suggestion) == (5, None)


def test_what_nobody_was_told_of_may_be_spared_as_well() -> None:
    told = short_ones(2, 2)
    told.episode(MIST, 5000, 5002)
    assert suggested(told) == Suggestion(Setting.ON_DELAY, HUMIDITY, 5.0, 3.0, 3, 3)


def test_what_still_holds_needs_a_hand() -> None:
    told = short_ones(2, 2)
    told.told(MIST, 9000)
    (found,) = tiring(told)
    assert (found.raises, found.needed) == (3, 1)


# ---------------------------------------------------------------------- two episodes made one


def swinging(*pauses: float, lasting: float = 40.0, number: int = MIST) -> Told:
    """Return long episodes of one reminder with these pauses between them."""
    told, minutes = Told(), 1000.0
    told.told(number, minutes, minutes + lasting)
    for pause in pauses:
        minutes += lasting + pause
        told.told(number, minutes, minutes + lasting)
    return told


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        # Back inside for the pause, less 3 (on), and 2 (off) more: 7 - 1 = 6 minutes.
        pytest.param(
            swinging(7, 7, 7),
            Suggestion(Setting.OFF_DELAY, HUMIDITY, 10.0, 2.0, 3, 4),
            id="three of four",
        ),
        pytest.param(
            swinging(5.9, 5.9),
            Suggestion(Setting.OFF_DELAY, HUMIDITY, 5.0, 2.0, 2, 3),
            id="just within five minutes",
        ),
        pytest.param(
            swinging(6, 6),
            Suggestion(Setting.OFF_DELAY, HUMIDITY, 10.0, 2.0, 2, 3),
            id="back for as long as the delay is over",
        ),
        pytest.param(swinging(40, 40, 40), None, id="back for longer than any delay"),
    ],
)
def test_a_longer_off_delay(told: Told, expected: Suggestion | None) -> None:
    assert suggested(told) == expected


def test_dry_again_after_a_misting_is_news() -> None:
    told = swinging(7, 7, 7)
    for minutes in (1020, 1043, 1110):
        told.did(Deed.MISTED, minutes)
    # In the first episode, in the pause after it, and in the third.
    assert suggested(told) is None


def test_what_grew_harmful_the_second_time_is_news() -> None:
    told = Told()
    for start in (1000, 1047, 1094):
        told.move(MIST, Event.RAISED, start)
        told.tell(MIST, start, start)
        told.move(MIST, Event.WORSENED, start + 20)
        told.move(MIST, Event.RETURNED, start + 40)
    assert suggested(told) is None


def test_the_first_of_a_pair_may_be_of_the_week_before() -> None:
    told = Told()
    for start in (-50, -3, 44):
        told.told(MIST, start, start + 40)
    told.tell(MIST, 60, 60)
    assert suggested(told) is None  # one of this week followed upon another: too few
    told.told(MIST, 91, 131)
    assert suggested(told) == Suggestion(Setting.OFF_DELAY, HUMIDITY, 10.0, 2.0, 2, 2)


def reached(by: Mapping[int, float]) -> Callable[[Episode, Episode], float | None]:
    return lambda first, second: by.get(second.number) if first.number + 1 == second.number else -1


@pytest.mark.parametrize(
    ("by", "at_most", "expected"),
    [
        pytest.param(
            {2: 2.5, 3: 2.9, 4: 2.1},
            6.0,
            Suggestion(Setting.DEADBAND, HUMIDITY, 3.0, 2.0, 3, 4),
            id="never came far back",
        ),
        pytest.param(
            {2: 3.0, 3: 3.5, 4: 3.9},
            6.0,
            Suggestion(Setting.DEADBAND, HUMIDITY, 4.0, 2.0, 3, 4),
            id="a value at the deadband is back",
        ),
        pytest.param({2: 3.5, 3: 3.5, 4: 3.5}, 3.0, None, id="no room for it in the band"),
        pytest.param({2: 7.0, 3: 9.0, 4: 8.0}, 6.0, None, id="came far back"),
        pytest.param({2: 2.5}, 6.0, None, id="mostly not known"),
    ],
)
def test_a_wider_deadband(
    by: Mapping[int, float], at_most: float, expected: Suggestion | None
) -> None:
    told = swinging(60, 60, 60)
    patient = Patiences({("tent", Call.MIST): replace(MOIST, deadband_at_most=at_most)}, {})
    assert suggested(told, patiences=patient, inside=reached(by)) == expected


def test_air_that_was_well_for_hours_is_not_asked_about() -> None:
    def never(first: Episode, second: Episode) -> float:
        raise AssertionError((first, second))

    assert suggested(swinging(361, 361), inside=never) is None


def test_of_two_that_spare_alike_the_smaller_change_is_taken() -> None:
    # Off-delay 2 -> 5 is two and a half times as long, the deadband 2 -> 3 half as wide again.
    found = suggested(swinging(5, 5, 5), inside=reached({2: 2.5, 3: 2.5, 4: 2.5}))
    assert found == Suggestion(Setting.DEADBAND, HUMIDITY, 3.0, 2.0, 3, 4)


def test_a_deadband_of_nothing_is_a_great_change() -> None:
    patient = Patiences({("tent", Call.MIST): replace(MOIST, deadband=0.0)}, {})
    found = suggested(
        swinging(5, 5, 5), patiences=patient, inside=reached({2: 0.5, 3: 0.5, 4: 0.5})
    )
    assert found == Suggestion(Setting.OFF_DELAY, HUMIDITY, 5.0, 2.0, 3, 4)


def test_delays_that_are_long_already_have_nothing_longer() -> None:
    long = Delays(40 * MINUTE, 40 * MINUTE, 9.0, 9.0)
    found = suggested(short_ones(2, 2, 2), patiences=Patiences({("tent", Call.MIST): long}, {}))
    assert found is None


# ---------------------------------------------------------------------- what can't be set


def test_a_delay_that_the_band_says_is_not_suggested() -> None:
    by_band = replace(MOIST, on_is_set=False)
    found = suggested(short_ones(2, 2, 2), patiences=Patiences({("tent", Call.MIST): by_band}, {}))
    assert found is None


def test_nothing_is_known_of_a_chamber_that_is_no_more() -> None:
    (found,) = tiring(short_ones(2, 2, 90), Patiences({}, {}))
    assert (found.suggestion, found.raises, found.needed) == (None, 3, 1)


def test_surfaces_have_no_patience_of_their_own() -> None:
    told = Told()
    told.reminders[7] = Reminder(7, "tent", Call.DRY_OFF, "surfaces")
    patient = Patiences({("tent", Call.DRY_OFF): MOIST}, {})
    assert suggested(short_ones(2, 2, 2, number=7, told=told), patiences=patient) is None


# ---------------------------------------------------------------------- sensors


def test_a_sensor_that_reports_seldom_may_be_silent_for_longer() -> None:
    # Silent for lasting + 5 minutes.
    told = short_ones(3, 4, 9.9, number=LOOK)
    assert suggested(told) == Suggestion(Setting.UNHEARD_AFTER, None, 15.0, 5.0, 3, 3)


@pytest.mark.parametrize(
    "evidence",
    [
        pytest.param(DRY, id="in doubt for what it says"),
        pytest.param(None, id="nothing was kept"),
    ],
)
def test_a_sensor_in_doubt_is_not_calmed_by_patience(evidence: object) -> None:
    told = Told()
    told.reminders[LOOK] = replace(told.reminders[LOOK], evidence=evidence)  # type: ignore[arg-type]
    assert suggested(short_ones(3, 3, 3, number=LOOK, told=told)) is None


def test_a_sensor_that_is_no_more_has_no_settings() -> None:
    assert suggested(short_ones(3, 3, number=LOOK), patiences=Patiences({}, {})) is None


def test_who_has_seen_a_sensor_may_have_mended_it() -> None:
    told = Told()
    for start in (1000, 2000, 3000):
        told.move(LOOK, Event.RAISED, start)
        told.tell(LOOK, start, start)
        told.move(LOOK, Event.SEEN, start + 1)
        told.move(LOOK, Event.RETURNED, start + 3)
    (found,) = tiring(told)
    assert (found.needed, found.suggestion) == (3, None)


# ---------------------------------------------------------------------- how patient it was


@pytest.mark.parametrize(
    ("band", "call", "expected"),
    [
        pytest.param(
            Band(80.0, 95.0), Call.MIST, Delays(3 * MINUTE, 2 * MINUTE, 2.0, 7.5), id="low side"
        ),
        pytest.param(
            Band(80.0, 95.0, high_after=60 * MINUTE),
            Call.DRY_OFF,
            Delays(60 * MINUTE, 2 * MINUTE, 2.0, 7.5, on_is_set=False),
            id="as the band says",
        ),
        pytest.param(
            Band(80.0, 95.0, high_after=60 * MINUTE),
            Call.MIST,
            Delays(3 * MINUTE, 2 * MINUTE, 2.0, 7.5),
            id="the other side of it",
        ),
        pytest.param(
            Band(80.0), Call.MIST, Delays(3 * MINUTE, 2 * MINUTE, 2.0, 6.0), id="one limit"
        ),
        # 800 - 600 ppm: fresh air of a lived-in room can't bring it lower.
        pytest.param(
            Band(None, 800.0), Call.VENT, Delays(5 * MINUTE, 3 * MINUTE, 75.0, 200.0), id="CO2"
        ),
        pytest.param(
            Band(None, None, None, 2000.0),
            Call.VENT,
            Delays(5 * MINUTE, 3 * MINUTE, 75.0, 300.0),
            id="harm alone",
        ),
    ],
)
def test_how_patient_a_reminder_is(band: Band, call: Call, expected: Delays) -> None:
    quantity = Quantity.CO2 if call is Call.VENT else HUMIDITY
    assert delays(PATIENCE[quantity], band, call) == expected
