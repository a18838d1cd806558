"""`wired --look` in the terminal."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from chamberwatch.cli import app
from chamberwatch.cli.wired import look_around
from chamberwatch.core.errors import RefusedError, SettingsError
from chamberwatch.core.watch.wired import Ill, WireError
from chamberwatch.settings import Settings, load
from tests.wired.buses import FakeBus, FakeScd4x, FakeSht4x, one_bit_wrong

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    path = tmp_path / "chamberwatch.toml"
    path.write_text('[[wired]]\nname = "middle"\nkind = "scd4x"\n')
    return load(path, {})


def test_it_lists_what_answers_and_whose_it_is(settings: Settings, capsys: Capture) -> None:
    bus = FakeBus({0x62: FakeScd4x(), 0x45: FakeSht4x(serial=0xC0FFEE)})
    look_around(settings, opener=bus.open)
    assert capsys.readouterr().out.splitlines() == [
        "SCD4x at 0x62 on bus 1, serial number f8969f073bbe; it is [[wired]] middle.",
        (
            "SHT4x at 0x45 on bus 1, serial number 00c0ffee; to use it, add [[wired]] "
            'with a name, kind = "sht4x", address = 0x45.'
        ),
    ]


def test_one_that_measures_is_listed_without_its_number(capsys: Capture) -> None:
    look_around(None, opener=FakeBus({0x62: FakeScd4x(measuring=True)}).open)
    assert "only while chamberwatch wired is stopped" in capsys.readouterr().out


def test_for_programs(settings: Settings, capsys: Capture) -> None:
    look_around(settings, as_json=True, opener=FakeBus({0x62: FakeScd4x()}).open)
    (row,) = json.loads(capsys.readouterr().out)
    del row["says"]
    assert row == {
        "bus": 1,
        "address": 0x62,
        "kind": "scd4x",
        "serial": "f8969f073bbe",
        "name": "middle",
        "well": True,
    }


def test_nothing_answers() -> None:
    with pytest.raises(RefusedError, match=r"No SCD4x, SCD30 or SHT4x answers\. Look at the plug"):
        look_around(None, opener=FakeBus().open)


def test_one_that_answers_wrongly(settings: Settings, capsys: Capture) -> None:
    bus = FakeBus({0x62: FakeScd4x()}, always=one_bit_wrong)
    with pytest.raises(RefusedError):
        look_around(settings, opener=bus.open)
    assert "middle (SCD4x at 0x62): what it says comes with wrong checksums" in (
        capsys.readouterr().out
    )


@pytest.mark.parametrize(
    ("ill", "says"),
    [
        pytest.param(Ill.NO_BUS, "I2C is not switched on", id="not switched on"),
        pytest.param(Ill.NO_RIGHT, "in the group i2c", id="not in the group"),
        pytest.param(Ill.NO_DRIVER, "with the extra of your sensor", id="no driver"),
    ],
)
def test_a_bus_that_can_not_be_used(ill: Ill, says: str, capsys: Capture) -> None:
    with pytest.raises(RefusedError, match="Mend that, and look again"):
        look_around(None, opener=FakeBus(cannot_open=WireError(ill, "why")).open)
    assert says in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "text", "error", "says"),
    [
        pytest.param(["--json"], "", RefusedError, "--json goes with --look", id="json alone"),
        pytest.param([], "", SettingsError, "wired: There is no sensor on wires.", id="none"),
        pytest.param([], "[[wired]]\n", SettingsError, "kind: Add it", id="faulty settings"),
    ],
)
def test_what_can_not_be_done(
    tmp_path: Path, words: list[str], text: str, error: type[Exception], says: str
) -> None:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(text)
    result = CliRunner().invoke(app, ["wired", *words, "--config", str(path)])
    assert isinstance(result.exception, error)
    assert says in str(result.exception)
