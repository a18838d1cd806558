"""`review`, as a grower types it beside the daemon."""

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.cli import main
from chamberwatch.clock import WallClock
from chamberwatch.core.review import week as weeks
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Event, Priority, advance
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.settings import load, shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from tests.make import evidence

Run = Callable[..., tuple[int, str, str]]
COLUMNS = 80
MINUTE = timedelta(minutes=1)

SETTINGS = """
[site]
timezone = "Europe/Berlin"
[database]
url = "sqlite:///{file}"
[[chamber]]
name = "tent"
title = "The long shelving tent behind the cellar stairs"
stage = "fruiting"
[[sensor]]
name = "middle"
chamber = "tent"
topic = "tent/middle"
reads.humidity = {{ at = "/humidity" }}
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Return a settings file, its database beside it."""
    config = tmp_path / "chamberwatch.toml"
    config.write_text(SETTINGS.format(file=tmp_path / "cw.db"), encoding="utf-8")
    open_books(f"sqlite:///{tmp_path / 'cw.db'}", WallClock().now()).close()
    return config


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Path) -> Run:
    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("COLUMNS", str(COLUMNS))
        monkeypatch.setenv("CHAMBERWATCH_CONFIG", str(home))
        monkeypatch.setattr(sys, "argv", ["chamberwatch", "review", *words])
        with pytest.raises(SystemExit) as left:
            main()
        code = left.value.code
        shown = capsys.readouterr()
        wide = [line for line in shown.out.splitlines() if len(line) > COLUMNS]
        assert wide == [] or "--json" in words
        assert "\x1b" not in shown.out + shown.err
        return code if isinstance(code, int) else 0, shown.out, shown.err

    return typed


def lived(home: Path) -> None:
    """Let five short dry spells be told of in the second week of November 2026."""
    monday = datetime(2026, 11, 9, 8, tzinfo=UTC)
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", monday)
    with books.write() as book:
        reminder = book.reminders.of("tent", Call.MIST, "")
        for day in range(5):
            moment = monday + timedelta(days=day)
            for event, later in ((Event.RAISED, 0 * MINUTE), (Event.RETURNED, 4 * MINUTE)):
                reminder, move = advance(reminder, event, moment + later, "test")
                book.reminders.save(replace(reminder, evidence=evidence(79.0)), [move])
            book.outbox.add([_message(reminder.id, reminder.episode, moment)])
    books.close()


def _message(reminder: int, episode: int, moment: datetime) -> OutRow:
    return OutRow(
        0,
        reminder,
        episode,
        "terminal",
        "Mist now",
        "…",
        Priority.MEDIUM,
        OutState.SENT,
        moment,
        moment,
        sent=moment,
    )


def test_a_week_that_was_lived(run: Run, home: Path) -> None:
    lived(home)
    code, out, err = run("--reminders", "--week", "2026-W46")
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    for words in (
        "Reminders in 2026-W46, 9 to 15 November 2026",
        "messages 5: 0.7 a day, which is calm",
        "over at once 5 within 15 min, before anyone could act",
        "What tires most",
        "The long shelving tent behind the cellar stairs: mist. 5 messages, 5 over before anyone",
        'set patience.humidity.on_delay = "10 min" (now 3 min): all of its 5 raises',
        "What the messages were about",
    ):
        assert words in said
    assert "so far" not in out


def test_the_same_for_programs(run: Run, home: Path) -> None:
    lived(home)
    code, out, _ = run("--reminders", "--week", "2026-W46", "--json")
    (week,) = json.loads(out)["weeks"]
    assert (code, week["week"], week["messages"], week["over"]) == (0, "2026-W46", 5, True)
    assert week["worst"][0]["suggestion"]["spared"] == 5


def test_a_week_in_which_nothing_tires(run: Run, home: Path) -> None:
    lived(home)
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", WallClock().now())
    monday = datetime(2026, 11, 2, 8, tzinfo=UTC)
    with books.write() as book:
        book.outbox.add([replace(_message(0, 0, monday), kind=OutKind.SUMMARY)])
        vent = book.reminders.of("tent", Call.VENT, "")
        for event, later in ((Event.RAISED, 0 * MINUTE), (Event.RETURNED, 40 * MINUTE)):
            vent, move = advance(vent, event, monday - timedelta(days=7) + later, "test")
            book.reminders.save(vent, [move])
    books.close()
    _, out, _ = run("--reminders", "--week", "2026-W45")
    assert "What tires most" not in out
    assert out.endswith("\n\nWhat the messages were about\nabout   messages\nsummary 1\n")
    # Raised a week before, and nobody was told.
    _, out, _ = run("--reminders", "--week", "2026-W44")
    assert "nothing about the air or a sensor was told" in out
    assert "What" not in out


def test_a_week_without_a_word(run: Run) -> None:
    code, out, err = run("--reminders", "--week", "2025-W20")
    assert (code, err) == (0, "")
    assert out == "Reminders in 2025-W20, 12 to 18 May 2025\n  No reminders that week.\n"


def test_the_present_week_is_told_so_far(run: Run) -> None:
    def name() -> str:
        return weeks.of_moment(WallClock().now(), ZoneInfo("Europe/Berlin")).name

    before = name()
    code, out, _ = run("--reminders")
    assert code == 0
    assert out.startswith((f"Reminders in {before}, ", f"Reminders in {name()}, "))
    assert out.endswith(", so far\n  No reminders this week so far.\n")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        pytest.param(["--chamber", "barn"], "barn", id="no such chamber"),
        pytest.param(["--week", "47"], "such as 2026-W47", id="no week of air"),
        pytest.param(["--reminders", "--week", "47"], "such as 2026-W47", id="no week"),
        pytest.param(["--reminders", "--week", "2199-W01"], "has not begun", id="ahead"),
    ],
)
def test_what_can_not_be_looked_back_on_is_said(run: Run, words: list[str], says: str) -> None:
    code, out, err = run(*words)
    assert (code, out) == (1, "")
    assert says in err


def test_without_a_database_it_says_how_to_come_by_one(run: Run, home: Path) -> None:
    (home.parent / "cw.db").unlink()
    code, _, err = run("--reminders")
    assert code == 1
    assert "is not there yet. Start it with chamberwatch run" in err


# ---------------------------------------------------------------------- the air


def breathed(home: Path) -> None:
    """Let the air be heard on the second Monday of November 2026: an hour of it too dry."""
    monday = datetime(2026, 11, 9, 8, tzinfo=UTC)
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", monday)
    with books.write() as book:
        book.readings.add(
            Reading(
                monday + n * MINUTE, "middle", Quantity.HUMIDITY, 74.0 if 60 <= n < 120 else 88.0
            )
            for n in range(240)
        )
    judged(books, home)
    books.close()


def judged(books: SqlBooks, home: Path) -> None:
    """Hold the readings against the bands, as the daemon does."""
    house = load(home, {}).house()
    summing = SummingUp(books, WallClock(), BandsThen(house, shipped_species()))
    while summing.look():
        pass


def test_the_air_of_a_week(run: Run, home: Path) -> None:
    breathed(home)
    code, out, err = run("--week", "2026-W46")
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    for words in (
        "The long shelving tent behind the cellar stairs in 2026-W46, 9 to 15 November 2026",
        "humidity 75 % within the band, 25 % too dry; 74 % to 88 %, mean 84 %",
        "No misting shows in the readings.",
        "Too dry for 1 h, from Monday 10:00; humidity down to 74 %, band from 80 %.",
        "09 88 % 100 % 10 74 % 0 % 11 88 % 100 %",
        "What to change The humidity is missing for 6 days 20 h.",
    ):
        assert words in said


def test_the_air_for_programs(run: Run, home: Path) -> None:
    breathed(home)
    code, out, _ = run("--week", "2026-W46", "--chamber", "tent", "--json")
    (tent,) = json.loads(out)["chambers"]
    assert (code, tent["chamber"], tent["week"], tent["over"]) == (0, "tent", "2026-W46", True)
    (share,) = tent["shares"]
    assert (share["within"], share["below"], share["in_band"]) == (180, 60, 0.75)
    assert tent["spells"][0]["limit"] == 80.0
    assert tent["day"]["humidity"][10]["below"] == 60


@pytest.mark.parametrize(
    ("words", "says"),
    [
        pytest.param(["--week", "last"], "Nothing was heard of its air that week.", id="last"),
        pytest.param([], "Nothing heard yet.", id="present"),
    ],
)
def test_a_week_nothing_was_heard_of(run: Run, words: list[str], says: str) -> None:
    code, out, _ = run(*words)
    assert (code, says in out) == (0, True)


def test_a_week_in_which_all_was_well(run: Run, home: Path) -> None:
    monday = datetime(2026, 11, 1, 23, tzinfo=UTC)
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", monday)
    with books.write() as book:
        book.readings.add(
            Reading(monday + 5 * n * MINUTE, "middle", Quantity.HUMIDITY, 88.0)
            for n in range(7 * 288)
        )
    judged(books, home)
    books.close()
    _, out, _ = run("--week", "2026-W45")
    assert "None of five minutes or more." in out


def test_without_a_chamber_there_is_no_air(run: Run, home: Path) -> None:
    home.write_text(SETTINGS.format(file=home.parent / "cw.db").split("[[chamber]]")[0])
    code, _, err = run()
    assert code == 1
    assert "There is no chamber with a stage" in err
