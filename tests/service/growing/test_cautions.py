"""Cautions on a real database: shown until somebody has seen them, and again when more stands."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.bands_then import grown
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start
from chamberwatch.core.growing.spores import Hazard
from chamberwatch.core.growing.wants import follow
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.growing.cautions import Cautions
from chamberwatch.service.growing.folding import batches_of
from chamberwatch.settings.species import shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.growing import SqlGrowing
from tests.fakes import HandClock
from tests.make import NOON, house

K = EntryKind


@dataclass
class Home:
    """A tent in a living room, what is told of it, and its cautions."""

    books: SqlBooks
    lived_in: bool = True
    gone: str = ""

    def __post_init__(self) -> None:
        self.table = shipped_species()
        self.clock = HandClock()
        self.cautions = Cautions(self.books, self.clock, self.table)

    @property
    def house(self) -> House:
        plain = house()
        here = [b for b in self.batches.values() if b.chamber == "tent" and b.ended is None]
        following = follow((grown(batch, self.table.known) for batch in here), {})
        tent = replace(plain.chambers["tent"], living_space=self.lived_in, following=following)
        chambers = {**plain.chambers, "tent": tent}
        chambers.pop(self.gone, None)
        return replace(plain, chambers=chambers)

    def begin(
        self, days: float = 30.0, species: str = "grey-oyster", chamber: str | None = "tent"
    ) -> int:
        start = Start(species, Container.BAG)
        at = NOON - timedelta(days=days)
        with self.books.write() as book:
            entry = Entry(0, 0, K.STARTED, at, at, "page", start=start, chamber=chamber)
            return book.growing.start(entry).batch

    def tell(
        self,
        batch: int,
        kind: EntryKind,
        sign: str = "",
        corrects: int | None = None,
        chamber: str | None = None,
    ) -> int:
        self.clock.turn(minutes=1)
        now = self.clock.now()
        with self.books.write() as book:
            entry = Entry(
                0, batch, kind, now, now, "page", sign=sign, corrects=corrects, chamber=chamber
            )
            return book.growing.add(entry).id

    def open(self, count: int) -> list[int]:
        batches = [self.begin() for _ in range(count)]
        for batch in batches:
            self.tell(batch, K.OPENED)
        return batches

    @property
    def batches(self) -> dict[int, Batch]:
        with self.books.read() as book:
            return batches_of(book.growing.all(), self.table)

    def ids(self, chamber: str | None = "tent") -> list[str]:
        return [c.id for c in self.cautions.standing(chamber, self.batches, self.house)]

    def see(self, caution: str, who: str = "Ada", via: str = "page") -> None:
        self.clock.turn(minutes=1)
        self.cautions.acknowledge(caution, who, via, self.batches, self.house)


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
    home.open(3)
    home.see("spores-tent-3", "  Ada  Grower ")
    assert home.ids() == []
    home.open(1)
    (caution,) = home.cautions.standing("tent", home.batches, home.house)
    # It holds since there was one more than had been seen.
    assert (caution.id, caution.since) == ("spores-tent-4", home.clock.now())
    home.see("spores-tent-4", "Ben", "api")
    # A late word about fewer, or the same again, changes nothing.
    home.see("spores-tent-3", "Ada Grower")
    home.see("spores-tent-4", "Ada Grower")
    assert home.ids() == []
    # A new life of the service still knows.
    seen = Cautions(home.books, home.clock).seen(Hazard.SPORES, "tent")
    assert [(each.who, each.count, each.via) for each in seen] == [
        ("Ada Grower", 3, "page"),
        ("Ben", 4, "api"),
    ]
    assert all(each.at <= home.clock.now() for each in seen)


def test_fewer_are_no_news_until_they_are_as_few_as_are_borne(home: Home) -> None:
    first, second, third, *_ = home.open(5)
    home.see("spores-tent-5")
    # One ends, another is carried out and comes back: never fewer than three.
    home.tell(first, K.SPENT)
    home.tell(second, K.MOVED)
    home.tell(second, K.MOVED, chamber="tent")
    home.open(1)
    assert home.ids() == []
    # The winter is over; the next one is told of anew, from the third on.
    for batch in home.batches.values():
        if batch.ended is None and batch.id != third:
            home.tell(batch.id, K.SPENT)
    home.open(2)
    assert home.ids() == ["spores-tent-3"]
    home.see("spores-tent-3")
    home.open(2)
    assert home.ids() == ["spores-tent-5"]


@pytest.mark.parametrize(
    ("caution", "others"),
    [
        pytest.param("spores-tent-4", [], id="four sealed bags"),
        pytest.param("contaminated-1-1", [], id="a healthy batch"),
    ],
)
def test_nothing_is_seen_beforehand(home: Home, caution: str, others: list[str]) -> None:
    batches = [home.begin() for _ in range(4)]
    with pytest.raises(UnknownNameError, match="Those that do: none"):
        home.see(caution)
    for batch in batches:
        home.tell(batch, K.OPENED)
    home.tell(batches[0], K.LOOKED, "green-patches")
    assert home.ids() == ["spores-tent-4", "contaminated-1-1", *others]


def test_what_was_kept_as_seen_too_early_does_not_count(home: Home) -> None:
    """An older version took any id that could stand one day."""
    kept = '[{"who": "Ada", "at": "%s", "via": "api", "count": %d}]'
    at = home.clock.now().isoformat()
    with home.books.write() as book:
        book.kept.keep_text("caution seen: spores tent", kept % (at, 4))
        book.kept.keep_text("caution seen: contaminated 1", kept % (at, 1))
    first, *_ = home.open(4)
    home.tell(first, K.LOOKED, "black-patches")
    assert home.ids() == ["spores-tent-4", f"contaminated-{first}-1"]


def test_air_of_antlers_until_seen_and_again_next_year(home: Home) -> None:
    for _ in range(2):
        batch = home.begin(species="reishi")
        assert home.ids() == []
        home.tell(batch, K.OPENED)
        assert home.ids() == ["co2-tent-40000"]
        home.see("co2-tent-40000")
        assert home.ids() == []
        home.tell(batch, K.SPENT)
    # Who shares the air with an oyster gets that one's.
    home.open(1)
    home.tell(home.begin(species="reishi"), K.OPENED)
    assert home.ids() == []


@pytest.mark.parametrize("gone", ["", "shelf"], ids=["outdoors", "in a chamber that is no more"])
def test_what_stands_in_no_chamber(home: Home, gone: str) -> None:
    batch = home.begin(species="shiitake", chamber=gone or None)
    home.gone = gone
    home.tell(batch, K.LOOKED, "green-patches")
    home.tell(batch, K.CONTAMINATED)
    other = home.begin(chamber=None)
    home.tell(other, K.CONTAMINATED)
    (mine,) = home.open(1)
    home.tell(mine, K.CONTAMINATED)
    batches, house_ = home.batches, home.house
    found = home.cautions.everywhere(batches, house_)
    assert [(c.id, c.chamber, c.batch) for c in found] == [
        (f"contaminated-{mine}-1", "tent", mine),
        (f"contaminated-{batch}-1", None, batch),
        (f"contaminated-{other}-1", None, other),
    ]
    assert home.ids(None) == [c.id for c in found[1:]]
    # Who stands before the one outdoors is told of that one alone.
    near = home.cautions.around([batches[batch]], batches, house_)
    assert [c.batch for c in near] == [batch]
    both = home.cautions.around([batches[other], batches[mine]], batches, house_)
    assert [c.batch for c in both] == [other, mine]
    home.see(found[1].id)
    assert home.ids(None) == [found[2].id]


def test_the_entries_of_a_batch_are_read_once(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    home.open(3)
    home.see("spores-tent-3")
    batches, house_ = home.batches, home.house
    asked: list[int] = []
    of = SqlGrowing.of

    def counted(self: SqlGrowing, batch: int) -> Sequence[Entry]:
        asked.append(batch)
        return of(self, batch)

    monkeypatch.setattr(SqlGrowing, "of", counted)
    for _ in range(3):
        assert home.cautions.everywhere(batches, house_) == ()
    assert sorted(asked) == [1, 2, 3]
    # What is told of one is read, and of that one alone.
    home.tell(1, K.LOOKED, "green-patches")
    batches[1] = home.batches[1]
    assert [c.batch for c in home.cautions.everywhere(batches, house_)] == [1]
    assert sorted(asked) == [1, 1, 2, 3]


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
    home.see(f"contaminated-{other}-1", via="command line")
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
        pytest.param("spores-tent-9", "Ada", UnknownNameError, id="more than there are"),
        pytest.param("spores-tent-2", "Ada", UnknownNameError, id="fewer than there are"),
        pytest.param("spores-cellar-3", "Ada", UnknownNameError, id="elsewhere"),
        pytest.param("contaminated-99-1", "Ada", UnknownNameError, id="no such batch"),
        pytest.param("contaminated-1-2", "Ada", UnknownNameError, id="no such number"),
        pytest.param("contaminated-x-1", "Ada", UnknownNameError, id="no batch"),
        pytest.param(f"contaminated-1-{9**30}", "Ada", UnknownNameError, id="an absurd number"),
        pytest.param("something", "Ada", UnknownNameError, id="no id"),
    ],
)
def test_refusals(home: Home, caution: str, who: str, error: type[Exception]) -> None:
    home.open(3)
    with pytest.raises(error):
        home.see(caution, who)
    assert home.ids() == ["spores-tent-3"]


def test_a_chamber_that_there_is_not(home: Home) -> None:
    with pytest.raises(UnknownNameError, match="tent"):
        home.ids("attic")
