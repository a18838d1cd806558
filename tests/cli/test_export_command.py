"""`export`, as a grower types it beside the daemon; and what others make of its files."""

import io
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from chamberwatch.cli import main
from chamberwatch.core.cells import VALUES
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.export_rows import Kind
from chamberwatch.storage.book import open_books
from tests.make import NOON, at

Run = Callable[..., tuple[int, str, str]]

SETTINGS = """
[site]
timezone = "Europe/Berlin"
[database]
url = "sqlite:///{file}"
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "middle"
chamber = "tent"
topic = "tent/middle"
reads.humidity = {{ at = "/humidity" }}
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Return a folder with settings, and a database of two sensors and a deed."""
    config = tmp_path / "chamberwatch.toml"
    config.write_text(SETTINGS.format(file=tmp_path / "cw.db"), encoding="utf-8")
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    with books.write() as book:
        book.readings.add(
            Reading(at(n), sensor, quantity, 10.0 + n / 7, raw=9.0 if n % 3 else None)
            for n in range(300)
            for sensor in ("middle", "top")
            for quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY)
            if (n + len(sensor)) % 5
        )
        book.actions.add(Action(0, "tent", Deed.NOTED, at(5), "=so, “Ä”", at(5), "page"))
    books.close()
    return tmp_path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Path) -> Run:
    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("CHAMBERWATCH_CONFIG", str(home / "chamberwatch.toml"))
        monkeypatch.setattr(sys, "argv", ["chamberwatch", "export", *words])
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        code = left.value.code
        return code if isinstance(code, int) else 0, said.out, said.err

    return typed


def test_everything_into_a_folder(run: Run, home: Path) -> None:
    folder = home / "stick" / "out"
    code, said, _ = run(str(folder))
    assert code == 0
    assert {path.name for path in folder.iterdir()} == {f"{kind}.csv" for kind in Kind}
    assert f"{folder / 'readings.csv'}: 480 rows" in said
    assert f"{folder / 'actions.csv'}: 1 row\n" in said
    deeds = (folder / "actions.csv").read_bytes().decode("utf-8")
    assert deeds.count("\r\n") == deeds.count("\n") == 2
    assert '"\'=so, “Ä”"' in deeds or "'=so, “Ä”" in deeds


def test_pandas_and_sql_agree(run: Run, home: Path) -> None:
    """Someone else's reader finds the counts and the means that the database tells."""
    assert run(str(home / "out"), "--only", "readings")[0] == 0
    table = pd.read_csv(home / "out" / "readings.csv", parse_dates=["time_utc"])
    assert str(table["time_utc"].dt.tz) == "UTC"
    connection = sqlite3.connect(home / "cw.db")
    asked = connection.execute(
        "SELECT sensor, quantity, count(*), avg(value), min(value), max(value), count(raw),"
        " min(time), max(time) FROM readings JOIN series ON series.id = series GROUP BY 1, 2"
    ).fetchall()
    connection.close()
    assert len(asked) == 4
    for sensor, quantity, count, mean, least, most, raw, first_us, last_us in asked:
        mine = table[table["sensor"] == sensor]
        name = VALUES[Quantity(quantity)]
        values = mine[name].dropna()
        assert len(values) == count
        assert values.mean() == pytest.approx(mean, rel=1e-12)
        assert (values.min(), values.max()) == (least, most)
        assert mine[name.replace("_", "_sent_", 1)].count() == raw
        assert mine["time_utc"].min() == pd.Timestamp(first_us, unit="us", tz="UTC")
        assert mine["time_utc"].max() == pd.Timestamp(last_us, unit="us", tz="UTC")


def test_one_table_on_standard_output(run: Run) -> None:
    words = ("--from", "2026-01-20 13:10", "--to", "2026-01-20T12:20:00Z", "--sensor", "top")
    code, said, beside = run("-", "--only", "readings", "--site-time", *words)
    assert code == 0
    table = pd.read_csv(io.StringIO(said))
    assert list(table.columns[:3]) == ["time_utc", "time_site", "sensor"]
    assert set(table["sensor"]) == {"top"}
    assert table["time_utc"].min() == "2026-01-20T12:10:00Z"
    assert table["time_site"].max() == "2026-01-20T13:19:00+01:00"
    assert "rows" not in beside


@pytest.mark.parametrize(
    ("words", "told"),
    [
        pytest.param(["-"], "Standard output takes one table; say which", id="all at once"),
        pytest.param(["-", "--only", "photos"], "take one of readings, batches", id="unknown"),
        pytest.param(["out", "--sensor", "attic"], "There are readings of: middle, top", id="who"),
        pytest.param(["out", "--from", "x"], "--from x can't be read", id="time"),
        pytest.param(["cw.db"], "is a file. Name a folder", id="a file"),
    ],
)
def test_refused(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], told: str
) -> None:
    monkeypatch.chdir(home)
    code, said, beside = run(*words)
    assert (code, said) == (1, "")
    assert told in beside
    assert list(home.glob("out/*")) == []


def test_nothing_is_written_over_without_being_told(run: Run, home: Path) -> None:
    folder = home / "out"
    folder.mkdir()
    (folder / "moves.csv").write_text("mine")
    code, said, beside = run(str(folder))
    assert (code, said) == (1, "")
    assert "moves.csv is there already and was left as it is" in beside
    assert [path.name for path in folder.iterdir()] == ["moves.csv"]
    assert run(str(folder), "--overwrite")[0] == 0
    assert (folder / "moves.csv").read_text().startswith("time_utc,move,")


def test_a_week(run: Run, home: Path) -> None:
    assert run(str(home / "out"), "--week", "2026-W04")[0] == 0
    assert len((home / "out" / "readings.csv").read_text().splitlines()) == 481
    assert run(str(home / "out"), "--week", "2026-W05", "--overwrite")[0] == 0
    assert len((home / "out" / "readings.csv").read_text().splitlines()) == 1


def test_parquet_says_the_same(run: Run, home: Path) -> None:
    pytest.importorskip("pyarrow", reason="the extra “parquet” is not installed")
    assert run(str(home / "out"))[0] == 0
    assert run(str(home / "out"), "--parquet", "--site-time")[0] == 0
    for kind in Kind:
        plain = pd.read_csv(home / "out" / f"{kind}.csv")
        typed = pd.read_parquet(home / "out" / f"{kind}.parquet")
        assert [name for name in typed.columns if not name.endswith("_site")] == list(
            plain.columns
        )
        assert len(typed) == len(plain)
    plain = pd.read_csv(home / "out" / "readings.csv", parse_dates=["time_utc"])
    typed = pd.read_parquet(home / "out" / "readings.parquet")
    assert (typed["time_utc"] == plain["time_utc"]).all()
    assert typed["temperature_c"].equals(plain["temperature_c"])


def test_parquet_is_for_folders_and_for_who_has_it(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "goes into a folder" in run("-", "--only", "readings", "--parquet")[2]
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    code, said, beside = run(str(home / "out"), "--parquet")
    assert (code, said) == (1, "")
    assert "pip install 'chamberwatch[parquet]'" in beside
    assert not (home / "out").exists()
