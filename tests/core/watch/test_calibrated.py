"""What a reading is worth, at its own time."""

from dataclasses import replace

import pytest

from chamberwatch.core.watch.calibrated import Calibration, Corrections
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Quantity, Reading
from tests.make import at, house

RH, CO2, WARM = Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE


def calibration(
    number: int, minutes: float, offset: float, slope: float = 1.0, quantity: Quantity = RH
) -> Calibration:
    return Calibration(
        number, "top", quantity, slope, offset, at(minutes), "Ann", "by hand", at(minutes)
    )


def high_house(sensor: str = "top") -> House:
    """Return the house at 1500 m, with a CO2 sensor that knows nothing of it."""
    known = house()
    plain = replace(known.sensors[sensor], corrects_pressure=False)
    return replace(known, sensors={**known.sensors, sensor: plain}, pressure_pa=84_555.9)


def reading(value: float, minutes: float, quantity: Quantity = RH, sensor: str = "top") -> Reading:
    return Reading(at(minutes), sensor, quantity, value)


def parts(found: Reading) -> tuple[float, float | None]:
    return found.value, found.raw


FIRST, SECOND = calibration(1, 10, -1.5), calibration(2, 20, 2.0, 0.95)
TABLE = Corrections.of(house(), [SECOND, FIRST])


@pytest.mark.parametrize(
    ("minutes", "value", "raw"),
    [
        pytest.param(9.9, 80.0, None, id="before"),
        pytest.param(10.0, 78.5, 80.0, id="from-its-time-on"),
        pytest.param(19.9, 78.5, 80.0, id="until-the-next"),
        pytest.param(20.0, 78.0, 80.0, id="the-next"),
        pytest.param(9000.0, 78.0, 80.0, id="for-good"),
    ],
)
def test_it_holds_until_the_next(minutes: float, value: float, raw: float | None) -> None:
    assert parts(TABLE.corrected(reading(80.0, minutes))) == (value, raw)


def test_others_are_left_alone() -> None:
    for other in (reading(80.0, 30, WARM), reading(80.0, 30, sensor="middle")):
        assert TABLE.corrected(other) is other
    assert TABLE.in_force("middle", RH, at(30)) is None
    assert TABLE.in_force("top", RH, at(0)) is None
    assert TABLE.in_force("top", RH, at(15)) == FIRST


def test_what_was_corrected_is_corrected_from_what_was_sent() -> None:
    once = TABLE.corrected(reading(80.0, 15))
    assert parts(TABLE.corrected(once)) == parts(once) == (78.5, 80.0)
    assert parts(Corrections().corrected(once)) == (80.0, None)


def test_a_neutral_one_withdraws() -> None:
    withdrawn = Corrections.of(house(), [FIRST, calibration(2, 10, 0.0)])
    once = TABLE.corrected(reading(80.123456789, 15))
    assert parts(withdrawn.corrected(once)) == (80.123456789, None)
    assert calibration(2, 10, 0.0).neutral
    assert not FIRST.neutral


def test_of_two_at_one_time_the_later_told_holds() -> None:
    later, earlier = calibration(2, 10, 3.0), calibration(1, 10, -1.5)
    for told in ([later, earlier], [earlier, later]):
        assert Corrections.of(house(), told).in_force("top", RH, at(11)) == later


@pytest.mark.parametrize(
    ("sent", "offset", "value"),
    [
        pytest.param(104.0, 3.0, 105.0, id="not-above-105"),
        pytest.param(1.0, -3.0, 0.0, id="not-below-0"),
        pytest.param(77.1, -1.63, 75.47, id="no-dust-of-fractions"),
    ],
)
def test_it_stays_plausible(sent: float, offset: float, value: float) -> None:
    table = Corrections.of(house(), [calibration(1, 0, offset)])
    assert parts(table.corrected(reading(sent, 1))) == (value, sent)


def test_altitude_comes_before_the_calibration() -> None:
    bare = Corrections.of(high_house(), [])
    # Ideal gas, 1500 m: factor 1.198; 835 ppm read are 1000.
    assert bare.factor("top") == pytest.approx(1.198, abs=5e-4)
    assert bare.factor("middle") == 1.0
    assert bare.corrected(reading(835.0, 0, CO2)).value == pytest.approx(1000.0, abs=1.0)
    assert bare.corrected(reading(835.0, 0, CO2)).raw == 835.0
    assert parts(bare.corrected(reading(835.0, 0, CO2, "middle"))) == (835.0, None)
    assert parts(bare.corrected(reading(80.0, 0))) == (80.0, None)
    both = Corrections.of(high_house(), [calibration(1, 10, -70.0, quantity=CO2)])
    assert both.corrected(reading(835.0, 9, CO2)).value == pytest.approx(1000.6, abs=0.1)
    assert both.corrected(reading(835.0, 10, CO2)).value == pytest.approx(930.6, abs=0.1)


def test_a_place_at_the_sea_needs_no_correction() -> None:
    same = replace(high_house(), pressure_pa=101_325.0)
    assert parts(Corrections.of(same, []).corrected(reading(835.0, 0, CO2))) == (835.0, None)
