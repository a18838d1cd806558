"""Delays and deadbands: the usual, the grower's own, and those of what grows."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.growing.band import ROOM_BANDS, Stage
from chamberwatch.core.growing.patience import PATIENCE, OwnPatience, Patience, neediest
from chamberwatch.core.growing.species import Species
from chamberwatch.core.growing.wants import Following, Grown
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Place, Quantity

MIN = timedelta(minutes=1)
TENT = Chamber("tent", "Tent", Stage.FRUITING)
ROOM = Chamber("room", "Room")
USUAL = PATIENCE["humidity"]
SLOW = OwnPatience(on_delay=20 * MIN, deadband=3.0, priority=1)


def grown(patience: dict[str, OwnPatience], *, sealed: bool = False) -> Grown:
    species = Species("enoki", "Enoki", "F. filiformis", {}, patience=patience)
    return Grown(1, species, Stage.FRUITING, sealed)


def test_what_is_not_asked_for_stays_as_usual() -> None:
    assert SLOW.over(USUAL) == replace(USUAL, on_delay=20 * MIN, deadband=3.0, priority=1)
    assert OwnPatience().over(USUAL) == USUAL


@pytest.mark.parametrize(
    ("here", "on_delay"),
    [
        pytest.param([], 3 * MIN, id="nothing"),
        pytest.param([grown({"humidity": SLOW})], 20 * MIN, id="a slow one"),
        pytest.param([grown({"humidity": SLOW}), grown({})], 3 * MIN, id="the neediest of two"),
        pytest.param(
            [grown({"humidity": SLOW}), grown({}, sealed=True)], 20 * MIN, id="sealed has no say"
        ),
        pytest.param([grown({"co2": SLOW})], 3 * MIN, id="of something else"),
    ],
)
def test_what_grows_says_how_long(here: list[Grown], on_delay: timedelta) -> None:
    assert Following({}, tuple(here)).patience("humidity", USUAL).on_delay == on_delay
    chamber = replace(TENT, following=Following({}, tuple(here)))
    found = chamber.patience_for(Quantity.HUMIDITY)
    assert found is not None
    assert found.on_delay == on_delay


def test_the_growers_own_word_comes_first() -> None:
    own = {Quantity.HUMIDITY: OwnPatience(on_delay=7 * MIN)}
    here = Following({}, (grown({"humidity": SLOW}),))
    found = replace(TENT, patience=own, following=here).patience_for(Quantity.HUMIDITY)
    assert found == replace(USUAL, on_delay=7 * MIN, deadband=3.0, priority=1)


def test_the_least_of_each_is_enough_for_all() -> None:
    one = Patience(2.0, 3 * MIN, 9 * MIN, 10 * MIN, None, 1)
    other = Patience(1.0, 5 * MIN, 2 * MIN, 20 * MIN, 40 * MIN, 2)
    assert neediest([one, other]) == Patience(1.0, 3 * MIN, 2 * MIN, 10 * MIN, 40 * MIN, 2)
    assert neediest([one, replace(one, priority=None)]) == one
    assert neediest([]) is None


def test_a_room_is_judged_more_slowly_and_outdoors_not_at_all() -> None:
    assert ROOM.limits(Quantity.HUMIDITY, Place.AIR) == ROOM_BANDS["humidity"]
    assert ROOM.limits(Quantity.CO2, Place.AIR) == ROOM_BANDS["co2"]
    assert ROOM.limits(Quantity.HUMIDITY, Place.SURFACE) is None
    assert ROOM.limits(Quantity.TEMPERATURE, Place.AIR) is None
    assert replace(ROOM, outdoors=True).limits(Quantity.HUMIDITY, Place.AIR) is None
    assert TENT.limits(Quantity.HUMIDITY, Place.AIR) == TENT.band(Quantity.HUMIDITY, Place.AIR)
    room = ROOM.patience_for(Quantity.HUMIDITY)
    assert room is not None
    assert room.on_delay == 60 * MIN
    assert ROOM.patience_for(Quantity.TEMPERATURE) is None
    assert TENT.patience_for(Quantity.BATTERY) is None
