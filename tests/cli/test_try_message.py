"""`try-message`: to the addresses of the settings, beside a daemon or without one."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.notify.picture import Painter
from chamberwatch.storage.alone import alone_with
from chamberwatch.storage.book import open_books
from tests.cli.test_commands import GOOD, Run, run
from tests.receivers import SECRET, Receiver, http_address, http_receiver

__all__ = ["run"]

NOTIFY = """
[[notify]]
name = "{name}"
to = "{to}"
"""

needs_painter = pytest.mark.skipif(bool(Painter().missing), reason=Painter().missing)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with http_receiver() as told:
        yield told


def settings(folder: Path, *addresses: tuple[str, str], more: str = "") -> str:
    file = folder / "a.toml"
    notify = "".join(NOTIFY.format(name=name, to=to) for name, to in addresses)
    file.write_text(GOOD + notify + more, encoding="utf-8")
    return str(file)


def kept(folder: Path, ago: timedelta) -> Path:
    """Make a database in which the tent said something so long ago."""
    path = folder / "chamberwatch.db"
    now = WallClock().now()
    books = open_books(f"sqlite:///{path}", now)
    with books.write() as book:
        book.readings.add([Reading(now - ago, "air", Quantity.HUMIDITY, 76.0)])
    books.close()
    return path


def test_one_that_goes_and_one_that_does_not(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], receiver: Receiver
) -> None:
    kept(tmp_path, timedelta(hours=9))
    dead = http_address(1)
    file = settings(tmp_path, ("phone", http_address(receiver.port)), ("other", dead))
    assert run("try-message", "--config", file) == 1
    said = capsys.readouterr()
    lines = said.out.splitlines()
    assert lines[:2] == [
        "phone: it went out. Look whether it came.",
        (
            "other: it did not go out: nothing answers at the address (connection refused); look "
            "whether the service runs there."
        ),
    ]
    assert receiver.taken == ["chamberwatch: a test message"]
    assert SECRET not in said.out + said.err


def test_only_one_of_them(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], receiver: Receiver
) -> None:
    file = settings(tmp_path, ("phone", http_address(receiver.port)), ("other", http_address(1)))
    assert run("try-message", "--to", "phone", "--config", file) == 0
    assert "other" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("addresses", "to", "said"),
    [
        pytest.param((), "", "Add a [[notify]] with name and to in", id="none"),
        pytest.param(
            (("phone", "json://h"),), "fridge", "There is no address “fridge”.", id="unknown"
        ),
    ],
)
def test_nobody_to_tell(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    addresses: tuple[tuple[str, str], ...],
    to: str,
    said: str,
) -> None:
    file = settings(tmp_path, *addresses)
    assert run("try-message", *(["--to", to] if to else []), "--config", file) == 1
    assert said in capsys.readouterr().err


@needs_painter
def test_a_picture_goes_with_it_beside_a_daemon(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], receiver: Receiver
) -> None:
    path = kept(tmp_path, timedelta(minutes=2))
    file = settings(tmp_path, ("phone", http_address(receiver.port)))
    before = path.read_bytes()
    with alone_with(path):
        assert run("try-message", "--config", file) == 0
    assert capsys.readouterr().out == (
        "phone: it went out, with a picture. Look whether it came.\n"
    )
    assert len(receiver.pictures) == 1
    assert path.read_bytes() == before


@needs_painter
@pytest.mark.parametrize(
    ("ago", "said"),
    [
        pytest.param(timedelta(hours=7), "nothing was heard in the last six hours", id="old"),
        pytest.param(None, "is not there yet. Start chamberwatch run first.", id="no database"),
    ],
)
def test_why_there_is_no_picture(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    receiver: Receiver,
    ago: timedelta | None,
    said: str,
) -> None:
    if ago is not None:
        kept(tmp_path, ago)
    file = settings(tmp_path, ("phone", http_address(receiver.port)))
    assert run("try-message", "--config", file) == 0
    out = capsys.readouterr().out
    assert "It carries no picture" in out
    assert said in out
    assert (tmp_path / "chamberwatch.db").exists() is (ago is not None)


def test_pictures_that_are_not_wanted_are_not_spoken_of(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str], receiver: Receiver
) -> None:
    address = ("phone", http_address(receiver.port))
    file = settings(tmp_path, address, more="pictures = false\n")
    assert run("try-message", "--config", file) == 0
    assert capsys.readouterr().out == "phone: it went out. Look whether it came.\n"


def test_check_names_those_that_take_no_pictures(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = settings(tmp_path, ("screen", "rsyslog://127.0.0.1"), ("phone", "json://127.0.0.1"))
    assert run("check", "--config", file) == 0
    out = capsys.readouterr().out
    assert "screen gets messages without pictures: its service takes none." in out
    assert "phone gets messages" not in out


def test_check_says_what_is_missing_for_pictures(
    run: Run,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "resvg_py", None)
    file = settings(tmp_path, ("phone", "json://127.0.0.1"))
    assert run("check", "--config", file) == 0
    assert "pip install 'chamberwatch[images]'" in capsys.readouterr().out
    file = settings(tmp_path, ("phone", "json://127.0.0.1"), more="pictures = false\n")
    assert run("check", "--config", file) == 0
    assert "pictures" not in capsys.readouterr().out
