"""The systemd unit is understood in every line, and shut tight."""

import configparser
import re
import shutil
import subprocess
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.daemon import ANSWERED_WITHIN_S, JOIN_S
from chamberwatch.service.posting import ENDED_WITHIN_S
from tests.deploy.shell import CHECKOUT

UNIT: Final = CHECKOUT / "deploy" / "chamberwatch.service"
WIRED: Final = CHECKOUT / "deploy" / "chamberwatch-wired.service"
EXPOSED_AT_MOST: Final = 2.0

needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None,
    reason="systemd-analyze is not installed: sudo apt install systemd",
)


def _analyze(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["systemd-analyze", *arguments], capture_output=True, text=True, timeout=60, check=False
    )


BOTH: Final = pytest.mark.parametrize("unit", [UNIT, WIRED], ids=lambda unit: unit.stem)


@needs_systemd
@BOTH
def test_systemd_understands_every_line(unit: Path, tmp_path: Path) -> None:
    # The program is not installed here; anything that can be run stands in for it.
    text = re.sub(r"^ExecStart=\S+", "ExecStart=/bin/true", unit.read_text(), flags=re.MULTILINE)
    copy = tmp_path / unit.name
    copy.write_text(text)
    checked = _analyze("verify", str(copy))
    mine = [line for line in checked.stderr.splitlines() if unit.name in line]
    assert (checked.returncode, mine) == (0, [])


@needs_systemd
@BOTH
def test_little_is_exposed(unit: Path) -> None:
    checked = _analyze("security", "--offline=true", "--no-pager", str(unit))
    found = re.search(r"exposure level for \S+: ([\d.]+)", checked.stdout)
    assert found is not None, checked.stderr
    assert float(found[1]) < EXPOSED_AT_MOST


@pytest.mark.parametrize(
    ("key", "value"),
    [
        pytest.param("Type", "notify", id="type"),
        pytest.param("WatchdogSec", "120", id="watchdog"),
        pytest.param("User", "chamberwatch", id="user"),
        pytest.param("StateDirectory", "chamberwatch", id="state"),
        pytest.param("Restart", "on-failure", id="restart"),
        pytest.param("LogRateLimitIntervalSec", "10min", id="log over"),
        pytest.param("LogRateLimitBurst", "200", id="log at most"),
        pytest.param(
            "LoadCredential", "mqtt_password:/etc/chamberwatch/mqtt_password", id="password"
        ),
        pytest.param(
            "ExecStart",
            "/opt/chamberwatch/venv/bin/chamberwatch run "
            "--config /var/lib/chamberwatch/chamberwatch.toml",
            id="command",
        ),
    ],
)
def test_unit_agrees_with_the_installer_and_the_daemon(key: str, value: str) -> None:
    assert _service()[key] == value


@pytest.mark.parametrize(
    ("key", "value"),
    [
        pytest.param("Type", "notify", id="type"),
        pytest.param("SupplementaryGroups", "i2c", id="group"),
        pytest.param("DevicePolicy", "closed", id="no device"),
        pytest.param("DeviceAllow", "/dev/i2c-1 rw", id="but this bus"),
        pytest.param("Restart", "on-failure", id="restart"),
        pytest.param("RestartPreventExitStatus", "2", id="but not over the settings"),
        pytest.param(
            "LoadCredential", "wired_password:/etc/chamberwatch/wired_password", id="password"
        ),
        pytest.param(
            "ExecStart",
            "/opt/chamberwatch/venv/bin/chamberwatch wired "
            "--config /var/lib/chamberwatch/chamberwatch.toml",
            id="command",
        ),
    ],
)
def test_the_unit_of_wired_sensors_reaches_a_bus_and_nothing_else(key: str, value: str) -> None:
    assert _service(WIRED)[key] == value


def test_wired_sensors_never_wait_for_the_daemon_nor_it_for_them() -> None:
    for unit, other in ((UNIT, "chamberwatch-wired.service"), (WIRED, "chamberwatch.service")):
        assert other not in unit.read_text()
    # It may write nowhere.
    assert "StateDirectory" not in _service(WIRED)
    assert "ReadWritePaths" not in _service(WIRED)


def test_it_is_given_time_to_stop_in_order() -> None:
    # What was sent is noted before the delivery ends, and that before its thread is given up.
    assert ENDED_WITHIN_S < JOIN_S
    # Then the requests under way, the farewell and the broker still take some seconds.
    assert int(_service()["TimeoutStopSec"]) >= JOIN_S + ANSWERED_WITHIN_S + 30


def _service(path: Path = UNIT) -> configparser.SectionProxy:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment, method-assign]  # keys keep their case
    unit.read_string(path.read_text())
    return unit["Service"]
