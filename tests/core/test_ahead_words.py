"""What is said of a limit that is yet to be reached."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core import ahead_words
from chamberwatch.core.watch.foretold import Foreseen, Foretold, TrackRecord
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from tests.make import NOON, TENT, at

ZONE = ZoneInfo("Europe/Berlin")
DRY = Foreseen(
    Foretold(0, "tent", "middle", Quantity.HUMIDITY, Side.LOW, 85.0, NOON, at(18), at(26), at(39)),
    88.2,
    -7.0,
)
STALE = Foreseen(
    replace(DRY.foretold, quantity=Quantity.CO2, side=Side.HIGH, limit=1000.0), 912.0, 180.0
)
COLD = Foreseen(
    replace(
        DRY.foretold,
        quantity=Quantity.TEMPERATURE,
        limit=13.0,
        earliest=at(8),
        likely=at(12),
        latest=at(19),
    ),
    13.4,
    -2.0,
)
HOT = Foreseen(replace(COLD.foretold, side=Side.HIGH, limit=24.0), 23.4, 2.0)


@pytest.mark.parametrize(
    ("seen", "title", "body"),
    [
        pytest.param(
            DRY,
            "Tent: about 25 min until 85 %",
            "Humidity is 88 % and falling; it is at 85 % at about 13:25 (13:18 to 13:39). A "
            "misting now saves a dash later. (Right 9 of 10 times here.)",
            id="dry",
        ),
        pytest.param(
            STALE,
            "Tent: about 25 min until 1000 ppm",
            "CO2 is 912 ppm and rising; it is at 1000 ppm at about 13:25 (13:18 to 13:39). A "
            "venting now saves a dash later. (Right 9 of 10 times here.)",
            id="stale",
        ),
        pytest.param(
            COLD,
            "Tent: about 12 min until 13 °C",
            "Temperature is 13.4 °C and falling; it is at 13 °C at about 13:10 (13:08 to 13:19). "
            "There is time yet to see to its warmth. (Right 9 of 10 times here.)",
            id="cold",
        ),
        pytest.param(
            HOT,
            "Tent: about 12 min until 24 °C",
            "Temperature is 23.4 °C and rising; it is at 24 °C at about 13:10 (13:08 to 13:19). "
            "There is time yet to give it shade or a cooler room. (Right 9 of 10 times here.)",
            id="hot",
        ),
    ],
)
def test_a_notice_says_when_why_and_how_sure(seen: Foreseen, title: str, body: str) -> None:
    said = ahead_words.early(TENT, seen, TrackRecord(10, 9, 8), NOON, ZONE)
    assert (said.title, said.body) == (title, body)


def test_the_page_says_when_a_limit_is_reached() -> None:
    assert ahead_words.coming(DRY, NOON, ZONE) == (
        "Humidity falls to 85 % at about 13:25 (13:18 to 13:39)."
    )
    never = Foreseen(replace(STALE.foretold, likely=at(28), latest=None), 900.0, 90.0)
    assert ahead_words.coming(never, NOON, ZONE) == (
        "CO2 rises to 1000 ppm at about 13:30 (not before 13:18, and perhaps never)."
    )


@pytest.mark.parametrize(
    ("quantity", "record", "said"),
    [
        pytest.param(
            Quantity.HUMIDITY,
            TrackRecord(12, 10, 11),
            "Of the last 12 forecasts of the humidity here 10 were right within 10 min, 11 within "
            "the times they named.",
            id="good",
        ),
        pytest.param(
            Quantity.CO2,
            TrackRecord(6, 2, 5),
            "Of the last 6 forecasts of the CO2 here 2 were right within 10 min, 5 within the "
            "times they named. That is too few to send early notices.",
            id="poor",
        ),
        pytest.param(
            Quantity.HUMIDITY,
            TrackRecord(2, 2, 2),
            "How good forecasts of the humidity are here can't be told yet: 2 of the 5 it takes "
            "have come out.",
            id="young",
        ),
    ],
)
def test_the_record_is_told_as_it_is(quantity: Quantity, record: TrackRecord, said: str) -> None:
    assert ahead_words.how_good(quantity, record) == said
