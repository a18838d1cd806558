"""Cautions on a real database: shown until somebody has seen them, and again when more stands."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.spores import Hazard
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.growing.cautions import Cautions
from chamberwatch.settings.species import shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import NOON, house

K = EntryKind


@dataclass
class Home:
    """A tent in a living room, what is told of it, and its cautions."""

    books: SqlBooks
    lived_in: bool = True

    def __post_init__(self) -> None:
        self.table = shipped_species()
        self.clock = HandClock()
        self.cautions = Cautions(self.books, self.clock, self.table)

    @property
    def house(self) -> House:
        plain = house()
        tent = replace(plain.chambers["tent"], living_space=self.lived_in)
        return replace(plain, chambers={**plain.chambers, "tent": tent})

    def begin(self, days: float = 30.0) -> int:
        start = Start("grey-oyster", Container.BAG)
        at = NOON - timedelta(days=days)
        with self.books.write() as book:
            entry = Entry(0, 0, K.STARTED, at, at, "page", start=start, chamber="tent")
            return book.growing.start(entry).batch

    def tell(
        self, batch: int, kind: EntryKind, sign: str = "", corrects: int | None = None
    ) -> int:
        self.clock.turn(minutes=1)
        now = self.clock.now()
        with self.books.write() as book:
            entry = Entry(0, batch, kind, now, now, "page", sign=sign, corrects=corrects)
            return book.growing.add(entry).id

    def open(self, count: int) -> list[int]:
        batches = [self.begin() for _ in range(count)]
        for batch in batches:
            self.tell(batch, K.OPENED)
        return batches

    @property
    def batches(self) -> dict[int, Batch]:
        with self.books.read() as book:
            told: dict[int, list[Entry]] = {}
            for entry in book.growing.all():
                told.setdefault(entry.batch, []).append(entry)
        return {n: fold(each, self.table.get("grey-oyster")) for n, each in told.items()}

    def ids(self, chamber: str = "tent") -> list[str]:
        return [c.id for c in self.cautions.standing(chamber, self.batches, self.house)]


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield Home(books)
    books.close()


def test_spores_from_the_third_open_batch_on(home: Home) -> None:
    home.begin()
    home.open(2)
    assert home.ids() == []
    home.open(1)
    assert home.ids() == ["spores-tent-3"]
    assert home.ids("shelf") == []
    home.lived_in = False
    assert home.ids() == []


def test_seen_by_name_until_the_number_grows(home: Home) -> None:
    first, *_ = home.open(3)
    home.cautions.acknowledge("spores-tent-3", "  Ada  Grower ", "page")
    assert home.ids() == []
    # Down and up again to as many is no news; one more is.
    home.tell(first, K.SPENT)
    home.open(1)
    assert home.ids() == []
    home.open(1)
    assert home.ids() == ["spores-tent-4"]
    home.cautions.acknowledge("spores-tent-4", "Ben", "api")
    # A late word about fewer takes nothing back.
    home.cautions.acknowledge("spores-tent-3", "Ada Grower", "page")
    assert home.ids() == []
    # A new life of the service still knows.
    seen = Cautions(home.books, home.clock).seen(Hazard.SPORES, "tent")
    assert [(each.who, each.count, each.via) for each in seen] == [
        ("Ada Grower", 3, "page"),
        ("Ben", 4, "api"),
        ("Ada Grower", 3, "page"),
    ]
    assert all(each.at <= home.clock.now() for each in seen)


def test_green_patches_until_seen_or_withdrawn(home: Home) -> None:
    batch, other = home.open(2)
    home.tell(batch, K.LOOKED, "long-stems")
    home.tell(batch, K.LOOKED, "a sign of an older version")
    assert home.ids() == []
    looked = home.tell(batch, K.LOOKED, "green-patches")
    at = home.clock.now()
    (caution,) = home.cautions.standing("tent", home.batches, home.house)
    assert (caution.title, caution.since) == (
        f"Batch {batch} (grey oyster) looks contaminated: bag it",
        at,
    )
    home.tell(batch, K.WITHDRAWN, corrects=looked)
    assert home.ids() == []
    home.tell(other, K.LOOKED, "black-patches")
    home.tell(other, K.CONTAMINATED)
    assert home.ids() == [f"contaminated-{other}-1"]
    home.cautions.acknowledge(f"contaminated-{other}-1", "Ada", "command line")
    assert home.ids() == []


def test_without_a_table_the_name_of_the_record_will_do(home: Home) -> None:
    (batch,) = home.open(1)
    home.tell(batch, K.CONTAMINATED)
    plain = Cautions(home.books, home.clock)
    (caution,) = plain.standing("tent", home.batches, home.house)
    assert caution.title == f"Batch {batch} (grey-oyster) is contaminated: bag it"


@pytest.mark.parametrize(
    ("caution", "who", "error"),
    [
        pytest.param("spores-tent-3", " ", RefusedError, id="nobody"),
        pytest.param("spores-tent-3", "A" * 81, RefusedError, id="too long a name"),
        pytest.param("spores-tent-9", "Ada", UnknownNameError, id="more than there ever were"),
        pytest.param("spores-cellar-3", "Ada", UnknownNameError, id="elsewhere"),
        pytest.param("contaminated-99-1", "Ada", UnknownNameError, id="no such batch"),
        pytest.param("contaminated-1-2", "Ada", UnknownNameError, id="no such number"),
        pytest.param("contaminated-x-1", "Ada", UnknownNameError, id="no batch"),
        pytest.param("something", "Ada", UnknownNameError, id="no id"),
    ],
)
def test_refusals(home: Home, caution: str, who: str, error: type[Exception]) -> None:
    home.open(3)
    with pytest.raises(error):
        home.cautions.acknowledge(caution, who, "page")
    assert home.ids() == ["spores-tent-3"]


def test_a_chamber_that_there_is_not(home: Home) -> None:
    with pytest.raises(UnknownNameError, match="tent"):
        home.ids("attic")
