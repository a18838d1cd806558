"""A sign on a batch, joined on a real database to what the air of its chamber did before."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.signs import Finding, Seen, Speaks
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.growing.looking import JUST_NOW, NOWHERE, SEALED, Looking
from chamberwatch.settings.species import shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import NOON, house

T, H, C = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2


def before(days: float) -> datetime:
    return NOON - timedelta(days=days)


def grey(stage: Stage = Stage.FRUITING, days: float = 4.0) -> Batch:
    """Return a batch of grey oyster, opened 8 days ago, in its stage for so many days."""
    return Batch(
        14,
        Start("grey-oyster", Container.BAG),
        before(40),
        (
            Passed(Stage.COLONISATION, 0, before(40), before(8)),
            Passed(Stage.PINNING, 0, before(8), before(days)),
            Passed(stage, 1, before(days)),
        ),
        1,
        "tent",
        "top",
        before(40),
        opened_at=before(8),
        chambers=("tent",),
    )


@dataclass
class Eyes:
    """A book of readings, and who looks."""

    books: SqlBooks
    batch: Batch = field(default_factory=grey)

    @property
    def looking(self) -> Looking:
        table = shipped_species()
        batches = {self.batch.id: self.batch}
        return Looking(self.books, house(), table, lambda: batches, HandClock(), UTC)

    def hear(
        self, quantity: Quantity, days: float, *values: float, sensor: str = "middle"
    ) -> None:
        """Keep half-hourly readings of the days before noon, these values in turn by hours."""
        step = timedelta(minutes=30)
        count = round(timedelta(days=days) / step)
        readings = [
            Reading(before(days) + n * step, sensor, quantity, values[n // 2 % len(values)])
            for n in range(count)
        ]
        with self.books.write() as book:
            book.readings.add(readings)

    def look(self, sign: str, at: datetime = NOON) -> Seen:
        return self.looking.look(14, sign, at)

    def told(self, sign: str, title: str) -> Finding:
        return next(f for f in self.look(sign).findings if f.cause.title == title)


@pytest.fixture
def eyes(tmp_path: Path) -> Iterator[Eyes]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield Eyes(books)
    books.close()


def titles(findings: Sequence[Finding], speaks: Speaks) -> list[str]:
    return [f.cause.title for f in findings if f.speaks is speaks]


def test_the_air_ranks_the_causes(eyes: Eyes) -> None:
    eyes.hear(C, 10, 800.0, 1500.0)
    eyes.hear(T, 10, 17.0)
    seen = eyes.look("long-stems")
    assert titles(seen.findings, Speaks.FOR) == ["Stale air"]
    assert titles(seen.findings, Speaks.AGAINST) == ["Too warm"]
    assert titles(seen.findings, Speaks.UNHEARD) == ["Too little light"]
    assert seen.findings[0].words == (
        "CO2 was above 1000 ppm for 50 % of the last five days, most 1500 ppm around noon of "
        "Thursday 15 January."
    )
    note = eyes.looking.note_of(seen)
    assert "50 %" in note
    assert "Too" not in note.split("Not for: ")[0]


def test_only_what_it_met_in_the_open_counts(eyes: Eyes) -> None:
    # Stale until the day before yesterday, when it was opened; fresh since.
    eyes.batch = replace(eyes.batch, opened_at=before(2))
    eyes.hear(C, 2, 600.0)
    with eyes.books.write() as book:
        book.readings.add(
            Reading(before(2) - timedelta(hours=n), "middle", C, 5000.0) for n in range(1, 90)
        )
    found = eyes.told("long-stems", "Stale air")
    assert found.speaks is Speaks.AGAINST
    assert "at no hour above 1000 ppm in the last two days" in found.words


def test_drying_is_reckoned_from_sensors_that_report_both(eyes: Eyes) -> None:
    # 25 °C and 80 %: 634 Pa; 333 Pa is too much.
    eyes.hear(T, 4, 25.0)
    assert eyes.told("cracked-caps", "Drying too fast").words == (
        "The sensor there did not send both temperature and humidity in that time."
    )
    eyes.hear(H, 4, 80.0)
    found = eyes.told("cracked-caps", "Drying too fast")
    assert (found.speaks, found.words.split(",")[0]) == (
        Speaks.FOR,
        (
            "The drying power of the air (vapour-pressure deficit) was above 0.33 kPa for 100 % "
            "of the last three days"
        ),
    )
    assert "0.63 kPa" in found.words


def test_core_and_room_are_not_the_air_it_stands_in(eyes: Eyes) -> None:
    eyes.hear(T, 5, 33.0, sensor="block")
    eyes.hear(T, 5, 33.0, sensor="room")
    found = eyes.told("long-stems", "Too warm")
    assert (found.speaks, found.words) == (
        Speaks.UNHEARD,
        "The sensor there sent no temperature in that time.",
    )


@pytest.mark.parametrize(
    ("change", "title", "words"),
    [
        pytest.param({"chamber": None}, "Stale air", NOWHERE, id="outdoors"),
        pytest.param({"opened_at": None}, "Stale air", SEALED, id="sealed"),
        pytest.param({"opened_at": NOON + timedelta(1)}, "Stale air", SEALED, id="opened later"),
        pytest.param({"placed": NOON}, "Stale air", JUST_NOW, id="just come"),
        pytest.param({"opened_at": NOON}, "Stale air", JUST_NOW, id="just opened"),
    ],
)
def test_why_nothing_can_be_said(
    eyes: Eyes, change: dict[str, object], title: str, words: str
) -> None:
    eyes.hear(C, 5, 3000.0)
    eyes.batch = replace(eyes.batch, **change)  # type: ignore[arg-type]
    found = eyes.told("long-stems", title)
    assert (found.speaks, found.words) == (Speaks.UNHEARD, words)


def test_a_sealed_bag_still_feels_the_warmth(eyes: Eyes) -> None:
    eyes.hear(T, 14, 29.0)
    colonising = (Passed(Stage.COLONISATION, 0, before(40)),)
    eyes.batch = replace(eyes.batch, opened_at=None, stages=colonising)
    found = eyes.told("green-patches", "Too warm for the mycelium")
    assert found.speaks is Speaks.FOR
    assert "above 27.0 °C for 100 % of the last 14 days" in found.words


def test_one_that_was_thrown_out_is_looked_at_as_it_lived(eyes: Eyes) -> None:
    eyes.hear(C, 5, 3000.0)
    ended = Passed(Stage.CONTAMINATED, 1, before(1))
    stages = (*eyes.batch.stages[:-1], replace(eyes.batch.stages[-1], until=before(1)), ended)
    eyes.batch = replace(eyes.batch, stages=stages, chamber=None, shelf=None, placed=before(1))
    found = eyes.told("long-stems", "Stale air")
    assert found.speaks is Speaks.FOR
    assert found.heard is not None
    assert (found.heard.until, found.heard.hours) == (before(1), 96)


def test_of_one_that_ended_long_ago_its_last_days_count(eyes: Eyes) -> None:
    eyes.hear(H, 7.5, 80.0)
    eyes.hear(T, 7.5, 25.0)
    ended = Passed(Stage.SPENT, 1, before(6))
    stages = (*eyes.batch.stages[:-1], Passed(Stage.FRUITING, 1, before(7), before(6)), ended)
    eyes.batch = replace(eyes.batch, stages=stages, chamber=None, shelf=None, placed=before(6))
    assert eyes.told("blotch", "Damp, still air").words.startswith(
        "Humidity was at no hour above 95 % in the 36 hours measured since 12 January"
    )


def test_it_says_which_sensor_is_missing(eyes: Eyes) -> None:
    bare = replace(house(), sensors={})
    looking = replace(eyes.looking, house=bare)
    words = {f.cause.title: f.words for f in looking.look(14, "cracked-caps", NOON).findings}
    assert words["Dry air"] == "No sensor in the air there measures humidity."
    assert words["Drying too fast"] == (
        "No sensor in the air there measures both temperature and humidity."
    )


@pytest.mark.parametrize(
    ("stage", "days", "speaks", "words"),
    [
        pytest.param(
            Stage.PINNING,
            2.0,
            Speaks.FOR,
            "waited for two days; 3 to 5 days are usual",
            id="pinning",
        ),
        pytest.param(Stage.PINNING, 6.0, Speaks.AGAINST, "waited for six days", id="overdue"),
        pytest.param(Stage.RESTING, 6.0, Speaks.FOR, "7 to 14 days are usual", id="resting"),
    ],
)
def test_no_pins_may_be_too_early(
    eyes: Eyes, stage: Stage, days: float, speaks: Speaks, words: str
) -> None:
    eyes.batch = grey(stage, days)
    found = eyes.told("no-pins", "It is too early")
    assert found.speaks is speaks
    assert words in found.words
    assert "Stamets, Growing" in found.words


def test_where_pins_stand_none_is_too_early(eyes: Eyes) -> None:
    titles_now = [finding.cause.title for finding in eyes.look("no-pins").findings]
    assert "Stale air" in titles_now
    assert "It is too early" not in titles_now


def test_pins_want_it_cooler_than_the_fruits_that_follow(eyes: Eyes) -> None:
    eyes.hear(T, 5, 18.0)
    eyes.batch = grey(Stage.RESTING)
    found = eyes.told("no-pins", "Too warm to pin")
    assert found.speaks is Speaks.FOR
    assert "above 15.6 °C" in found.words
    assert eyes.told("aborted-pins", "Too warm").speaks is Speaks.AGAINST


def test_where_the_band_has_no_limit_the_usual_one_holds(eyes: Eyes) -> None:
    # Between flushes carbon dioxide isn't judged.
    eyes.hear(C, 5, 1200.0)
    eyes.batch = grey(Stage.RESTING)
    assert "above 1000 ppm" in eyes.told("small-caps", "Stale air").words
    assert (
        eyes.told("aborted-pins", "Stale air").words
        == "In this stage there is no limit to hold it against."
    )


def test_a_species_of_the_growers_own_that_is_gone(eyes: Eyes) -> None:
    start = replace(eyes.batch.start, species="blue-oyster")
    eyes.batch = replace(grey(Stage.PINNING, 2.0), start=start)
    eyes.hear(C, 5, 1200.0)
    eyes.hear(T, 5, 30.0)
    found = eyes.told("no-pins", "Stale air")
    assert found.speaks is Speaks.FOR
    assert (
        eyes.told("no-pins", "Too warm to pin").words
        == "In this stage there is no limit to hold it against."
    )
    assert eyes.told("no-pins", "It is too early").speaks is Speaks.UNHEARD


@pytest.mark.parametrize(
    ("number", "sign", "at", "error", "words"),
    [
        pytest.param(15, "blotch", NOON, UnknownNameError, "Known: 14", id="no such batch"),
        pytest.param(14, "antlers", NOON, UnknownNameError, "Known: long-stems", id="no sign"),
        pytest.param(14, "blotch", before(-1), RefusedError, "in the future", id="to come"),
        pytest.param(14, "blotch", before(41), RefusedError, "11 December", id="before it was"),
    ],
)
def test_refusals(
    eyes: Eyes, number: int, sign: str, at: datetime, error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        eyes.looking.look(number, sign, at)


def test_what_may_be_seen(eyes: Eyes) -> None:
    names = [sign.name for sign in eyes.looking.signs(14)]
    assert "blotch" in names
    assert "antlers" not in names
