"""Chambers, sensors, bands and judgements."""

from dataclasses import replace

import pytest

from chamberwatch.core.errors import Fault, SettingsError, UnknownNameError
from chamberwatch.core.growing.band import CORE_BAND, HOME_BANDS, Band, Stage
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.judgement import Standing, judge
from chamberwatch.core.watch.reading import Place, Quantity
from tests.make import ROOM, SHELF, TENT, house, humidity


@pytest.mark.parametrize(
    ("chamber", "quantity", "place", "band"),
    [
        pytest.param(
            TENT,
            Quantity.HUMIDITY,
            Place.AIR,
            HOME_BANDS[Stage.FRUITING]["humidity"],
            id="fruiting humidity",
        ),
        pytest.param(
            SHELF, Quantity.HUMIDITY, Place.AIR, None, id="sealed bags keep their own humidity"
        ),
        pytest.param(SHELF, Quantity.CO2, Place.AIR, None, id="and their own CO2"),
        pytest.param(
            SHELF,
            Quantity.TEMPERATURE,
            Place.AIR,
            HOME_BANDS[Stage.COLONISATION]["temperature"],
            id="colonising temperature",
        ),
        pytest.param(TENT, Quantity.TEMPERATURE, Place.CORE, CORE_BAND, id="core"),
        pytest.param(TENT, Quantity.HUMIDITY, Place.CORE, None, id="core humidity"),
        pytest.param(TENT, Quantity.TEMPERATURE, Place.SURFACE, None, id="surface"),
        pytest.param(ROOM, Quantity.HUMIDITY, Place.AIR, None, id="a room is not judged"),
    ],
)
def test_band(chamber: object, quantity: Quantity, place: Place, band: Band | None) -> None:
    assert chamber in (TENT, ROOM, SHELF)
    found = next(c for c in (TENT, ROOM, SHELF) if c == chamber).band(quantity, place)
    assert found == band


def test_what_its_air_is_judged_by_is_the_same_whoever_says_so() -> None:
    found = SHELF.judged_by()
    stated = HOME_BANDS[Stage.COLONISATION]["temperature"]
    assert stated.source
    assert found == {Quantity.TEMPERATURE: replace(stated, source="")}
    assert replace(SHELF, title="Another shelf").judged_by() == found
    assert TENT.judged_by() != found
    assert ROOM.judged_by() == {}


@pytest.mark.parametrize(
    ("value", "standing", "by", "harm"),
    [
        pytest.param(80.0, Standing.WITHIN, 0.0, False, id="on the limit"),
        pytest.param(76.0, Standing.BELOW, 4.0, False, id="below"),
        pytest.param(69.0, Standing.BELOW, 11.0, True, id="harm"),
        pytest.param(97.5, Standing.ABOVE, 2.5, False, id="above"),
    ],
)
def test_judge(value: float, standing: Standing, by: float, harm: bool) -> None:
    found = judge(humidity(value), "air", HOME_BANDS[Stage.FRUITING]["humidity"])
    assert (found.standing, found.by, found.harm) == (standing, by, harm)


@pytest.mark.parametrize(
    ("band", "value", "standing", "by"),
    [
        pytest.param(CORE_BAND, 36.0, Standing.ABOVE, 1.0, id="harm limit stands in above"),
        pytest.param(Band(harm_low=5.0), 4.0, Standing.BELOW, 1.0, id="and below"),
        pytest.param(Band(), 4.0, Standing.WITHIN, 0.0, id="no limit at all"),
    ],
)
def test_harm_limits_stand_in(band: Band, value: float, standing: Standing, by: float) -> None:
    found = judge(humidity(value), "core", band)
    assert (found.standing, found.by) == (standing, by)


def test_unknown_chamber_lists_the_known() -> None:
    with pytest.raises(UnknownNameError, match="tent, room, shelf"):
        house().chamber("tend")


def test_unknown_sensor_lists_the_known() -> None:
    assert house().sensor("top").shelf == "top"
    with pytest.raises(UnknownNameError, match=r"“tip”\. Known: middle, top, block, wall, room\."):
        house().sensor("tip")
    with pytest.raises(UnknownNameError, match="Known: none yet"):
        replace(house(), sensors={}).sensor("tip")


def test_a_house_knows_the_titles_of_its_chambers_and_who_measures_their_air() -> None:
    assert house().titles() == {"tent": "Tent", "room": "Living room", "shelf": "Dark shelf"}
    assert house().air_sensors("tent") == ["middle", "top"]
    assert house().air_sensors("shelf") == []


@pytest.mark.parametrize(
    ("sensor", "words"),
    [
        pytest.param(Sensor("a", "tent"), "air", id="mid-air"),
        pytest.param(Sensor("a", "tent", shelf="top"), "top", id="shelf"),
        pytest.param(Sensor("a", "tent", Place.CORE), "core", id="core"),
    ],
)
def test_where(sensor: Sensor, words: str) -> None:
    assert sensor.where() == words


def test_sensors_of_a_chamber_keep_their_order() -> None:
    assert [s.name for s in house().sensors_in("tent")] == ["middle", "top", "block", "wall"]


def test_sensors_around_a_chamber_are_its_own_and_its_rooms() -> None:
    home = house()
    with_room = replace(TENT, surrounding="room")
    home = replace(home, chambers={**home.chambers, "tent": with_room})
    assert home.around("tent") == ("middle", "top", "block", "wall", "room")
    assert home.around("room") == ("room",)


def test_a_fault_reads_as_one_line() -> None:
    with_value = Fault("a.toml", "site.altitude_m", '"high"', "Give a number.")
    bare = Fault("a.toml", "", "", "Can't be read.")
    assert str(with_value) == 'a.toml: site.altitude_m = "high": Give a number.'
    error = SettingsError((with_value, bare))
    assert str(error).splitlines() == [str(with_value), "a.toml: Can't be read."]
    assert error.faults == (with_value, bare)
