"""The settings pointed at the encrypted broker of this machine, and back."""

import importlib.util
import shutil
from pathlib import Path
from types import ModuleType
from typing import Final

import pytest

from chamberwatch.settings import load
from tests.deploy.shell import CHECKOUT

AUTHORITY: Final = "/etc/mosquitto/ca_certificates/chamberwatch-ca.crt"


def _script() -> ModuleType:
    path = CHECKOUT / "deploy/install/use_tls.py"
    spec = importlib.util.spec_from_file_location("use_tls", path)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


USE_TLS: Final = _script()


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    return Path(shutil.copy(CHECKOUT / "config/chamberwatch.toml", tmp_path))


def _said(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> str:
    monkeypatch.setattr("sys.argv", ["use_tls.py", *words])
    USE_TLS.main()
    return capsys.readouterr().out


def test_there_and_back_again(
    settings: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = settings.read_text()
    assert _said(capsys, monkeypatch, str(settings), AUTHORITY) == "changed\n"
    mqtt = load(settings, {}).mqtt
    assert (mqtt.tls, mqtt.port, mqtt.ca_file) == (True, 8883, AUTHORITY)
    assert "# its password never stands here" in settings.read_text()
    assert _said(capsys, monkeypatch, str(settings), AUTHORITY) == "as it was\n"
    assert _said(capsys, monkeypatch, str(settings)) == "changed\n"
    assert load(settings, {}).mqtt == load(CHECKOUT / "config/chamberwatch.toml", {}).mqtt
    assert settings.read_text() == before


def test_settings_without_a_broker_are_given_one(tmp_path: Path) -> None:
    settings = tmp_path / "chamberwatch.toml"
    settings.write_text("# mine\n")
    assert USE_TLS.point(settings, AUTHORITY)
    assert load(settings, {}).mqtt.port == 8883
    assert settings.read_text().startswith("# mine\n")


def test_broker_elsewhere_is_left_as_it_is(settings: Path) -> None:
    text = settings.read_text().replace('"127.0.0.1"\nport = 1883', '"broker.lan"\nport = 1883')
    settings.write_text(text)
    assert not USE_TLS.point(settings, AUTHORITY)
    assert settings.read_text() == text


def test_settings_at_fault_are_not_touched_and_say_why(
    settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.write_text("[site]\naltitude_m = 99999\n")
    monkeypatch.setattr("sys.argv", ["use_tls.py", str(settings), AUTHORITY])
    with pytest.raises(SystemExit, match="altitude_m"):
        USE_TLS.main()
    assert settings.read_text() == "[site]\naltitude_m = 99999\n"
