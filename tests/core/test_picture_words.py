"""What stands written in a picture."""

from datetime import UTC

import pytest

from chamberwatch.core import picture_words
from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.reading import Quantity, Reading
from tests.make import at, humidity

BAND = Band(80.0, 95.0, 70.0)
CO2 = Reading(at(0), "middle", Quantity.CO2, 1200.0)
CORE = Reading(at(0), "block", Quantity.TEMPERATURE, 36.0)


@pytest.mark.parametrize(
    ("chamber", "reading", "heading"),
    [
        ("Tent", humidity(76.0), "Tent: humidity"),
        ("Tent", CO2, "Tent: CO₂"),
        ("The tent in the corner by the door", CORE, "The tent in the corne…: temperature"),
    ],
)
def test_headings(chamber: str, reading: Reading, heading: str) -> None:
    assert picture_words.heading(chamber, reading) == heading


@pytest.mark.parametrize(
    ("reading", "band", "written"),
    [
        pytest.param(humidity(76.0), BAND, "76 %", id="outside"),
        pytest.param(humidity(79.7), BAND, "79.7 %", id="outside, reads as the limit"),
        pytest.param(humidity(80.2), BAND, "80 %", id="inside, reads as the limit"),
        pytest.param(humidity(79.7), None, "80 %", id="no band"),
    ],
)
def test_values(reading: Reading, band: Band | None, written: str) -> None:
    assert picture_words.beside(reading, band) == written


@pytest.mark.parametrize(
    ("reading", "band", "minutes", "said"),
    [
        (humidity(76.0), BAND, 2, "at 12:00, below the band of 80 to 95 %"),
        (humidity(90.0), BAND, 2, "at 12:00, inside the band of 80 to 95 %"),
        (humidity(97.0), BAND, 2, "at 12:00, above the band of 80 to 95 %"),
        (humidity(97.0), BAND, 45, "last heard at 12:00, above the band of 80 to 95 %"),
        (humidity(41.0), None, 2, "at 12:00"),
        (CO2, Band(high=1000.0), 2, "at 12:00, above the limit of 1000 ppm"),
        (CO2, Band(low=400.0), 2, "at 12:00, inside the limit of 400 ppm"),
        (CORE, Band(harm_high=35.0), 2, "at 12:00, above the limit of 35 °C"),
        (CORE, Band(harm_low=5.0), 2, "at 12:00, inside the limit of 5 °C"),
        (CORE, Band(), 2, "at 12:00, inside no limit"),
    ],
)
def test_where_it_lies(reading: Reading, band: Band | None, minutes: int, said: str) -> None:
    assert picture_words.said(reading, band, at(minutes), UTC) == said


@pytest.mark.parametrize(
    ("low", "said"), [(True, "harmful below 70 %"), (False, "harmful above 70 %")]
)
def test_harm(low: bool, said: str) -> None:
    assert picture_words.harmful(70.0, humidity(76.0), low=low) == said
