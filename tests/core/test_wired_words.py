"""What is said of sensors on wires: what is wrong, and what to do."""

import pytest

from chamberwatch.core import wired_words as words
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.wired import Ill, WiredKind
from chamberwatch.core.wired_words import Whose

TENT = Whose("tent-middle", WiredKind.SCD4X, 1, 0x62)


@pytest.mark.parametrize(
    ("ill", "says"),
    [
        pytest.param(Ill.NO_DRIVER, "pip install 'chamberwatch[scd4x]'", id="no driver"),
        pytest.param(Ill.NO_BUS, "sudo raspi-config nonint do_i2c 0", id="no bus"),
        pytest.param(Ill.NO_RIGHT, "sudo adduser $USER i2c", id="no right"),
        pytest.param(Ill.IN_USE, "End it", id="in use"),
        pytest.param(Ill.NO_ANSWER, "all four wires (3.3 V, ground, SDA, SCL)", id="no answer"),
        pytest.param(Ill.WRONG_SUM, "wires are too long", id="wrong sum"),
        pytest.param(Ill.HUNG, "look for a wet plug", id="hung"),
        pytest.param(Ill.GARBLED, "chamberwatch wired --look", id="garbled"),
        pytest.param(Ill.IMPOSSIBLE, "it says a detail, which can't be", id="impossible"),
        pytest.param(Ill.STUCK, "Take its power off", id="stuck"),
        pytest.param(Ill.NOTHING_NEW, "look at the 3.3 V wire", id="nothing new"),
        pytest.param(Ill.OFTEN, "at the last a detail", id="often"),
    ],
)
def test_each_trouble_says_what_to_do(ill: Ill, says: str) -> None:
    told = words.begins(TENT, ill, "a detail")
    assert told.startswith("tent-middle (SCD4x at 0x62): ")
    assert says in told
    assert told.endswith(".")


def test_every_trouble_has_words() -> None:
    assert all(words.begins(TENT, ill, "why") for ill in Ill)


def test_only_an_scd30_holds_the_bus_for_long() -> None:
    scd30 = Whose("cellar", WiredKind.SCD30, 3, 0x61)
    assert "i2c_arm_baudrate" in words.begins(scd30, Ill.HUNG, "")
    assert "/dev/i2c-3 hangs" in words.begins(scd30, Ill.HUNG, "")
    assert "i2c_arm_baudrate" not in words.begins(TENT, Ill.HUNG, "")


@pytest.mark.parametrize(
    ("ill", "says"),
    [
        pytest.param(Ill.NO_BUS, "there is no /dev/i2c-1. I2C is not switched on", id="no bus"),
        pytest.param(Ill.NO_RIGHT, "has to be in the group i2c", id="no right"),
        pytest.param(Ill.NO_DRIVER, "no driver is installed (No module)", id="no driver"),
        pytest.param(Ill.HUNG, "can't be looked at (No module)", id="hung"),
    ],
)
def test_a_bus_that_can_not_be_looked_at(ill: Ill, says: str) -> None:
    assert says in words.of_a_bus("/dev/i2c-1", ill, "No module")


@pytest.mark.parametrize(
    ("seconds", "says"),
    [
        pytest.param(31.2, "31 s", id="seconds"),
        pytest.param(720.0, "12 min", id="minutes"),
        pytest.param(7000.0, "117 min", id="many minutes"),
        pytest.param(9 * 3600.0, "9 h", id="hours"),
    ],
)
def test_how_long_it_lasted(seconds: float, says: str) -> None:
    assert words.over(TENT, seconds) == (
        f"tent-middle (SCD4x at 0x62): measures again, after {says}."
    )


@pytest.mark.parametrize(
    ("told", "says"),
    [
        pytest.param(
            words.begun(TENT, "t/m", "f8"), "serial number f8; speaks on t/m", id="begun"
        ),
        pytest.param(words.blocked("/dev/i2c-1", 31.0), "not answered for 31 s", id="blocked"),
        pytest.param(words.unblocked("/dev/i2c-1"), "answers again", id="unblocked"),
        pytest.param(words.dropping(10), "10 readings wait", id="dropping"),
        pytest.param(words.dropped(1), "one reading had to go", id="dropped one"),
        pytest.param(words.dropped(7), "7 readings had to go", id="dropped"),
        pytest.param(words.unsent(1), "One reading could not", id="unsent one"),
        pytest.param(words.unsent(3), "3 readings could not", id="unsent"),
        pytest.param(words.waits_for_clock(), "clock of this machine is not set", id="clock"),
        pytest.param(words.value_in_words(Quantity.CO2, 0.0), "0 ppm CO2", id="a value"),
    ],
)
def test_what_else_is_said(told: str, says: str) -> None:
    assert says in told
