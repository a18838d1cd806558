"""The settings file of somebody who has none."""

import os
import re
import stat
import tomllib
from pathlib import Path

import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.settings import Settings, check, load
from chamberwatch.settings.first import FIRST, begin


def test_one_is_begun_where_there_is_none(tmp_path: Path) -> None:
    file = tmp_path / "config" / "chamberwatch.toml"
    assert begin(file)
    assert check(file, {}) == ()
    settings = load(file, {})
    assert settings.model_copy(update={"database": Settings().database}) == Settings()


def test_it_is_nobody_elses_to_read(tmp_path: Path) -> None:
    before = os.umask(0o002)
    try:
        assert begin(tmp_path / "cw.toml")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "cw.toml").stat().st_mode) == 0o600


def test_what_is_a_comment_there_would_be_sound() -> None:
    told = re.sub(r"^# (\w+ = )", r"\1", FIRST, flags=re.MULTILINE)
    assert Settings.model_validate(tomllib.loads(told)).site.timezone == "Europe/Lisbon"


def test_one_that_is_there_stays(tmp_path: Path) -> None:
    file = tmp_path / "cw.toml"
    file.write_text("# mine\n", encoding="utf-8")
    assert not begin(file)
    assert file.read_text(encoding="utf-8") == "# mine\n"


def test_a_link_that_leads_nowhere_is_left_alone(tmp_path: Path) -> None:
    link = tmp_path / "cw.toml"
    link.symlink_to(tmp_path / "nowhere.toml")
    assert not begin(link)


def test_where_none_can_be_made_it_is_said(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"none can be made there .*--config"):
        begin(tmp_path / "no" / "such" / "folder.toml")


def test_where_an_account_may_not_look_it_is_not_called_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", closed)
    with pytest.raises(SettingsError, match=r"may not look for it there.*with sudo in front"):
        begin(tmp_path / "closed" / "cw.toml")
