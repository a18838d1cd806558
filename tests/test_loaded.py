"""What a daemon does not load since many houses never need it: memory is scarce there."""

import importlib.util
import subprocess
import sys

import pytest

from tests.faults.processes import environment

CONFIG = """
[database]
url = "sqlite:///{file}"
[[chamber]]
name = "tent"
stage = "fruiting"
"""
BUILT = """
import io, sys
from pathlib import Path
import chamberwatch.cli.running
from chamberwatch.clock import WallClock
from chamberwatch.settings import load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import build
occasion = Occasion(io.StringIO(), "http://tent", lambda: None)
build(load(Path(sys.argv[1]), {}), WallClock(), occasion)
print(*sys.modules)
"""


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    folder = tmp_path_factory.mktemp("house")
    config = folder / "cw.toml"
    config.write_text(CONFIG.format(file=folder / "cw.db"), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", BUILT, str(config)],
        capture_output=True,
        text=True,
        check=True,
        env=environment(),
    )
    return set(ran.stdout.split())


@pytest.mark.parametrize(
    "library",
    [
        pytest.param("PIL", id="photos"),
        pytest.param("icalendar", id="the calendar"),
        pytest.param("sqlalchemy.dialects.postgresql", id="a database on a server"),
        pytest.param("psycopg", id="the driver of a server"),
        pytest.param("apprise", id="messages to a phone"),
        pytest.param("pyarrow", id="exports"),
        pytest.param("rich", id="the terminal"),
    ],
)
def test_what_many_houses_never_need_is_not_loaded(loaded: set[str], library: str) -> None:
    assert importlib.util.find_spec(library) is not None
    assert "chamberwatch.wiring.machine" in loaded
    assert library not in loaded
