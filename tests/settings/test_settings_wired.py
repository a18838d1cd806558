"""[[wired]]: sensors on wires in the settings, and what is said of their faults."""

from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.settings import check, load

ONE = '[[wired]]\nname = "a"\nkind = "sht4x"\n'
CO2 = '[[wired]]\nname = "a"\nkind = "scd4x"\n'


def _path(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(text)
    return path


def test_what_is_left_out_is_as_usual(tmp_path: Path) -> None:
    (wired,) = load(_path(tmp_path, CO2), {}).wired
    assert (wired.bus, wired.address, wired.topic) == (1, None, None)
    assert wired.every == timedelta(seconds=10)
    assert (wired.self_calibration, wired.self_heating_k) == (False, None)


def test_an_address_is_written_as_the_data_sheet_has_it(tmp_path: Path) -> None:
    text = ONE + "address = 0x45\n" + '[[wired]]\nname = "b"\nkind = "sht4x"\n'
    assert [wired.address for wired in load(_path(tmp_path, text), {}).wired] == [0x45, None]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param(
            '[[wired]]\nname = "a"\nkind = "dht22"\n',
            "wired[1] \"a\".kind = \"dht22\": Write one of 'scd4x', 'scd30' or 'sht4x'.".replace(
                "'", '"'
            ),
            id="an unknown kind",
        ),
        pytest.param(
            '[[wired]]\nname = "a"\n', 'wired[1] "a".kind: Add it; it is needed.', id="no kind"
        ),
        pytest.param(
            '[[wired]]\nkind = "sht4x"\n', "wired[1].name: Add it; it is needed.", id="no name"
        ),
        pytest.param(
            ONE + 'kinds = "x"\n',
            'wired[1] "a".kinds = "x": There is no such key; take it out. Did you mean kind?',
            id="a key misspelt",
        ),
        pytest.param(
            '[wired]\nname = "a"\nkind = "sht4x"\n',
            "wired: Write each as a section of its own that begins with [[wired]].",
            id="no list",
        ),
        pytest.param(
            ONE + 'every = "1 s"\n', 'wired[1] "a".every = "1 s": Give 5 s to 10 min.', id="often"
        ),
        pytest.param(
            ONE + 'topic = "tent/+"\n',
            'wired[1] "a".topic = "tent/+": Write the one topic it shall speak on, without + '
            "and #.",
            id="a filter",
        ),
        pytest.param(
            ONE + 'topic = "chamberwatch/chamber/tent"\n',
            'wired[1] "a".topic = "chamberwatch/chamber/tent": chamberwatch speaks there itself; '
            "choose another topic, or another mqtt.out.",
            id="where we speak",
        ),
        pytest.param(
            ONE + "address = 0x62\n",
            'wired[1] "a".address = 98: 0x62 is none of an SHT4x, which has 0x44 or 0x45 '
            "or 0x46; correct it.",
            id="another's address",
        ),
        pytest.param(
            ONE + "address = 200\n",
            'wired[1] "a".address = 200: Give 119 or less.',
            id="no address",
        ),
        pytest.param(
            ONE + "self_calibration = true\n",
            'wired[1] "a".self_calibration = true: Only a CO2 sensor has this; an SHT4x has none. '
            "Take it out.",
            id="no CO2 to calibrate",
        ),
        pytest.param(
            CO2 + "self_heating_k = 25\n",
            'wired[1] "a".self_heating_k = 25: Give 20 or less.',
            id="too hot",
        ),
        pytest.param(
            ONE + ONE.replace('"a"', '"b"'),
            'wired[2] "b".address: a has 0x44 on bus 1; give one of them another bus or address.',
            id="two at one address",
        ),
        pytest.param(
            CO2 + CO2.replace('"a"', '"b"'),
            'wired[2] "b".address: a has 0x62 on bus 1; give one of them another bus.',
            id="two of a kind with one address only",
        ),
        pytest.param(
            ONE + ONE.replace("sht4x", "scd4x"),
            'wired.name = "a": Two have this name; give each its own.',
            id="two of one name",
        ),
        pytest.param(
            '[mqtt]\nwired_password = "x"\n',
            "mqtt.wired_password: A password does not belong in this file; set "
            "CHAMBERWATCH_WIRED_PASSWORD or a systemd credential named wired_password.",
            id="a password",
        ),
    ],
)
def test_each_fault_is_said_with_its_cure(tmp_path: Path, text: str, says: str) -> None:
    path = _path(tmp_path, text)
    assert [str(fault).removeprefix(f"{path}: ") for fault in check(path, {})] == [says]


@pytest.mark.parametrize(
    "more",
    [
        pytest.param('address = "x"\n', id="address"),
        pytest.param('bus = "x"\n', id="bus"),
    ],
)
def test_what_is_of_no_right_type_is_said_once(tmp_path: Path, more: str) -> None:
    path = _path(tmp_path, ONE + more + ONE.replace('"a"', '"b"') + "address = 0x46\n")
    assert len(check(path, {})) == 1


def test_one_fault_does_not_hide_another(tmp_path: Path) -> None:
    path = _path(tmp_path, '[[wired]]\nevery = "1 s"\nbus = -1\ntopic = "#"\n')
    assert len(check(path, {})) == 5


def test_a_password_without_a_name(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"mqtt\.wired_username: A password needs a username"):
        load(_path(tmp_path, ""), {"CHAMBERWATCH_WIRED_PASSWORD": "x"})


def test_a_secret_is_never_shown(tmp_path: Path) -> None:
    settings = load(
        _path(tmp_path, '[mqtt]\nwired_username = "sensor"\n'),
        {"CHAMBERWATCH_WIRED_PASSWORD": "drip drop"},
    )
    assert "drip" not in repr(settings)
