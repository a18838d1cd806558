"""`health` as a person types it: beside a daemon, without one, and where there is nothing yet."""

import json
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.cli import main
from chamberwatch.cli.health import said
from chamberwatch.clock import WallClock
from chamberwatch.core.health import Line
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.service import doubting
from chamberwatch.service.backing_up import LAST, TROUBLE
from chamberwatch.service.wellness import Report
from chamberwatch.storage.alone import alone_with
from chamberwatch.storage.backup_folder import MARK, BackupFolder
from chamberwatch.storage.book import open_books
from tests.brokers import free_port
from tests.storage.older import make_older

Run = Callable[..., int]
HOUSE = """
[mqtt]
port = {port}
[database]
url = "sqlite:///cw.db"
[backup]
folder = "{stick}"
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "low"
chamber = "tent"
topic = "tent/low"
[sensor.reads]
humidity = {{ at = "/h", unit = "%" }}
[[sensor]]
name = "top"
chamber = "tent"
topic = "tent/top"
[sensor.reads]
humidity = {{ at = "/h", unit = "%" }}
"""


@pytest.fixture(scope="module")
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as running:
        yield running


@pytest.fixture
def stick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = BackupFolder(tmp_path_factory.mktemp("media") / "stick", Path("cw.db"))
    place.begin()
    return place.folder


@pytest.fixture
def config(tmp_path: Path, broker: TrialBroker, stick: Path) -> Path:
    path = tmp_path / "cw.toml"
    path.write_text(HOUSE.format(port=broker.port, stick=stick), encoding="utf-8")
    return path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, config: Path) -> Run:
    def typed(*words: str) -> int:
        command = ["chamberwatch", "health", *words, "--config", str(config)]
        monkeypatch.setattr(sys, "argv", command)
        with pytest.raises(SystemExit) as left:
            main()
        assert isinstance(left.value.code, int)
        return left.value.code

    return typed


def made(config: Path, *ages: float, trouble: str = "") -> Path:
    """Make a database with readings of both sensors of so many seconds ago; return its file."""
    path = config.parent / "cw.db"
    books, now = open_books(f"sqlite:///{path}", WallClock().now()), WallClock().now()
    with books.write() as book:
        book.readings.add(
            Reading(now - timedelta(seconds=age), sensor, Quantity.HUMIDITY, 80.0)
            for sensor, age in zip(("low", "top"), ages, strict=False)
        )
        if trouble:
            told = {"words": trouble, "since": now.isoformat()}
            book.kept.keep_text(TROUBLE, json.dumps(told))
    books.close()
    return path


def test_all_is_well_beside_a_daemon(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    path = made(config, 5, 20)
    with alone_with(path):
        assert run() == 0
    first, empty, *facts = capsys.readouterr().out.splitlines()
    assert (first, empty) == ("All is well.", "")
    assert [fact.split()[0] for fact in facts] == [
        *("watcher", "broker", "clock", "disk", "card", "database"),
        *("readings", "backup", "messages", "sensors", "versions"),
    ]
    assert facts[0] == "watcher   It runs."
    assert "2 sensors, all heard; the last word came" in facts[-2]
    assert "each stays for 366 days" in facts[6]


def test_nothing_is_there_yet(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run() == 1
    told = capsys.readouterr().out
    assert told.startswith("Not well: watcher.\n- watcher: chamberwatch does not run")
    assert "cw.db is not there yet; the first start makes it." in told
    assert "sensors   Nothing yet." in told
    assert [each.name for each in config.parent.iterdir()] == ["cw.toml"]


def test_where_nothing_is_watched_yet_all_is_not_called_well(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    path = made(config)
    text = config.read_text(encoding="utf-8")
    config.write_text(text.partition("[[sensor]]")[0], encoding="utf-8")
    with alone_with(path):
        assert run() == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first == "Nothing is wrong, and nothing is watched yet: add a sensor."


def test_what_is_unwell_comes_first_and_the_gravest_of_it(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    path = made(config, 5, 86_400, trouble="The stick is not there. Plug it in.")
    with alone_with(path):
        assert run() == 1
    first, second, third, *_ = capsys.readouterr().out.splitlines()
    assert first == "Not well: sensors, backup."
    assert second.startswith("- sensors: Nothing has been heard from top for longer")
    assert second.endswith("Its last word came 24 h ago.")
    assert third.endswith("The stick is not there. Plug it in.")
    assert third.startswith("- backup: There is no new backup. Since ")


def test_a_daemon_that_is_stopped_is_all_that_is_said_of_silence(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    made(config, 86_400, 86_400)
    assert run() == 1
    told = capsys.readouterr().out
    assert told.startswith("Not well: watcher.\n")
    assert "2 sensors, which can't be heard until the above is mended" in told


def test_a_doubt_that_was_kept(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    path, now = made(config, 5, 5), WallClock().now()
    doubts = [
        Doubt(name, Doubted.STUCK, now, f"{name} is stuck.", shown_by=Quantity.HUMIDITY)
        for name in ("low", "gone")
    ]
    books = open_books(f"sqlite:///{path}", now)
    with books.write() as book:
        kept = {(d.sensor, d.kind, Quantity.HUMIDITY): d for d in doubts}
        book.kept.keep_text(doubting.KEPT_AS, doubting._dumps(kept))
    books.close()
    with alone_with(path):
        assert run() == 1
    told = capsys.readouterr().out
    assert "- sensors: low is stuck. Its last word came" in told
    assert "gone" not in told


def test_a_stick_that_was_pulled_out_is_missed_at_once(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str], stick: Path
) -> None:
    path = made(config, 5, 20)
    (stick / MARK).unlink()
    with alone_with(path):
        assert run() == 1
    first, second, *_ = capsys.readouterr().out.splitlines()
    assert first == "Not well: backup."
    assert second.startswith(f"- backup: {stick} is not marked as a place for backups: perhaps")


def test_a_backup_that_is_gone_is_missed(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str], stick: Path
) -> None:
    path, last = made(config, 5, 20), stick / "chamberwatch-20260120-031000.db"
    books = open_books(f"sqlite:///{path}", WallClock().now())
    with books.write() as book:
        told = {"file": str(last), "at": WallClock().now().isoformat(), "size": 1}
        book.kept.keep_text(LAST, json.dumps(told))
    books.close()
    with alone_with(path):
        assert run() == 1
        assert f"- backup: The last backup, {last}, is not there any more." in (
            capsys.readouterr().out
        )
        last.touch()
        assert run() == 0


def test_for_programs(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    path = made(config, 5, 86_400)
    with alone_with(path):
        assert run("--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert [each["name"] for each in told["unwell"]] == ["sensors"]
    assert told["running"] is True
    assert [s["silent"] for s in told["sensors"]] == [False, True]
    assert told["card"]["file_bytes"] > 0
    assert set(told["versions"]) == {"chamberwatch", "Python", "schema", "SQLite", "system"}
    assert run("--json") == 1
    assert json.loads(capsys.readouterr().out)["unwell"][0]["name"] == "watcher"


@pytest.mark.parametrize(
    ("content", "part", "others"),
    [
        pytest.param(
            b"",
            "the next start brings it up to date",
            "Not known until the next start has brought the database up to date.",
            id="empty",
        ),
        pytest.param(
            b"a shopping list of a grower " * 99,
            "is not a database",
            "Not known, since the database can't be read as it is.",
            id="no database",
        ),
    ],
)
def test_a_database_of_no_use_is_left_as_it_is(
    config: Path,
    run: Run,
    capsys: pytest.CaptureFixture[str],
    content: bytes,
    part: str,
    others: str,
) -> None:
    path = config.parent / "cw.db"
    path.write_bytes(content)
    assert run() == 1
    told = capsys.readouterr().out
    assert part in told
    assert others in told
    assert path.read_bytes() == content


def test_an_older_database_stays_as_it_is(
    config: Path,
    run: Run,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = config.parent / "cw.db"
    make_older(path, 1)
    before = path.read_bytes()
    monkeypatch.setattr(sys, "argv", ["chamberwatch", "health", "--config", str(config)])
    with pytest.raises(SystemExit):
        main()
    assert "brings it up to date by a step" in capsys.readouterr().out
    assert path.read_bytes() == before


def test_a_broker_that_is_away_is_said_once(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str], stick: Path
) -> None:
    config.write_text(HOUSE.format(port=free_port(), stick=stick), encoding="utf-8")
    with alone_with(made(config, 5, 5)):
        assert run() == 1
    told = capsys.readouterr().out
    assert told.startswith("Not well: broker.\n- broker: Can't reach the broker at")
    assert told.count("Can't reach") == 1


def test_bad_settings(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    config.write_text("[mqtt]\nprot = 1883\n", encoding="utf-8")
    assert run() == 2
    assert "prot" in capsys.readouterr().err


LONG = "/var/lib/chamberwatch/a-folder-of-a-long-name/chamberwatch.db"
REPORT = Report(
    (
        Line("disk", "", (f"Only 3 MB are free at {LONG}. Make room, or move it elsewhere.",)),
        Line("database", f"{LONG} opens; nothing in it is damaged, and its schema is the newest."),
    ),
    running=True,
    versions={},
)


def test_lines_wrap_in_a_terminal_and_nowhere_else() -> None:
    told = list(said(REPORT, 80))
    assert max(map(len, told)) <= 80
    assert sum(LONG in line for line in told) == 2
    assert told[-1].startswith(" " * 10)
    assert len(list(said(REPORT, None))) == 5
