"""The command line as a person types it."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from chamberwatch import __version__
from chamberwatch.cli import main

Run = Callable[..., int]

GOOD = """
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "air"
chamber = "tent"
topic = "tent/humidity"
payload = "number"
[sensor.reads.humidity]
"""


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    def typed(*words: str) -> int:
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words])
        with pytest.raises(SystemExit) as left:
            main()
        code = left.value.code
        return code if isinstance(code, int) else 0

    return typed


def test_version(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--version") == 0
    assert capsys.readouterr().out == f"chamberwatch {__version__}\n"


def test_help_names_every_command(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--help") == 0
    shown = capsys.readouterr().out
    for command in ("run", "check", "demo", "replay"):
        assert command in shown
    assert "never a safety device" in shown


def test_check_of_a_good_file(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.toml"
    file.write_text(GOOD, encoding="utf-8")
    assert run("check", "--config", str(file)) == 0
    shown = capsys.readouterr().out
    assert "is fine: 1 chamber, 1 sensor, 0 devices, 0 addresses." in shown
    assert "tent has no volume_l, so no amounts can be told" in shown


def test_check_says_what_may_surprise_of_sensors_on_wires(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.toml"
    file.write_text(GOOD + '[[wired]]\nname = "wall"\nkind = "sht4x"\n', encoding="utf-8")
    assert run("check", "--config", str(file)) == 0
    assert "wall: nobody takes in wired/wall yet." in capsys.readouterr().out


def test_check_says_how_devices_were_understood(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.toml"
    tent = GOOD.replace('"fruiting"', '"fruiting"\nvolume_l = 500\ntitle = "Tent"')
    fan = '[[device]]\nname = "exhaust"\nchamber = "tent"\nkind = "fan"\nflow_m3_per_h = 20\n'
    file.write_text(tent + fan, encoding="utf-8")
    assert run("check", "--config", str(file)) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[3].startswith("No nightly backup is set")
    assert [line.split(":")[0] for line in said[4:]] == ["clock", "disk", "broker", "database"]
    assert said[:3] == [
        f"{file} is fine: 1 chamber, 1 sensor, 1 device, 0 addresses.",
        "exhaust in Tent: fan, 20 m3/h, all the time.",
        NO_ROOM.replace("tent", "Tent", 1),
    ]


ROOM = '[[chamber]]\nname = "room"\n'
IN_ROOM = """
[[sensor]]
name = "wall"
chamber = "room"
topic = "room/wall"
"""
WARM = '[sensor.reads.temperature]\nat = "/t"\n'
HUMID = '[sensor.reads.humidity]\nat = "/h"\n'
ASSUMED = "45 % and the chamber's own temperature are assumed"
NO_ROOM = (
    f"tent names no room: {ASSUMED}. Add surrounding, and in that room a sensor of temperature "
    "and humidity."
)
NO_SENSOR = f"in room, the room of tent: {ASSUMED}. Add a sensor in room that reads both."


@pytest.mark.parametrize(
    ("more", "surrounded", "told"),
    [
        pytest.param(ROOM, False, NO_ROOM, id="no room named"),
        pytest.param(ROOM, True, NO_SENSOR, id="nothing in the room"),
        pytest.param(ROOM + IN_ROOM + WARM, True, NO_SENSOR, id="only the temperature"),
        pytest.param(ROOM + IN_ROOM + WARM + HUMID, True, "", id="measured"),
        pytest.param(
            ROOM + IN_ROOM + WARM + HUMID, False, NO_ROOM, id="measured, but the tent is elsewhere"
        ),
    ],
)
def test_check_hints_at_a_room_that_is_not_measured(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    more: str,
    surrounded: bool,
    told: str,
) -> None:
    file = tmp_path / "a.toml"
    stage = 'stage = "fruiting"\n'
    tent = GOOD.replace(stage, f'{stage}surrounding = "room"\n') if surrounded else GOOD
    file.write_text(tent + more, encoding="utf-8")
    assert run("check", "--config", str(file)) == 0
    said = capsys.readouterr().out
    assert told in said
    assert (ASSUMED in said) is bool(told)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            GOOD.replace("fruiting", "fruting"), ["Did you mean fruiting?", "1 fault in"], id="one"
        ),
        pytest.param(
            GOOD.replace("fruiting", "fruting") + "unit = 'ppm'",
            ["Did you mean fruiting?", 'can\'t be in "ppm"', "2 faults in"],
            id="two",
        ),
    ],
)
def test_check_of_a_bad_file(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, said: list[str]
) -> None:
    file = tmp_path / "a.toml"
    file.write_text(text, encoding="utf-8")
    assert run("check", "--config", str(file)) == 2
    told = capsys.readouterr().err
    for words in said:
        assert words in told


def test_check_of_an_address_nothing_can_be_made_of(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.toml"
    file.write_text('[[notify]]\nto = "a-secret-without-form"\n' + GOOD, encoding="utf-8")
    assert run("check", "--config", str(file)) == 2
    told = capsys.readouterr().err
    assert "no address that the notification library takes" in told
    assert "a-secret" not in told


def test_run_without_a_file(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("run", "--config", "nowhere/at/all.toml") == 2
    assert "There is no such file" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["--column", "warmth=T"], "write quantity=NAME", id="quantity"),
        pytest.param(["--column", "humidity=H", "--zone", "Lisbon"], "no zone Lisbon", id="zone"),
        pytest.param(["--column", "humidity=H", "--port", "1"], "start it first", id="broker"),
    ],
)
def test_replay_refuses(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    said: str,
) -> None:
    file = tmp_path / "log.csv"
    file.write_text("time,H\n", encoding="utf-8")
    assert run("replay", str(file), "--topic", "a", *words) == 1
    assert said in capsys.readouterr().err


def test_demo_refuses_a_length_it_cannot_read(
    run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("demo", "--for", "soon") == 2
    assert "such as 30 s" in capsys.readouterr().err
