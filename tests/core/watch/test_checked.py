"""Checks in words, and what is refused."""

import pytest

from chamberwatch.core.air.calibration import Salt, SaltReading
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.checked import (
    ByHand,
    Check,
    FreshAirCheck,
    ReferenceCheck,
    SaltCheck,
    found,
    noted,
    quantity_of,
    signed,
)
from chamberwatch.core.watch.reading import Quantity

NACL = SaltReading(Salt.NACL, 20.4, 77.1)
KCL = SaltReading(Salt.KCL, 20.4, 86.0)


@pytest.mark.parametrize(
    ("check", "factor", "words", "note"),
    [
        pytest.param(
            SaltCheck((NACL,)),
            1.0,
            "Reads 1.6 % too high at 75 %; corrected by -1.6 % (± 0.5 % there).",
            "sensor top: humidity -1.6 % (one salt), by Ann",
            id="one-salt",
        ),
        pytest.param(
            SaltCheck((NACL, KCL)),
            1.0,
            "Reads 1.6 % too high at 75 % and 1.0 % too high at 85 %; corrected by slope 1.078 "
            "and offset -7.6 %, which is -1.3 % between them (± 0.4 % there).",
            "sensor top: humidity -1.3 % (two salts), by Ann",
            id="two-salts",
        ),
        pytest.param(
            SaltCheck((SaltReading(Salt.NACL, 20.0, 75.5),)),
            1.0,
            "Reads right at 75 %; corrected by +0.0 % (± 0.5 % there).",
            "sensor top: humidity +0.0 % (one salt), by Ann",
            id="right",
        ),
        pytest.param(
            FreshAirCheck(512.0),
            1.0,
            "Reads 82 ppm too high at 430 ppm; corrected by -82 ppm (± 35 ppm there).",
            "sensor top: CO2 -82 ppm (fresh air), by Ann",
            id="fresh-air",
        ),
        pytest.param(
            FreshAirCheck(400.0, 450.0),
            1.2,
            "Reads 30 ppm too high at 450 ppm; corrected by -30 ppm (± 35 ppm there).",
            "sensor top: CO2 -30 ppm (fresh air), by Ann",
            id="fresh-air-high-up",
        ),
        pytest.param(
            ReferenceCheck(19.4, 20.0),
            1.0,
            "Reads 0.6 °C too low at 20 °C; corrected by +0.6 °C (± 0.2 °C there).",
            "sensor top: temperature +0.6 °C (reference thermometer), by Ann",
            id="thermometer",
        ),
        pytest.param(
            ByHand(Quantity.PRESSURE, 1.0, 250.0, "weather station"),
            1.0,
            "Corrected by +250 Pa.",
            "sensor top: pressure +250 Pa (by hand), by Ann",
            id="by-hand",
        ),
        pytest.param(
            ByHand(Quantity.HUMIDITY, 1.05, -3.0),
            1.0,
            "Corrected by slope 1.05 and offset -3.0 %.",
            "sensor top: humidity +0.8 % (by hand), by Ann",
            id="by-hand-with-slope",
        ),
        pytest.param(
            ByHand(Quantity.CO2),
            1.0,
            "The correction is withdrawn: from here on readings count as without one.",
            "sensor top: CO2 correction withdrawn, by Ann",
            id="withdrawn",
        ),
    ],
)
def test_in_words(check: Check, factor: float, words: str, note: str) -> None:
    finding = found(check, factor)
    assert finding.words == words
    assert noted("top", finding, "Ann") == note
    assert finding.quantity is quantity_of(check)


@pytest.mark.parametrize(
    ("check", "factor", "how"),
    [
        pytest.param(
            SaltCheck((NACL, KCL)),
            1.0,
            "NaCl 75.5 % at 20.4 °C, read 77.1 %; KCl 85.0 % at 20.4 °C, read 86 %",
            id="salts",
        ),
        pytest.param(FreshAirCheck(512.0), 1.0, "fresh air 430 ppm, read 512 ppm", id="air"),
        pytest.param(
            FreshAirCheck(400.0),
            1.2,
            "fresh air 430 ppm, read 400 ppm, for the altitude 480 ppm",
            id="air-high-up",
        ),
        pytest.param(ReferenceCheck(19.4, 20.0), 1.0, "thermometer 20 °C, read 19.4 °C", id="t"),
        pytest.param(ByHand(Quantity.CO2, 1.0, 20.0, "a log"), 1.0, "a log", id="told"),
        pytest.param(ByHand(Quantity.CO2, 1.0, 20.0), 1.0, "by hand", id="not-told"),
    ],
)
def test_what_was_read_is_kept_in_words(check: Check, factor: float, how: str) -> None:
    assert found(check, factor).how == how


def test_the_line_itself() -> None:
    finding = found(FreshAirCheck(400.0), 1.2)
    assert (finding.slope, finding.plus_minus) == (1.0, 35.0)
    assert finding.offset == pytest.approx(-50.0, abs=1e-9)
    assert finding.by == pytest.approx(-50.0, abs=1e-9)


@pytest.mark.parametrize(
    ("check", "words"),
    [
        pytest.param(ByHand(Quantity.BATTERY, 1.0, 0.1), "battery is not calibrated", id="cell"),
        pytest.param(ByHand(Quantity.HUMIDITY, 0.79, 15.0), "slope of 0.79", id="flat"),
        pytest.param(ByHand(Quantity.HUMIDITY, 1.26, -15.0), "slope of 1.26", id="steep"),
        pytest.param(ByHand(Quantity.HUMIDITY, 1.0, 15.1), "at most 15.0 %", id="humidity"),
        pytest.param(ByHand(Quantity.CO2, 1.0, -301.0), "at most 300 ppm", id="co2"),
        pytest.param(ByHand(Quantity.TEMPERATURE, 1.0, 5.1), "at most 5.0 °C", id="warm"),
        pytest.param(ByHand(Quantity.PRESSURE, 1.0, 3001.0), "at most 3000 Pa", id="pressure"),
        pytest.param(ByHand(Quantity.CO2, 1.0, float("nan")), "changes", id="no-number"),
        pytest.param(SaltCheck(()), "one salt", id="no-salt"),
    ],
)
def test_refused(check: Check, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        found(check, 1.0)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        pytest.param(-0.04, "+0.0 %", id="no-minus-nothing"),
        pytest.param(2.06, "+2.1 %", id="up"),
        pytest.param(-1.6, "-1.6 %", id="down"),
    ],
)
def test_signs(value: float, written: str) -> None:
    assert signed(Quantity.HUMIDITY, value) == written
