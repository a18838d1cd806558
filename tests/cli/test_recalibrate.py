"""`calibrate` and `recalibrate` as a person types them."""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.cli import main
from chamberwatch.clock import WallClock
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks, open_books

Run = Callable[..., int]
RH = Quantity.HUMIDITY
HOUR = timedelta(hours=1)

SETTINGS = """
[database]
url = "sqlite:///{file}"
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "top"
chamber = "tent"
topic = "tent/top"
reads.humidity = {{ at = "/rh" }}
reads.co2 = {{ at = "/co2" }}
reads.temperature = {{ at = "/t" }}
"""


@pytest.fixture
def now() -> datetime:
    return WallClock().now()


class Home:
    """A settings file, and the database that it names."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "cw.db"
        self.config = folder / "chamberwatch.toml"
        self.config.write_text(SETTINGS.format(file=self.file), encoding="utf-8")

    def fill(self, now: datetime, count: int = 10) -> None:
        """Keep one reading of 80 % for each of the last hours."""
        books = open_books(f"sqlite:///{self.file}", now)
        with books.write() as book:
            book.readings.add(
                Reading(now - n * HOUR, "top", RH, 80.0) for n in range(count, 0, -1)
            )
        books.close()

    def readings(self, now: datetime) -> list[tuple[float, float | None]]:
        books = open_books(f"sqlite:///{self.file}", now)
        with books.read() as book:
            page = book.readings.page(None, Span(now - 500 * HOUR, now + HOUR), None, 1000)
        books.close()
        return [(r.value, r.raw) for r in page]

    def kept(self, now: datetime) -> tuple[list[Calibration], list[str]]:
        """Return the calibrations, and what stands in the log."""
        books = open_books(f"sqlite:///{self.file}", now)
        with books.read() as book:
            found = list(book.calibrations.all())
            actions = book.actions.recent("tent")
        books.close()
        assert {(a.deed, a.via) for a in actions} <= {(Deed.NOTED, "command line")}
        return found, [action.note for action in actions]


@pytest.fixture
def home(tmp_path: Path, now: datetime) -> Home:
    made = Home(tmp_path)
    made.fill(now)
    return made


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, home: Home) -> Run:
    def typed(*words: str) -> int:
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words, "--config", str(home.config)])
        with pytest.raises(SystemExit) as left:
            main()
        code = left.value.code
        return code if isinstance(code, int) else 0

    return typed


# ------------------------------------------------------------------ calibrate


def test_two_salts(
    run: Run, home: Home, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    salts = ("--salt", "NaCl=77.1@20.4", "--salt", "kcl=86.0@20.4")
    assert run("calibrate", "top", *salts, "--who", "Ann") == 0
    said = capsys.readouterr().out
    assert "Reads 1.6 % too high at 75 % and 1.0 % too high at 85 %" in said
    assert "within a minute" in said
    (calibration,), notes = home.kept(now)
    # Greenspan 1977 at 20.4 °C: (85.0484 - 75.4556) / (86.0 - 77.1).
    assert calibration.slope == pytest.approx(1.077843, abs=1e-6)
    assert calibration.who == "Ann"
    assert calibration.at >= now
    assert notes == ["sensor top: humidity -1.3 % (two salts), by Ann"]


@pytest.mark.parametrize(
    ("words", "quantity", "offset"),
    [
        pytest.param(["--salt", "NaCl=77.1@20"], RH, -1.63, id="salt"),
        pytest.param(["--co2-fresh-air", "512"], Quantity.CO2, -82.0, id="fresh-air"),
        pytest.param(
            ["--co2-fresh-air", "512", "--fresh-air-ppm", "450"], Quantity.CO2, -62.0, id="town"
        ),
        pytest.param(
            ["--reference-temperature", "20.0=20.6"], Quantity.TEMPERATURE, -0.6, id="thermometer"
        ),
        pytest.param(["--offset", "humidity=-1.5"], RH, -1.5, id="by-hand"),
        pytest.param(["--offset", "humidity=0"], RH, 0.0, id="withdrawn"),
    ],
)
def test_one_check(
    run: Run, home: Home, now: datetime, words: list[str], quantity: Quantity, offset: float
) -> None:
    assert run("calibrate", "top", *words, "--who", "Ann") == 0
    (calibration,), _ = home.kept(now)
    assert (calibration.quantity, calibration.slope) == (quantity, 1.0)
    assert calibration.offset == pytest.approx(offset, abs=1e-9)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["--salt", "NaCl=77.1@20"], "Say who did it: --who NAME", id="nobody"),
        pytest.param(["--salt", "sugar=77.1@20"], "no salt “sugar”", id="sugar"),
        pytest.param(
            ["--salt", "77.1"], "write SALT=READ@TEMPERATURE like NaCl=77.1@20.4", id="no-salt"
        ),
        pytest.param(["--salt", "NaCl=77.1"], "like NaCl=77.1@20.4", id="no-warmth"),
        pytest.param(["--salt", "NaCl=wet@20"], "like NaCl=77.1@20.4", id="no-number"),
        pytest.param(["--salt", "NaCl=95@20", "--who", "Ann"], "Wait an hour", id="off"),
        pytest.param(["--salt", "NaCl=75@2", "--who", "Ann"], "10 to 35 °C", id="cold"),
        pytest.param(["--reference-temperature", "20"], "like 20.0=20.6", id="one-thermometer"),
        pytest.param(["--offset", "colour=1"], "like humidity=-1.5", id="no-quantity"),
        pytest.param(
            ["--offset", "rh=1"],
            "no quantity “rh”; take one of temperature, humidity, co2, pressure, battery.",
            id="quantities",
        ),
        pytest.param(["--offset", "humidity=much"], "like humidity=-1.5", id="no-offset"),
        pytest.param(["--offset", "humidity=nan", "--who", "Ann"], "Look at the num", id="nan"),
        pytest.param(["--fresh-air-ppm", "450"], "give both", id="nothing-read"),
        pytest.param(
            ["--salt", "NaCl=77@20", "--offset", "co2=1"], "one after the other", id="two"
        ),
        pytest.param(
            ["--offset", "co2=1", "--who", "Ann", "--at", "noon"], "time with its zone", id="at"
        ),
        pytest.param(
            ["--offset", "co2=1", "--who", "Ann", "--at", "2026-01-01T00:00"],
            "time with its zone",
            id="no-zone",
        ),
        pytest.param(
            ["--offset", "co2=1", "--who", "Ann", "--at", "2200-01-01T00:00Z"], "future", id="late"
        ),
    ],
)
def test_refused(
    run: Run,
    home: Home,
    now: datetime,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    said: str,
) -> None:
    assert run("calibrate", "top", *words) == 1
    assert said in capsys.readouterr().err
    assert home.kept(now) == ([], [])


def test_no_such_sensor_to_recalibrate(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("recalibrate", "--sensor", "nosuch") == 1
    told = capsys.readouterr()
    assert told.err.startswith("There is no sensor “nosuch”. Known: ")
    assert told.out == ""


def test_no_such_sensor(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("calibrate", "attic", "--offset", "co2=1", "--who", "Ann") == 1
    assert "There is no sensor “attic”. Known: top." in capsys.readouterr().err
    assert run("recalibrate", "--sensor", "attic") == 1
    assert "There is no sensor “attic”. Known: top." in capsys.readouterr().err


def test_without_a_check_it_shows_what_there_is(
    run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("calibrate", "top") == 0
    said = capsys.readouterr().out
    assert "humidity: sent 80 %" in said
    assert "No calibration of top was recorded." in said
    for value in ("-1.5", "-2.5"):
        run("calibrate", "top", "--offset", f"humidity={value}", "--who", "Ann")
    capsys.readouterr()
    assert run("calibrate", "top") == 0
    newest, oldest = capsys.readouterr().out.splitlines()[1:]
    assert "offset -2.5 %, by Ann (by hand). In force." in newest
    assert oldest.endswith("offset -1.5 %, by Ann (by hand).")


def test_the_database_must_be_there(
    run: Run, home: Home, capsys: pytest.CaptureFixture[str]
) -> None:
    home.file.unlink()
    assert run("calibrate", "top") == 1
    assert "is not there yet" in capsys.readouterr().err
    assert not home.file.exists()


def test_bad_settings(run: Run, home: Home) -> None:
    home.config.write_text("[[chamber]]\nnam = 'tent'\n", encoding="utf-8")
    assert run("recalibrate") == 2


# ------------------------------------------------------------------ recalibrate


@pytest.fixture
def halfway(run: Run, now: datetime, capsys: pytest.CaptureFixture[str]) -> str:
    """Record a correction that holds for the last five of ten readings; return its time."""
    since = (now - 5.5 * HOUR).astimezone(UTC).isoformat()
    assert run("calibrate", "top", "--offset", "humidity=-2", "--who", "Ann", "--at", since) == 0
    assert f"chamberwatch recalibrate --sensor top --since {since}" in capsys.readouterr().out
    return since


def test_the_past_is_brought_up_to_date(
    run: Run, home: Home, now: datetime, halfway: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert halfway
    untouched = [(80.0, None)] * 10
    assert run("recalibrate", "--dry-run") == 0
    assert "10 readings looked at, 5 would change." in capsys.readouterr().out
    assert home.readings(now) == untouched
    assert run("recalibrate") == 0
    assert "10 readings looked at, 5 changed." in capsys.readouterr().out
    assert home.readings(now) == [(80.0, None)] * 5 + [(78.0, 80.0)] * 5
    assert run("recalibrate") == 0
    assert "10 readings looked at, 0 changed." in capsys.readouterr().out


def test_only_some_of_it(
    run: Run, home: Home, now: datetime, halfway: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert halfway
    since = (now - 2.5 * HOUR).isoformat()
    assert run("recalibrate", "--sensor", "top", "--since", since) == 0
    assert "2 readings looked at, 2 changed." in capsys.readouterr().out
    assert home.readings(now) == [(80.0, None)] * 8 + [(78.0, 80.0)] * 2
    assert run("recalibrate", "--since", "yesterday") == 1
    assert "--since yesterday can't be read" in capsys.readouterr().err


def test_and_taken_back(run: Run, home: Home, now: datetime, halfway: str) -> None:
    assert run("recalibrate") == 0
    back = ("--offset", "humidity=0", "--who", "Ann", "--at", halfway)
    assert run("calibrate", "top", *back) == 0
    assert run("recalibrate") == 0
    assert home.readings(now) == [(80.0, None)] * 10
    assert len(home.kept(now)[0]) == 2


def test_recalibrating_says_what_cannot_be_brought_up_to_date(
    home: Home, run: Run, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    books = open_books(f"sqlite:///{home.file}", now)
    with books.write() as book:
        book.readings.add([Reading(now - 90 * HOUR, "top", RH, 80.0)])
    while _summed(books, now):
        pass
    with books.write() as book:
        gone = book.summing.drop_before(now - 24 * HOUR)
    books.close()
    assert run("recalibrate") == 0
    told = capsys.readouterr().out
    assert f"Readings of before {gone:%Y-%m-%d} were dropped as old (database.keep_raw)" in told
    assert run("recalibrate", "--since", gone.isoformat()) == 0
    assert "dropped" not in capsys.readouterr().out


def _summed(books: SqlBooks, now: datetime) -> bool:
    """Sum some up; tell whether there may be more."""
    with books.write() as book:
        more = book.summing.reach_on(now) or book.summing.reach_back()
        waiting = book.summing.waiting(1000)
        book.summing.keep(book.summing.reckon(waiting))
    return more or bool(waiting)
