"""`move-database` as a person types it, and the daemon that goes on from there."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.cli import main
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.storage.book import open_books
from tests.brokers import DEADLINE_S, free_port, wait_until
from tests.faults.processes import command, environment
from tests.make import NOON
from tests.servers import GUARDED, PASSWORD, TestServer, needs_server

pytestmark = needs_server

SETTINGS = """
[database]
url = "{url}"
{more}
[mqtt]
port = {broker}
[web]
port = {web}
[[chamber]]
name = "tent"
stage = "fruiting"
"""

Run = Callable[..., int]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    def ran(*arguments: str) -> int:
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        return int(left.value.code or 0)

    return ran


@pytest.fixture
def empty(server: TestServer) -> Iterator[TestServer]:
    server.emptied()
    yield server
    server.emptied()


def settings(folder: Path, url: str = "sqlite:///cw.db", more: str = "") -> Path:
    config = folder / "house.toml"
    text = SETTINGS.format(url=url, more=more, broker=free_port(), web=free_port())
    config.write_text(text, encoding="utf-8")
    return config


def filled(path: Path) -> None:
    with closing(open_books(f"sqlite:///{path}", NOON)) as books, books.write() as book:
        book.readings.add(
            Reading(NOON + n * timedelta(minutes=1), "top", Quantity.HUMIDITY, 80.0 + n)
            for n in range(9)
        )


def test_it_says_what_to_write_and_the_daemon_goes_on_with_it(
    tmp_path: Path, run: Run, empty: TestServer, capsys: pytest.CaptureFixture[str]
) -> None:
    filled(tmp_path / "cw.db")
    config, url = settings(tmp_path), empty.url()
    assert run("move-database", "--config", str(config), "--to", url) == 0
    said = capsys.readouterr().out
    assert f'under [database]:\n\n    url = "{url}"\n\nand start chamberwatch again.' in said
    assert f"{tmp_path / 'cw.db'} is as it was" in said
    assert "files =" not in said
    settings(tmp_path, url)
    log = tmp_path / "log"
    with log.open("wb") as kept:
        process = subprocess.Popen(
            command("run", "--config", str(config)), cwd=tmp_path, env=environment(),
            stdout=kept, stderr=kept,
        )  # fmt: skip
    try:
        wait_until(lambda: "The page is at" in log.read_text(), "it runs", 60.0)
        second = subprocess.run(
            command("run", "--config", str(config)), cwd=tmp_path, env=environment(),
            check=False, capture_output=True, text=True, timeout=DEADLINE_S * 3,
        )  # fmt: skip
        assert second.returncode == 1
        assert "Another chamberwatch runs with this database" in second.stderr
    finally:
        process.terminate()
        process.wait(DEADLINE_S * 3)
    assert "Stopped; everything taken in is kept." in log.read_text()
    assert process.returncode == 0
    with closing(open_books(url, NOON)) as books, books.read() as book:
        assert book.readings.count() == 9


def test_files_that_lie_elsewhere_are_named(
    tmp_path: Path, run: Run, empty: TestServer, capsys: pytest.CaptureFixture[str]
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    filled(stick / "cw.db")
    config = settings(tmp_path, "sqlite:///stick/cw.db")
    assert run("move-database", "--config", str(config), "--to", empty.url()) == 0
    assert f'    files = "{stick}"\n' in capsys.readouterr().out


def test_a_password_comes_from_outside_and_is_not_said(
    tmp_path: Path,
    run: Run,
    empty: TestServer,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    filled(tmp_path / "cw.db")
    empty.run(f"ALTER SCHEMA public OWNER TO {GUARDED}")
    config = settings(tmp_path)
    arguments = ("move-database", "--config", str(config), "--to", empty.url(GUARDED))
    monkeypatch.setenv("CHAMBERWATCH_DATABASE_PASSWORD", "wrong-secret")
    assert run(*arguments) == 1
    monkeypatch.setenv("CHAMBERWATCH_DATABASE_PASSWORD", PASSWORD)
    assert run(*arguments) == 0
    said = "".join(capsys.readouterr())
    assert "does not let us in: the role or its password is wrong" in said
    assert "The daemon needs the password too" in said
    assert PASSWORD not in said
    assert "wrong-secret" not in said


@pytest.mark.parametrize(
    ("to", "words"),
    [
        pytest.param("postgresql+psycopg://u:hush@h/d", "can be read by everybody", id="password"),
        pytest.param("sqlite:///other.db", "is no address of a server", id="a file"),
        pytest.param("postgresql+psycopg://u@h", "is no address of a server", id="no name"),
        pytest.param("the server", "Write one like postgresql+psycopg://", id="no address"),
    ],
)
def test_where_it_can_not_go(
    tmp_path: Path, run: Run, to: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    filled(tmp_path / "cw.db")
    assert run("move-database", "--config", str(settings(tmp_path)), "--to", to) == 1
    said = capsys.readouterr().err
    assert words in said
    assert "hush" not in said


def test_what_lies_on_a_server_is_not_moved_from_there(
    tmp_path: Path, run: Run, empty: TestServer, capsys: pytest.CaptureFixture[str]
) -> None:
    config = settings(tmp_path, empty.url())
    assert run("move-database", "--config", str(config), "--to", empty.url()) == 1
    assert "lies on a server already" in capsys.readouterr().err


def test_commands_beside_it_and_the_look_at_it(
    tmp_path: Path, run: Run, empty: TestServer, capsys: pytest.CaptureFixture[str]
) -> None:
    config = settings(tmp_path, empty.url())
    assert run("check", "--config", str(config)) == 0
    assert "is still empty; the first start makes its tables" in capsys.readouterr().out
    assert run("recalibrate", "--config", str(config)) == 1
    assert "is not there yet" in capsys.readouterr().err
    open_books(empty.url(), NOON).close()
    assert run("recalibrate", "--config", str(config)) == 0
    assert "0 readings looked at" in capsys.readouterr().out
    assert run("check", "--config", str(config)) == 0
    assert "opens; its server looks after its files" in capsys.readouterr().out
