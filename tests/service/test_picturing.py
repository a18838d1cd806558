"""Which picture goes with which message."""

from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority, Reminder
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.picturing import Picturing, Subject
from tests.make import NOON, evidence
from tests.service.machine import Bench

ROW = OutRow(0, 1, 1, "phone", "t", "b", Priority.MEDIUM, OutState.WAITING, NOON, NOON)
MIST = Reminder(1, "tent", Call.MIST, active=True, evidence=evidence())
NOTHING = Evidence("", None, None, None, None, None, NOON)

CELSIUS = ShownIn()


def plain(drawing: str) -> bytes:
    return drawing.encode()


def picturing(bench: Bench, shown_in: ShownIn = CELSIUS) -> Picturing:
    return Picturing(bench.sql, bench.clock, bench.house, UTC, plain, shown_in)


def written(bench: Bench, row: OutRow = ROW, reminder: Reminder | None = MIST) -> str:
    bench.intake.commit()
    return (picturing(bench).of(row, reminder) or b"").decode()


@pytest.fixture
def heard(bench: Bench) -> Bench:
    bench.minutes_of("humidity", 88.0, 5, "top")
    bench.minutes_of("humidity", 76.0, 5)
    bench.minutes_of("co2", 1400.0, 5)
    return bench


def test_what_the_reminder_is_about(heard: Bench) -> None:
    assert "76 % at 12:10, below the band" in written(heard)
    assert "CO₂" not in written(heard)


def test_of_the_sensor_that_spoke(heard: Bench) -> None:
    spoke = replace(MIST, evidence=evidence(sensor="top"))
    assert "88 % at 12:05, inside the band" in written(heard, reminder=spoke)
    gone = replace(MIST, evidence=evidence(sensor="gone"))
    assert "76 % at 12:10" in written(heard, reminder=gone)


def test_co2_comes_with_the_humidity(heard: Bench) -> None:
    vent = replace(MIST, call=Call.VENT, evidence=evidence(1400.0, Quantity.CO2))
    drawing = written(heard, reminder=vent)
    assert drawing.index("Tent: CO₂") < drawing.index("Tent: humidity")


@pytest.mark.parametrize(
    ("row", "reminder", "shown"),
    [
        pytest.param(ROW, replace(MIST, evidence=None), True, id="air, no value kept"),
        pytest.param(
            ROW, replace(MIST, call=Call.DRY_OFF, evidence=NOTHING), True, id="wet surfaces"
        ),
        pytest.param(
            ROW, replace(MIST, call=Call.CHECK_SENSOR, evidence=NOTHING), False, id="silent sensor"
        ),
        pytest.param(ROW, replace(MIST, call=Call.CHECK_SENSOR), True, id="doubted humidity"),
        pytest.param(ROW, replace(MIST, call=Call.TODAY, evidence=None), False, id="today's list"),
        pytest.param(ROW, replace(MIST, chamber="gone"), False, id="a chamber that is gone"),
        pytest.param(ROW, replace(MIST, chamber="shelf"), False, id="nothing was heard there"),
        pytest.param(replace(ROW, kind=OutKind.TRIAL), None, True, id="a test message"),
        pytest.param(
            replace(ROW, kind=OutKind.FORECAST, chamber="tent"), None, True, id="a forecast"
        ),
        pytest.param(
            replace(ROW, kind=OutKind.SUMMARY, chamber="tent"), None, False, id="a summary"
        ),
        pytest.param(replace(ROW, kind=OutKind.RETURNED), None, False, id="of no chamber"),
    ],
)
def test_which_messages_have_one(
    heard: Bench, row: OutRow, reminder: Reminder | None, shown: bool
) -> None:
    assert ("Tent: humidity" in written(heard, row, reminder)) is shown


def test_temperatures_are_in_the_unit_the_grower_likes(bench: Bench) -> None:
    bench.minutes_of("temperature", 27.0, 5)
    bench.intake.commit()
    warm = replace(MIST, call=Call.COOL, evidence=evidence(27.0, Quantity.TEMPERATURE))
    liked = ShownIn(TemperatureUnit.FAHRENHEIT)
    drawing = (picturing(bench, liked).of(ROW, warm) or b"").decode()
    assert "80.6 °F at 12:05, above the band" in drawing
    assert "°C" not in drawing


def test_what_was_done_is_in_it(heard: Bench) -> None:
    for deed in (Deed.MISTED, Deed.REFILLED):
        heard.logbook.act("tent", deed, None, "", "page")
    heard.clock.turn(minutes=1)
    drawing = written(heard)
    assert ">misted<" in drawing
    assert ">refilled<" not in drawing


def test_what_is_older_than_six_hours_is_no_picture(heard: Bench) -> None:
    heard.intake.commit()
    heard.clock.turn(minutes=6 * 60 - 6)
    assert "Tent: humidity" in written(heard)
    heard.clock.turn(minutes=2)
    assert written(heard) == ""


def test_a_house_without_a_chamber_has_no_test_picture(bench: Bench) -> None:
    rooms = {n: c for n, c in bench.house.chambers.items() if c.stage is None}
    house = replace(bench.house, chambers=rooms)
    found = Picturing(bench.sql, bench.clock, house, UTC, plain, ShownIn())
    assert found.anywhere() is None
    assert found.of(replace(ROW, kind=OutKind.TRIAL), None) is None


@pytest.mark.parametrize(
    ("error", "logged"),
    [
        (StorageError("The disk is full."), "No picture goes with"),
        (ZeroDivisionError("ours"), "No picture could be drawn"),
    ],
)
def test_whatever_goes_wrong_is_no_reason_not_to_send(
    heard: Bench, caplog: pytest.LogCaptureFixture, error: Exception, logged: str
) -> None:
    def broken(_: str) -> bytes:
        raise error

    heard.intake.commit()
    found = Picturing(heard.sql, heard.clock, heard.house, UTC, broken, ShownIn())
    assert found.of(ROW, MIST) is None
    assert logged in caplog.text


def test_a_year_of_readings_makes_no_larger_picture(bench: Bench) -> None:
    """Many readings a minute are drawn in steps; the newest stands as it was."""
    for n in range(360):
        bench.clock.turn(minutes=1)
        bench.take(f"middle humidity {80 + n % 10} {bench.clock.now().isoformat()}")
        soon = bench.clock.now() + timedelta(seconds=20)
        bench.take(f"middle humidity {80 + n % 7} {soon.isoformat()}")
    bench.clock.turn(seconds=20)
    bench.intake.commit()
    drawing = picturing(bench).draw(Subject("tent"))
    assert drawing is not None
    assert len(drawing) < 20_000
    assert f">{80 + 359 % 7} % at 18:00" in drawing
