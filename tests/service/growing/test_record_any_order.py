"""Whatever is asked of the record, in whatever order: nothing is lost, and no shelf overflows."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    MOVES,
    Batch,
    Container,
    Entry,
    EntryKind,
    Start,
    dry_g,
    harvested_g,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.growing.folding import batches_of
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.told import Telling
from chamberwatch.storage.book import SqlBooks, open_books
from tests.core.growing.lives import BUTTON, OYSTER, REISHI, SPAWN
from tests.fakes import HandClock
from tests.make import NOON, ROOM, SHELF, TENT

K = EntryKind
DAY: Final = timedelta(days=1)
HOLDS: Final = 2
HOUSE: Final = House({c.name: c for c in (replace(TENT, shelf_holds=HOLDS), ROOM, SHELF)}, {})
TABLE: Final = SpeciesTable({each.name: each for each in (OYSTER, BUTTON, REISHI)}, {})
# What the grower made of his species.toml by the end: one gone, one without most of its stages.
LATER: Final = SpeciesTable({"oyster": replace(SPAWN, name="oyster"), "button": BUTTON}, {})
BAG: Final = Start("oyster", Container.BAG, 2, dry_g=800.0)
BAGS: Final = replace(BAG, count=6, dry_g=2400.0)
TOP: Final = Place("tent", "top")
ENDS: Final = (K.SPENT, K.CONTAMINATED)


@dataclass(frozen=True)
class Wish:
    """One thing to ask.

    Attributes:
        what: name of a method of `Grower`.
        which: a batch or an entry, counted from the newest of those that come in question.
        kind: a kind of entry, counted through those that may come next.
        wild: whether it need not make sense: any kind, of any batch.
        days: how long ago; None: now.
        start: what to start, or to correct a start to; its count is also how many to split off.
        parent: number of the batch that it came from.
        place: where to.
        weight_g: what is picked.
    """

    what: str
    which: int = 0
    kind: int = 0
    wild: bool = False
    days: float | None = None
    start: Start = BAG
    parent: int | None = None
    place: Place | None = None
    weight_g: float = 100.0


STARTS = st.builds(
    Start,
    st.sampled_from(["oyster", "oyster", "button", "reishi"]),
    st.sampled_from([Container.BAG, Container.BUCKET, Container.LOG]),
    st.integers(2, 6),
    strain=st.sampled_from(["", "A"]),
    dry_g=st.floats(200.0, 9000.0),
)
WISHES = st.builds(
    Wish,
    st.sampled_from(
        ["start"] * 2 + ["split"] * 4 + ["tell"] * 9 + ["restart"] * 2 + ["correct", "withdraw"]
    ),
    st.integers(0, 8),
    st.integers(0, 20),
    st.sampled_from([False] * 5 + [True]),
    st.sampled_from([None] * 30 + [half / 2 for half in range(-1, 40)]),
    STARTS,
    st.sampled_from([None, None, None, 1, 2, 3, 4]),
    # Mostly where no room is needed, else onto the two shelves that fill up.
    st.sampled_from([
        *[None, None, Place(None), Place("shelf"), Place("tent"), TOP] * 2,
        TOP, Place("tent", "bottom"), Place("room"), Place("tent", "attic"),
    ]),
    st.floats(1.0, 400.0),
)  # fmt: skip


def stages_of(batch: Batch) -> list[Stage]:
    return [*TABLE.species[batch.start.species].stages, Stage.RESTING]


def next_kinds(batch: Batch) -> list[EntryKind]:
    """Return what may well be told next; the end of a batch comes up as rarely as it should."""
    cased = Stage.CASE_RUN in stages_of(batch)
    found = [
        kind
        for kind in K
        if (step := MOVES.get((batch.stage, kind))) is not None
        and (step.only is None or batch.start.container in step.only)
        and (kind is not K.CASED or cased)
        and (kind is not K.RAINED or batch.chamber is None)
        and kind not in {K.SPLIT, *ENDS}
    ]
    return found * 2 + [kind for kind in ENDS if (batch.stage, kind) in MOVES]


@dataclass
class Grower:
    """Asks for things, and remembers by himself what must have become of them."""

    books: SqlBooks
    table: SpeciesTable = TABLE
    clock: HandClock = field(default_factory=HandClock)
    told: list[Entry] = field(default_factory=list)
    picked_g: dict[int, float] = field(default_factory=dict)
    filled_g: dict[int, float] = field(default_factory=dict)
    said_of_parts: bool = False
    heard: int = 0

    def __post_init__(self) -> None:
        self.record = self.reader()

    def reader(self) -> GrowingRecord:
        return GrowingRecord(RecordParts(self.books, self.clock, HOUSE, self.table, self.hear))

    def hear(self) -> None:
        self.heard += 1

    def entries(self) -> list[Entry]:
        with self.books.read() as book:
            return list(book.growing.all())

    def ask(self, wish: Wish) -> bool:
        """Ask, a day later; return whether it was taken. Either whole, or nothing has changed."""
        self.clock.turn(minutes=24 * 60)
        heard, known, state = self.heard, self.record.batches(), self.record.state()
        call: Callable[[Wish], None] = getattr(self, wish.what)
        try:
            call(wish)
        except (RefusedError, UnknownNameError):
            assert self.entries() == self.told
            assert (self.heard, self.record.batches() is known) == (heard, True)
            return False
        after = self.entries()
        assert after[: len(self.told)] == self.told
        assert [entry.id for entry in after] == list(range(1, len(after) + 1))
        assert self.heard == heard + 1
        assert self.record.state()[0] == len(after) > state[0]
        self.told = after
        return True

    def at(self, wish: Wish, batch: Batch | None = None) -> datetime | None:
        """Return when; of a batch as late as may be in its life."""
        if wish.days is None:
            return None
        at = self.clock.now() - wish.days * DAY
        if batch is None or wish.wild:
            return at
        return max([at, *(entry.at for entry in self.told if entry.batch == batch.id)])

    def batch(self, wish: Wish, least: int = 1) -> Batch:
        """Return one that lives, and holds so many; or any."""
        known = list(self.record.batches().values())
        fit = [batch for batch in known if batch.ended is None and batch.count >= least]
        living = known if wish.wild else fit or known
        if not living:
            raise RefusedError("Nothing was started yet.")
        return living[-1 - wish.which % len(living)]

    def entry(self, wish: Wish) -> Entry:
        """Return one that may be corrected, or any."""
        mine = [e for e in self.told if wish.wild or e.kind not in {K.STARTED, K.SPLIT}]
        if not mine:
            raise RefusedError("Nothing was told yet.")
        return mine[-1 - wish.which % len(mine)]

    # Each of these remembers only after the record has agreed.

    def start(self, wish: Wish) -> None:
        known = self.record.batches()
        parent = wish.parent if wish.wild or wish.parent in known else None
        start = replace(wish.start, parent=parent)
        begun = self.record.start(start, wish.place, self.at(wish), "", "page")
        self.filled_g[begun.id] = start.dry_g or 0.0

    def tell(self, wish: Wish) -> None:
        batch = self.batch(wish)
        kinds = list(K) if wish.wild else next_kinds(batch)
        kind = kinds[wish.kind % len(kinds)]
        self.record.tell(batch.id, self.said(kind, wish, batch), "page")
        if kind is K.HARVESTED:
            self.picked_g[len(self.told) + 1] = wish.weight_g

    def said(self, kind: EntryKind, wish: Wish, batch: Batch) -> Telling:
        told = Telling(kind, self.at(wish, batch))
        stages = stages_of(batch)
        there = wish.place or Place(None)
        of_kind = {
            K.MOVED: {"chamber": there.chamber, "shelf": there.shelf},
            K.HARVESTED: {"weight_g": wish.weight_g},
            K.STAGED: {"stage": stages[wish.which % len(stages)]},
            K.LOOKED: {"sign": "long stems"},
        }
        return replace(told, **of_kind.get(kind, {}))  # type: ignore[arg-type]

    def split(self, wish: Wish) -> None:
        whole = self.batch(wish, 2)
        count = wish.start.count if wish.wild else min(wish.start.count, max(whole.count - 1, 1))
        at = self.at(wish, whole)
        left, taken = self.record.split(whole.id, count, wish.place, at, "page")
        assert (left.id, left.count, taken.count) == (whole.id, whole.count - count, count)
        assert (taken.started, taken.harvests) == (whole.started, ())
        if at is None and self.table is TABLE:
            past = ("stages", "white_at", "opened_at", "soaked_at", "wetted_at", "rested_at")
            assert [getattr(taken, n) for n in past] == [getattr(left, n) for n in past]

    def restart(self, wish: Wish) -> None:
        old = self.batch(wish)
        start = replace(wish.start, parent=wish.parent)
        if not wish.wild:
            # Of the same kind and with enough for what was split off, but older, and heavier.
            start = replace(old.start, strain=start.strain, dry_g=start.dry_g, parent=None)
        at = self.at(wish) if wish.wild else old.started - (wish.days or 0) * DAY
        self.record.correct_start(old.id, start, at, wish.place, "page")
        if old.id in self.filled_g:
            self.filled_g[old.id] = start.dry_g or 0.0
        else:
            self.said_of_parts = True

    def correct(self, wish: Wish) -> None:
        old = self.entry(wish)
        said = self.said(old.kind, wish, self.record.batch(old.batch))
        if old.kind is K.STAGED:
            said = replace(said, stage=old.stage, flush=old.flush)
        self.record.correct(old.id, replace(said, note="corrected"), "page")
        if old.kind is K.HARVESTED:
            del self.picked_g[old.id]
            self.picked_g[len(self.told) + 1] = wish.weight_g

    def withdraw(self, wish: Wish) -> None:
        old = self.entry(wish)
        self.record.withdraw(old.id, "page")
        self.picked_g.pop(old.id, None)


@contextmanager
def grower() -> Iterator[Grower]:
    with TemporaryDirectory() as folder:
        books = open_books(f"sqlite:///{Path(folder) / 'cw.db'}", NOON)
        yield Grower(books)
        books.close()


def check(asking: Grower) -> None:
    batches = asking.record.batches()
    assert dict(batches) == batches_of(asking.told, asking.table)
    assert sorted(batches) == sorted({entry.batch for entry in asking.told})
    standing = [(b.chamber, b.shelf) for b in batches.values() if b.ended is None]
    assert all(standing.count(("tent", shelf)) <= HOLDS for shelf in TENT.shelves)
    assert set(standing) <= {
        ("tent", "top"), ("tent", "bottom"), ("tent", None), ("shelf", None), (None, None)
    }  # fmt: skip
    for batch in batches.values():
        check_family(batch, batches, asking.told)
    assert sum(map(harvested_g, batches.values())) == pytest.approx(sum(asking.picked_g.values()))
    if not asking.said_of_parts:
        dry = sum(dry_g(b) or 0.0 for b in batches.values())
        assert dry == pytest.approx(sum(asking.filled_g.values()))


def check_family(batch: Batch, batches: Mapping[int, Batch], told: Sequence[Entry]) -> None:
    mine = effective([entry for entry in told if entry.batch == batch.id])
    weighed = sum(entry.weight_g or 0.0 for entry in mine)
    assert harvested_g(batch) == pytest.approx(weighed)
    above = [n for n in (batch.start.parent, batch.start.split_from) if n is not None]
    assert all(batches[number].started <= batch.started for number in above)
    assert batch.id not in ancestors(batches, batch.id)
    out = {entry.other or 0: entry.count for entry in mine if entry.kind is K.SPLIT}
    assert out == {b.id: b.start.count for b in batches.values() if b.start.split_from == batch.id}
    assert batch.count == batch.start.count - sum(n or 0 for n in out.values()) > 0


def test_nothing_is_lost() -> None:
    asked: Counter[tuple[str, bool]] = Counter()

    @settings(max_examples=35, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(WISHES, min_size=10, max_size=25))
    def any_story(wishes: Sequence[Wish]) -> None:
        with grower() as asking:
            for wish in (Wish("start", place=TOP), Wish("start", start=BAGS), *wishes):
                taken = asking.ask(wish)
                asked[wish.what, taken] += 1
                if taken:
                    check(asking)
            assert dict(asking.record.batches()) == dict(asking.reader().batches())

    any_story()
    # So that it isn't about nothing: enough of each kind comes true.
    assert asked["tell", True] > 2 * asked["tell", False], asked
    others = ("start", "split", "restart", "correct", "withdraw")
    # Together: of a single kind too few are drawn at times for a share to say anything.
    accepted, refused = (sum(asked[what, taken] for what in others) for taken in (True, False))
    assert accepted > refused / 2, asked


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(WISHES, min_size=4, max_size=20))
def test_a_family_outlives_its_species(wishes: Sequence[Wish]) -> None:
    """What was told stays readable, and takes more, when the table has lost what it was about."""
    with grower() as asking:
        for wish in (Wish("start", start=BAGS), *wishes):
            asking.ask(wish)
        before = asking.record.batches()
        asking.table = LATER
        asking.record = asking.reader()
        assert list(asking.record.batches()) == list(before)
        for wish in reversed(wishes):
            asking.ask(wish)
        check(asking)


def test_a_plain_story_is_taken() -> None:
    """What becomes of each, reckoned by hand."""
    tell = {kind: list(K).index(kind) for kind in K}
    wishes = [
        Wish("start", start=BAGS, place=TOP, days=40),
        Wish("split", start=replace(BAGS, count=2), place=Place("shelf")),
        Wish("split", start=replace(BAGS, count=1), place=TOP),
        Wish("tell", kind=tell[K.OPENED], wild=True),
        Wish("tell", kind=tell[K.HARVESTED], wild=True, weight_g=300.0),
        Wish("correct", weight_g=200.0),
        Wish("start", start=BAGS, parent=3),
        # The whole turns out to be older, and one more.
        Wish("restart", 3, wild=True, days=60, start=replace(BAGS, count=7, dry_g=2800.0)),
        Wish("withdraw", 0),
    ]
    with grower() as asking:
        for wish in wishes[:-1]:
            assert asking.ask(wish), wish
            check(asking)
        batches = asking.record.batches()
        assert [b.count for b in batches.values()] == [5, 1, 1, 6]
        assert {b.started for b in list(batches.values())[:3]} == {NOON + (8 - 60) * DAY}
        assert (harvested_g(batches[3]), batches[4].start.parent) == (200.0, 3)
        assert asking.ask(wishes[-1])
        assert asking.picked_g == {}
        check(asking)
