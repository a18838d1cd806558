"""`import`, as a grower types it beside the daemon."""

import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.cli import importing as module
from chamberwatch.cli import main
from chamberwatch.clock import WallClock
from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.exporting import EVER
from chamberwatch.service.importing import Importing
from chamberwatch.storage.book import SqlBook, open_books

Run = Callable[..., tuple[int, str, str]]
T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2

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
reads.temperature = {{ at = "/temperature" }}
[[sensor]]
name = "top"
chamber = "tent"
topic = "tent/top"
reads.humidity = {{ at = "/humidity" }}
"""

PLAIN = """Logger 7;made in winter
Datum;Zeit;Temperatur (°C);Feuchte (%);Taupunkt;CO2 (ppm)
20.01.2026;12:00;20,5;80,0;17,0;900
20.01.2026;12:05;20,6;180,0;17,0;900
Ende;;;;;
"""
SEVERAL = """time,sensor,T (°C)
2026-01-20T12:00Z,a,20
2026-01-20T12:00Z,b,21
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    config = tmp_path / "chamberwatch.toml"
    config.write_text(SETTINGS.format(file=tmp_path / "cw.db"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Path) -> Run:
    def typed(*words: str, command: str = "import") -> tuple[int, str, str]:
        monkeypatch.setenv("CHAMBERWATCH_CONFIG", str(home / "chamberwatch.toml"))
        monkeypatch.setattr(sys, "argv", ["chamberwatch", command, *words])
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        code = left.value.code
        return code if isinstance(code, int) else 0, said.out, said.err

    return typed


def write(home: Path, text: str) -> str:
    (home / "log.csv").write_text(text, encoding="utf-8")
    return "log.csv"


def kept(home: Path) -> list[Reading]:
    books = open_books(f"sqlite:///{home / 'cw.db'}", WallClock().now())
    with books.read() as book:
        found = list(book.readings.page(None, EVER, None, 1000))
    books.close()
    return found


def rejects(home: Path) -> int:
    books = open_books(f"sqlite:///{home / 'cw.db'}", WallClock().now())
    with books.read() as book:
        count = book.rejects.count()
    books.close()
    return count


# ------------------------------------------------------------------ the preview


def test_it_shows_what_it_understood_and_stops(run: Run, home: Path) -> None:
    code, said, beside = run(write(home, PLAIN), "--sensor", "middle")
    assert (code, beside) == (0, "")
    lines = [" ".join(line.split()) for line in said.splitlines()]
    for line in (
        "laid out columns parted by “;”, a comma before decimals, rows from line 3 on, UTF-8",
        "time “Datum” and “Zeit”, the day first, on the clocks of Europe/Berlin where no zone is",
        "temperature “Temperatur (°C)” in °C",
        "left out “Taupunkt”: by its name (dewpoint) not measured in the air",
        "left out “CO2 (ppm)”: the sensor doesn't report it; add it under its reads in the",
        "span 2026-01-20 12:00 to 2026-01-20 12:05, on the site's clock",
        "humidity 1 reading, 80.0 % to 80.0 %, mean 80.0 %",
        "goes to sensor middle: 3 of them",
        "line 5: “Ende” is no time written day-first",
        "2026-01-20 12:00:00 middle 20.50 °C 80.0 %",
        "Nothing was stored. To store it, add --yes.",
    ):
        assert any(each.startswith(line) for each in lines), line
    assert "line 4: humidity 180 % is outside 0 to 105 %" in said
    assert kept(home) == []


def test_a_dry_run_counts(run: Run, home: Path) -> None:
    file = write(home, PLAIN)
    code, said, _ = run(file, "--sensor", "middle", "--dry-run", "--yes")
    assert code == 0
    assert "3 readings would be new, 0 are there already, 1 would be counted as rejects." in said
    assert not (home / "cw.db").exists()  # there was none yet, and there is none now
    open_books(f"sqlite:///{home / 'cw.db'}", WallClock().now()).close()
    assert run(file, "--sensor", "middle", "--dry-run")[1] == said
    assert (kept(home), rejects(home)) == ([], 0)


def test_yes_stores_it_once(run: Run, home: Path) -> None:
    file = write(home, PLAIN)
    code, said, _ = run(file, "--sensor", "middle", "--yes")
    assert code == 0
    assert "3 readings stored, 0 were there already, 1 counted as rejects." in said
    assert "sums them up for charts: a month of them takes about ten minutes" in said
    first = datetime.fromisoformat("2026-01-20T11:00Z")
    assert kept(home) == [
        Reading(first, "middle", T, 20.5),
        Reading(first, "middle", RH, 80.0),
        Reading(first + timedelta(minutes=5), "middle", T, 20.6),
    ]
    code, said, _ = run(file, "--sensor", "middle", "-y")
    assert "0 readings stored, 3 were there already, 0 counted as rejects." in said
    assert "sums them up" not in said
    assert (len(kept(home)), rejects(home)) == (3, 1)


@pytest.mark.parametrize("agrees", [True, False])
def test_who_sits_there_is_asked(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch, agrees: bool
) -> None:
    asked: list[str] = []

    def confirm(text: str) -> bool:
        asked.append(text)
        return agrees

    monkeypatch.setattr("typer.confirm", confirm)
    monkeypatch.setattr(module, "may_ask", lambda: True)
    run(write(home, PLAIN), "--sensor", "middle")
    assert asked == ["Store these 3 readings?"]
    assert len(kept(home)) == (3 if agrees else 0)


# ------------------------------------------------------------------ what has to be said


@pytest.mark.parametrize(
    ("text", "words", "told"),
    [
        pytest.param(PLAIN, [], "Say whose readings these are: --sensor NAME. Known: m", id="who"),
        pytest.param(PLAIN, ["--sensor", "attic"], "Known: middle, top. Add it in", id="unknown"),
        pytest.param(
            "time,T\n01/02/2026 12:00,20",
            ["--sensor", "middle"],
            "--time-format day-first",
            id="day",
        ),
        pytest.param(
            "time,T\n2026-01-20 12:00,38",
            ["--sensor", "middle"],
            "--unit 'temperature=°F'",
            id="°F",
        ),
        pytest.param("Dear diary", ["--sensor", "middle"], "looks like a time", id="a diary"),
        pytest.param(
            "time,Light\n2026-01-20 12:00,38", ["--sensor", "middle"], "--column 'temp", id="light"
        ),
        pytest.param(
            "time,T (°C)\n2026-01-20 12:00,380", ["--sensor", "middle"], "Nothing of it", id="heat"
        ),
        pytest.param(SEVERAL, ["--sensor", "middle"], "--sensor 'middle=a'", id="several"),
        pytest.param(
            SEVERAL, ["--sensor", "middle", "--sensor", "top"], "each as --sensor NAME=", id="two"
        ),
        pytest.param(PLAIN, ["--sensor", "middle=a"], "say --sensor NAME alone", id="none named"),
        pytest.param(PLAIN, ["--column", "T"], "--column T can't be read", id="column"),
        pytest.param(PLAIN, ["--column", "dew=T"], "with one of temperature", id="quantity"),
        pytest.param(PLAIN, ["--unit", "temperature"], "write quantity=UNIT", id="unit"),
        pytest.param(PLAIN, ["--unit", "temperature=%"], "use one of °C, C", id="no unit"),
        pytest.param(PLAIN, ["--zone", "Mars/Base"], "There is no zone Mars/Base", id="zone"),
        pytest.param(PLAIN, ["--zone", "+30"], "There is no zone +30", id="hours"),
        pytest.param(PLAIN, ["--decimal", ":"], "--decimal : can't be read", id="decimal"),
        pytest.param(PLAIN, ["--delimiter", ";;"], "write one sign such as ; or", id="delimiter"),
        pytest.param(
            PLAIN, ["--sensor", "middle", "--time-format", "x"], "--time-format x can't", id="form"
        ),
        pytest.param(
            PLAIN,
            ["--sensor", "middle", "--time", "When"],
            "no column “When”",
            id="no such column",
        ),
    ],
)
def test_refused(run: Run, home: Path, text: str, words: list[str], told: str) -> None:
    code, _, beside = run(write(home, text), *words, "--yes")
    assert code == 1
    assert told in beside
    assert kept(home) == []


def test_a_file_that_is_not_there(run: Run) -> None:
    code, _, beside = run("gone.csv", "--sensor", "middle")
    assert code == 1
    assert "gone.csv can't be read" in beside


def test_everything_can_be_said(run: Run, home: Path) -> None:
    """A file in which nothing can be told by looking."""
    file = write(home, "x\ny:z:u:w\n01.02.2026:1.204:68,5:x\n")
    code, said, beside = run(
        file,
        "--sensor",
        "middle",
        *("--skip-lines", "1", "--delimiter", ":", "--decimal", ",", "--zone", "-5"),
        *("--time", "y", "--time-format", "%d.%m.%Y"),
        *(
            "--column",
            "temperature=u",
            "--unit",
            "temperature=°F",
            "--column",
            "humidity=column 2",
        ),
        *("--unit", "humidity=fraction", "--yes"),
    )
    assert (code, beside) == (0, "")
    assert [(r.time.isoformat(), r.value) for r in kept(home)] == [
        ("2026-02-01T05:00:00+00:00", 20.277778)
    ]
    assert "1 counted as rejects" in said


def test_rows_of_several_go_where_they_belong(run: Run, home: Path) -> None:
    file = write(home, SEVERAL)
    code, said, _ = run(file, "--sensor", "middle=b", "--yes")
    assert code == 0
    assert "1 row of “a”, which is not asked for" in said
    assert [(r.sensor, r.value) for r in kept(home)] == [("middle", 21.0)]


def test_what_claims_to_come_is_refused(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "time,T\n2026-01-20 12:00,20\n2099-01-20 12:00,20"
    # Also by a clock that nobody vouches for: kept as the newest, it would make ours look wrong.
    monkeypatch.setattr(WallClock, "synchronised", lambda _: False)
    said = run(write(home, text), "--sensor", "middle", "--dry-run")[1]
    assert "line 3: 2099-01-20T11:00:00Z lies ahead of our time" in said
    assert "1 readings would be new, 0 are there already, 1 would be counted as rejects" in said


def test_an_export_comes_back(run: Run, home: Path) -> None:
    run(write(home, PLAIN), "--sensor", "middle", "--yes")
    before = kept(home)
    assert run("out", "--only", "readings", command="export")[0] == 0
    (home / "cw.db").unlink()
    for rest in home.glob("cw.db-*"):
        rest.unlink()
    code, said, _ = run("out/readings.csv", "--yes")
    assert code == 0
    assert "3 readings stored" in said
    assert kept(home) == before


def test_a_database_that_fails_says_how_far_it_came(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, left = Importing._keep, [1]

    def failing(self: Importing, book: SqlBook, *more: object) -> object:
        left[0] -= 1
        if left[0] < 0:
            raise StorageError("The disk is full.")
        return real(self, book, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Importing, "_keep", failing)
    text = "time,T\n" + "\n".join(f"2026-01-20 {n // 60:02d}:{n % 60:02d},20" for n in range(300))
    code, _, beside = run(write(home, text), "--sensor", "middle", "--yes")
    assert code == 1
    assert beside.strip() == (
        "The disk is full. 250 readings were stored before; give the same command again and it "
        "goes on from there."
    )
    assert len(kept(home)) == 250
