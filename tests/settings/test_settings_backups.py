"""How long readings are kept, and where backups go."""

from datetime import time, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.growing.signs import Gauge
from chamberwatch.core.watch import refilling
from chamberwatch.service import finding, knowing, lookback, responding
from chamberwatch.settings import BackupSettings, Settings, load
from chamberwatch.settings.backups import SHORTEST

CLUE_DAYS = [
    cause.clue.days
    for sign in SIGNS.values()
    for cause in sign.causes
    if cause.clue is not None and cause.clue.gauge is not Gauge.WAIT
]


def _loaded(folder: Path, text: str) -> Settings:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return load(path, {})


def test_as_usual(tmp_path: Path) -> None:
    settings = _loaded(tmp_path, "")
    assert settings.database.keep_raw == timedelta(days=366)
    assert settings.backup == BackupSettings(
        folder=None, at=time(3, 10), days=3, weeks=4, months=3
    )


def test_as_told(tmp_path: Path) -> None:
    settings = _loaded(
        tmp_path,
        '[database]\nkeep_raw = "2 years"\n[backup]\nfolder = "/mnt/stick/"\nat = "02:00"\n'
        "days = 1\nweeks = 0\nmonths = 0\n",
    )
    assert settings.database.keep_raw == timedelta(days=732)
    assert settings.backup == BackupSettings(
        folder="/mnt/stick", at=time(2), days=1, weeks=0, months=0
    )


@pytest.mark.parametrize(
    "needed",
    [
        pytest.param(finding.BACKLOG + finding.HELD_AT_MOST, id="what is found"),
        pytest.param(knowing.LEARN_FROM, id="the ways of a chamber"),
        pytest.param(responding.LEARN_FROM, id="what deeds do"),
        pytest.param(lookback.LEARN_FROM, id="the air changes"),
        pytest.param(refilling.BACK, id="hold times of before"),
        pytest.param(timedelta(days=14), id="this week and the last"),
        pytest.param(
            timedelta(days=max(CLUE_DAYS)),
            id="what a sign is laid to",
        ),
    ],
)
def test_readings_stay_longer_than_anything_looks_back(needed: timedelta) -> None:
    assert needed < SHORTEST
