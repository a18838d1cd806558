"""What is told of batches: kept whole or not at all, and never overwritten."""

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial, partialmethod
from pathlib import Path
from threading import Barrier

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    Batch,
    Container,
    Entry,
    EntryKind,
    Passed,
    Start,
    dry_g,
    harvested_g,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book
from chamberwatch.service.growing.folding import batches_of, species_of
from chamberwatch.service.growing.places import Place, check_place
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.told import Telling
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.growing import SqlGrowing
from tests.core.growing.lives import BUTTON, OYSTER, REISHI
from tests.fakes import FullDisk, HandClock
from tests.make import NOON, ROOM, SHELF, TENT

K, S = EntryKind, Stage
TABLE = SpeciesTable({each.name: each for each in (OYSTER, BUTTON, REISHI)}, {})
HOUSE = House({c.name: c for c in (replace(TENT, shelf_holds=2), ROOM, SHELF)}, {})
TOP, BOTTOM, DARK = Place("tent", "top"), Place("tent", "bottom"), Place("shelf")
OUTDOORS = Place(None)
BAG = Start("oyster", Container.BAG)
BAGS = Start("oyster", Container.BAG, 4, wet_g=9080.0, moisture_pct=62.0)


def ago(days: float) -> datetime:
    return NOON - timedelta(days=days)


@dataclass
class Farm:
    """A record on a file of its own, and the calls that are heard of it."""

    books: SqlBooks
    clock: HandClock = field(default_factory=HandClock)
    table: SpeciesTable = TABLE
    house: House = HOUSE
    heard: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.record = self.another()

    def another(self) -> GrowingRecord:
        parts = RecordParts(
            self.books, self.clock, self.house, self.table, lambda: self.heard.append(1)
        )
        return GrowingRecord(parts)

    def start(
        self, start: Start = BAG, place: Place | None = None, days: float = 60, note: str = ""
    ) -> int:
        return self.record.start(start, place, ago(days), note, "page").id

    def tell(self, batch: int, kind: EntryKind, days: float, **more: object) -> Batch:
        telling = replace(Telling(kind, ago(days)), **more)  # type: ignore[arg-type]
        return self.record.tell(batch, telling, "page")

    def told(self) -> list[Entry]:
        with self.books.read() as book:
            return list(book.growing.all())

    def newest(self, batch: int) -> int:
        return self.record.entries(batch)[-1].id

    def refuses(self, error: type[Exception], words: str, call: Callable[[], object]) -> None:
        """Check that a call is refused, and that nothing of it is left."""
        told, heard = self.told(), len(self.heard)
        with pytest.raises(error, match=words):
            call()
        assert (self.told(), len(self.heard)) == (told, heard)


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield opened
    opened.close()


@pytest.fixture
def farm(books: SqlBooks) -> Farm:
    return Farm(books)


# ------------------------------------------------------------------ starting


def test_a_start_is_kept(farm: Farm) -> None:
    begun = farm.record.start(BAGS, TOP, None, " from a kit ", "api")
    assert (begun.id, begun.started, begun.chamber, begun.shelf) == (1, NOON, "tent", "top")
    assert farm.record.batch(1) == begun
    assert farm.record.entries(1) == (
        Entry(1, 1, K.STARTED, NOON, NOON, "api", "from a kit", BAGS, "tent", "top"),
    )
    assert farm.record.start(BAG, None, ago(3), "", "page").chamber is None
    assert (list(farm.record.batches()), len(farm.heard)) == ([1, 2], 2)


@pytest.mark.parametrize(
    ("start", "place", "days", "error", "words"),
    [
        pytest.param(
            replace(BAG, species="morel"),
            TOP,
            1,
            UnknownNameError,
            "Known: oyster",
            id="unknown species",
        ),
        pytest.param(BAG, Place("cellar"), 1, UnknownNameError, "Known: tent", id="no chamber"),
        pytest.param(BAG, Place("room"), 1, RefusedError, "is a room; .*: tent, shelf", id="room"),
        pytest.param(
            BAG, Place("tent", "middle"), 1, UnknownNameError, "Known: top, bottom", id="no shelf"
        ),
        pytest.param(BAG, Place("shelf", "top"), 1, UnknownNameError, "no shelves; le", id="bare"),
        pytest.param(replace(BAG, count=0), TOP, 1, RefusedError, "at least one", id="none"),
        pytest.param(replace(BAG, count=1001), TOP, 1, RefusedError, "at most 1000", id="many"),
        pytest.param(replace(BAG, moisture_pct=91.0), TOP, 1, RefusedError, "drip", id="soup"),
        pytest.param(replace(BAG, moisture_pct=0.0), TOP, 1, RefusedError, "Moisture", id="dust"),
        pytest.param(replace(BAG, wet_g=float("nan")), TOP, 1, RefusedError, "weigh", id="nan"),
        pytest.param(
            replace(BAG, wet_g=900.0, dry_g=2000.0), TOP, 1, RefusedError, "exchanged", id="dry"
        ),
        pytest.param(replace(BAG, parent=9), TOP, 1, RefusedError, "no batch 9", id="no parent"),
        pytest.param(
            replace(BAG, wet_g=4.54), TOP, 1, RefusedError, "check the unit", id="kilograms"
        ),
        pytest.param(
            replace(BAG, dry_g=2e6), TOP, 1, RefusedError, "check the unit", id="a lorry"
        ),
        pytest.param(
            replace(BAG, parent=1), TOP, 99, RefusedError, "later than", id="a younger parent"
        ),
        pytest.param(BAG, TOP, -1, RefusedError, "in the future", id="future"),
        pytest.param(BAG, TOP, 1900, RefusedError, "look at the year", id="long ago"),
    ],
)
def test_a_start_is_refused(
    farm: Farm, start: Start, place: Place, days: float, error: type[Exception], words: str
) -> None:
    farm.start(days=40)
    farm.refuses(error, words, lambda: farm.start(start, place, days))
    farm.refuses(RefusedError, "shorten", lambda: farm.start(note="x" * 2001))


# ------------------------------------------------------------------ telling


def test_a_life_is_told(farm: Farm) -> None:
    one, other = farm.start(BAG, DARK), farm.start(BAG, DARK)
    farm.tell(one, K.MOVED, 44, chamber="tent", shelf="top")
    farm.tell(one, K.OPENED, 44)
    farm.tell(one, K.PINNED, 40)
    farm.tell(other, K.OPENED, 40)
    picked = farm.tell(one, K.HARVESTED, 35, weight_g=612.5, note=" good ")
    assert (picked.stage, picked.shelf, harvested_g(picked)) == (S.RESTING, "top", 612.5)
    # What is returned is what is kept, whatever was told of others in between.
    assert picked == farm.record.batch(one)
    assert [(h.entry, h.flush) for h in picked.harvests] == [(7, 1)]
    assert [e.kind for e in farm.record.entries(one)][-2:] == [K.PINNED, K.HARVESTED]
    assert farm.record.entries(one)[-1].note == "good"
    assert farm.record.batch(other).stage is S.PINNING
    assert farm.tell(one, K.MOVED, 30).chamber is None


@pytest.mark.parametrize(
    ("kind", "days", "more", "error", "words"),
    [
        pytest.param(K.HARVESTED, 9, {"weight_g": 9.0}, RefusedError, "batch 1|Batch 1", id="bag"),
        pytest.param(K.OPENED, 61, {}, RefusedError, "was started on", id="before the start"),
        pytest.param(K.OPENED, -1, {}, RefusedError, "in the future", id="future"),
        pytest.param(K.OPENED, -121 / 86400, {}, RefusedError, "in the future", id="2 min 1 s"),
        pytest.param(K.MOVED, 9, {"chamber": "room"}, RefusedError, "is a room", id="room"),
        pytest.param(K.MOVED, 9, {"chamber": "attic"}, UnknownNameError, "attic", id="nowhere"),
        pytest.param(K.MOVED, 9, {"shelf": "top"}, RefusedError, "no chamber", id="shelf alone"),
        pytest.param(K.NOTED, 9, {"note": "x" * 2001}, RefusedError, "shorten", id="long note"),
        pytest.param(K.OPENED, 9, {"weight_g": 9.0}, RefusedError, "Leave the weight", id="more"),
        pytest.param(K.STARTED, 9, {}, RefusedError, "start a new one", id="started"),
        pytest.param(K.SPLIT, 9, {}, RefusedError, "split the batch", id="split"),
        pytest.param(K.WITHDRAWN, 9, {}, RefusedError, "withdraw that entry", id="withdrawn"),
    ],
)
def test_what_can_not_have_happened_is_refused(
    farm: Farm,
    kind: EntryKind,
    days: float,
    more: dict[str, object],
    error: type[Exception],
    words: str,
) -> None:
    farm.start(BAG, DARK)
    farm.refuses(error, words, lambda: farm.tell(1, kind, days, **more))
    assert farm.record.batch(1).stage is S.COLONISATION


def test_there_is_no_such_batch_or_entry(farm: Farm) -> None:
    farm.start()
    noted = Telling(K.NOTED)
    calls: list[Callable[[], object]] = [
        lambda: farm.record.batch(14),
        lambda: farm.record.entries(14),
        lambda: farm.record.tell(14, noted, "api"),
        lambda: farm.record.split(14, 1, None, None, "api"),
        lambda: farm.record.correct_start(14, BAG, None, None, "api"),
        lambda: farm.record.correct(14, noted, "api"),
        lambda: farm.record.withdraw(14, "api"),
    ]
    for call in calls:
        farm.refuses(UnknownNameError, "There is no (batch|entry) 14", call)


# ------------------------------------------------------------------ shelves


@pytest.fixture
def full(farm: Farm) -> Farm:
    """Return a farm with batches 1 and 2 on top, as many as it holds, 3 below and 4 outdoors."""
    for place in (TOP, TOP, BOTTOM, None):
        farm.start(BAGS, place)
    return farm


@pytest.mark.parametrize(
    "call",
    [
        pytest.param(lambda farm: farm.start(BAG, TOP), id="start"),
        pytest.param(
            lambda farm: farm.tell(3, K.MOVED, 1, chamber="tent", shelf="top"), id="move"
        ),
        pytest.param(lambda farm: farm.record.split(1, 1, None, None, "page"), id="split beside"),
        pytest.param(lambda farm: farm.record.split(3, 1, TOP, None, "page"), id="split onto it"),
        pytest.param(
            lambda farm: farm.record.correct_start(4, BAG, None, TOP, "page"), id="correct a start"
        ),
    ],
)
def test_a_full_shelf_takes_no_more(full: Farm, call: Callable[[Farm], object]) -> None:
    words = r"holds 2, and batch 1 and batch 2 stand there.*another shelf \(bottom\)"
    full.refuses(RefusedError, words, lambda: call(full))


def test_who_splits_on_a_full_shelf_is_told_why(full: Farm) -> None:
    words = "what is taken out of one counts as a batch of its own"
    full.refuses(RefusedError, words, lambda: full.record.split(2, 1, TOP, None, "page"))
    full.start(BAGS, BOTTOM)
    nowhere = "No other shelf has room: move one first, or name no shelf"
    full.refuses(RefusedError, nowhere, lambda: full.record.split(2, 1, None, None, "page"))
    assert full.record.split(2, 1, Place("tent"), None, "page")[1].chamber == "tent"


def test_there_is_room_where_one_left(full: Farm) -> None:
    full.tell(1, K.SPENT, 2)
    spent = full.newest(1)
    assert full.tell(3, K.MOVED, 1, chamber="tent", shelf="top").shelf == "top"
    # It can't come back to life where others stand by now.
    words = "holds 2, and batch 2 and batch 3 stand there"
    full.refuses(RefusedError, words, lambda: full.record.withdraw(spent, "page"))
    full.tell(2, K.MOVED, 1, chamber="shelf")
    assert full.record.withdraw(spent, "page").ended is None


def test_going_back_needs_room_too(full: Farm) -> None:
    full.tell(1, K.MOVED, 5, chamber="tent", shelf="bottom")
    moved = full.newest(1)
    full.start(BAG, TOP)
    full.refuses(RefusedError, "batch 2 and batch 5", lambda: full.record.withdraw(moved, "page"))
    back = Telling(K.MOVED, chamber="tent", shelf="top")
    full.refuses(RefusedError, "another shelf", lambda: full.record.correct(moved, back, "page"))
    assert full.record.correct(moved, replace(back, shelf=None), "page").shelf is None


def test_a_shelf_that_holds_less_since_is_no_hindrance_to_what_stands_there(full: Farm) -> None:
    tent = replace(HOUSE.chamber("tent"), shelf_holds=1)
    full.house = replace(HOUSE, chambers={**HOUSE.chambers, "tent": tent})
    full.record = full.another()
    assert full.tell(1, K.OPENED, 3).shelf == "top"
    full.tell(1, K.MOVED, 2, chamber="tent")
    full.refuses(
        RefusedError,
        "holds 1, and batch 2 stands there",
        lambda: full.tell(1, K.MOVED, 1, chamber="tent", shelf="top"),
    )


# ------------------------------------------------------------------ splitting


def test_what_is_taken_out_while_it_colonises(farm: Farm) -> None:
    farm.start(BAGS, DARK, days=30)
    farm.tell(1, K.WHITE, 12)
    left, taken = farm.record.split(1, 3, None, ago(10), "page", "to give away")
    assert (left.count, taken.count, taken.id) == (1, 3, 2)
    assert (left, taken) == (farm.record.batch(1), farm.record.batch(2))
    assert (taken.started, taken.white_at, taken.stage) == (ago(30), ago(12), S.COLONISATION)
    assert (taken.chamber, taken.placed, taken.start.split_from) == ("shelf", ago(10), 1)
    assert (dry_g(left), dry_g(taken)) == pytest.approx((9080 * 0.38 / 4, 9080 * 0.38 * 3 / 4))
    split = farm.record.entries(1)[-1]
    assert (split.kind, split.count, split.other, split.note) == (K.SPLIT, 3, 2, "to give away")


@pytest.mark.parametrize(
    ("kinds", "stage", "flush"),
    [
        pytest.param([K.OPENED], S.PINNING, 0, id="pinning"),
        pytest.param([K.OPENED, K.PINNED], S.FRUITING, 1, id="fruiting"),
        pytest.param([K.OPENED, K.PINNED, K.RESTED], S.RESTING, 1, id="resting"),
        pytest.param([K.OPENED, K.PINNED, K.RESTED, K.SOAKED], S.PINNING, 1, id="second flush"),
    ],
)
def test_what_is_taken_out_has_come_as_far(
    farm: Farm, kinds: list[EntryKind], stage: Stage, flush: int
) -> None:
    farm.start(BAGS, TOP)
    for day, kind in enumerate(kinds):
        farm.tell(1, kind, 20 - day)
    left, taken = farm.record.split(1, 1, OUTDOORS, None, "page")
    assert (left.stage, left.flush) == (taken.stage, taken.flush) == (stage, flush)
    assert (taken.open, taken.chamber, left.shelf) == (True, None, "top")
    # What is expected of it is reckoned from when that began.
    assert taken.since == left.since
    # Each has its own life from now on.
    farm.record.tell(2, Telling(K.CONTAMINATED), "page")
    assert farm.record.batch(1).ended is None


def test_what_is_taken_out_has_the_past_of_the_whole(farm: Farm) -> None:
    """Each stage at its own time; the weights stay where they were picked."""
    farm.start(BAGS, TOP, days=32)
    farm.tell(1, K.OPENED, 13)
    farm.tell(1, K.PINNED, 8)
    farm.tell(1, K.HARVESTED, 3, weight_g=400.0)
    left, taken = farm.record.split(1, 1, DARK, ago(1), "page")
    assert (
        taken.stages
        == left.stages
        == (
            Passed(S.COLONISATION, 0, ago(32), ago(13)),
            Passed(S.PINNING, 0, ago(13), ago(8)),
            Passed(S.FRUITING, 1, ago(8), ago(3)),
            Passed(S.RESTING, 1, ago(3)),
        )
    )
    assert (taken.opened_at, taken.harvests, taken.placed) == (ago(13), (), ago(1))
    assert harvested_g(left) == 400.0
    picked = farm.record.tell(2, Telling(K.HARVESTED, weight_g=90.0), "page")
    # Within four days of what was picked of the whole: the same flush.
    assert [(h.flush, h.weight_g) for h in picked.harvests] == [(1, 90.0)]
    # Both keep what they were told, each its own.
    opened = farm.record.correct(2, Telling(K.OPENED, ago(12)), "page")
    assert (opened.opened_at, farm.record.batch(2).opened_at) == (ago(12), ago(13))


@pytest.mark.parametrize(
    ("kind", "soaked"),
    [pytest.param(K.RAINED, False, id="rain"), pytest.param(K.SOAKED, True, id="soaked")],
)
def test_logs_that_are_taken_out_are_as_wet(farm: Farm, kind: EntryKind, soaked: bool) -> None:
    farm.start(Start("oyster", Container.LOG, 20), None, 1800)
    # A log may well be older than a start can be told.
    farm.clock.wall += timedelta(days=100)
    farm.tell(1, K.SOAKED, 20)
    farm.tell(1, kind, 9)
    left, taken = farm.record.split(1, 5, DARK, None, "page")
    assert taken.wetted_at == left.wetted_at == ago(9)
    assert (taken.soaked_at == ago(9)) is soaked
    assert (taken.chamber, taken.stage, left.chamber) == ("shelf", S.COLONISATION, None)


def test_a_split_told_late_takes_what_it_was_then(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.tell(1, K.OPENED, 20)
    farm.tell(1, K.SPENT, 3)
    left, taken = farm.record.split(1, 1, BOTTOM, ago(30), "page")
    assert (left.stage, taken.stage, taken.shelf) == (S.SPENT, S.COLONISATION, "bottom")


def test_a_batch_with_corrected_entries_can_be_split(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.tell(1, K.OPENED, 20)
    farm.record.correct(farm.newest(1), Telling(K.OPENED, ago(21)), "page")
    farm.record.correct_start(1, replace(BAGS, strain="A"), ago(58), None, "page")
    left, taken = farm.record.split(1, 1, None, None, "page")
    assert (taken.stage, taken.started, taken.start.strain) == (S.PINNING, ago(58), "A")
    assert left.count == 3


@pytest.mark.parametrize(
    ("count", "days", "words"),
    [
        pytest.param(4, 1, "Take out 1 to 3", id="all"),
        pytest.param(0, 1, "Take out 1 to 3", id="none"),
        pytest.param(-1, 1, "Take out 1 to 3", id="fewer"),
        pytest.param(1, 70, "start", id="before the start"),
        pytest.param(1, -1, "in the future", id="future"),
    ],
)
def test_a_split_is_refused(farm: Farm, count: int, days: float, words: str) -> None:
    farm.start(BAGS, DARK)
    call = farm.record.split
    farm.refuses(RefusedError, words, lambda: call(1, count, None, ago(days), "page"))


def test_what_was_split_stays_split(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.record.split(1, 1, None, None, "page")
    split = farm.newest(1)
    farm.refuses(RefusedError, "came of that split", lambda: farm.record.withdraw(split, "page"))
    told = Telling(K.SPLIT)
    farm.refuses(
        RefusedError, "came of that split", lambda: farm.record.correct(split, told, "page")
    )


# ------------------------------------------------------------------ correcting


def test_a_correction_keeps_what_it_corrects(farm: Farm) -> None:
    farm.start(BAG, TOP)
    farm.tell(1, K.OPENED, 20)
    farm.tell(1, K.HARVESTED, 10, weight_g=61.0)
    wrong = farm.newest(1)
    fixed = farm.record.correct(wrong, Telling(K.HARVESTED, weight_g=610.0), "api")
    assert [(h.weight_g, h.at, h.entry) for h in fixed.harvests] == [(610.0, ago(10), wrong + 1)]
    assert [(e.id, e.weight_g, e.corrects) for e in farm.record.entries(1)][-2:] == [
        (wrong, 61.0, None),
        (wrong + 1, 610.0, wrong),
    ]
    assert harvested_g(farm.record.withdraw(wrong + 1, "page", "never was")) == 0.0
    assert len(farm.record.entries(1)) == 5
    calls = [
        ("corrected already", wrong, Telling(K.HARVESTED, weight_g=6.0)),
        ("can't become", wrong - 1, Telling(K.PINNED)),
        ("correct its start", 1, Telling(K.STARTED)),
    ]
    for words, entry, telling in calls:
        farm.refuses(RefusedError, words, partial(farm.record.correct, entry, telling, "page"))


def test_what_others_rest_on_can_not_be_withdrawn(farm: Farm) -> None:
    farm.start(BAG, TOP)
    farm.tell(1, K.OPENED, 20)
    opened = farm.newest(1)
    farm.tell(1, K.PINNED, 15)
    farm.refuses(RefusedError, "wants opening", lambda: farm.record.withdraw(opened, "page"))
    farm.refuses(RefusedError, "can't be withdrawn", lambda: farm.record.withdraw(1, "page"))


def test_a_start_is_corrected(farm: Farm) -> None:
    farm.start(BAGS, TOP, note="kit")
    farm.tell(1, K.OPENED, 20)
    fresh = replace(BAGS, species="reishi", wet_g=8000.0)
    fixed = farm.record.correct_start(1, fresh, ago(50), None, "api")
    assert (fixed.start, fixed.started, fixed.shelf) == (fresh, ago(50), "top")
    assert fixed.stage is S.ANTLER
    assert farm.record.correct_start(1, fresh, None, DARK, "api").chamber == "shelf"
    assert farm.record.batch(1).started == ago(50)
    assert [e.note for e in farm.record.entries(1) if e.kind is K.STARTED] == ["kit"] * 3
    late = farm.record.correct_start
    farm.refuses(RefusedError, "was started on", lambda: late(1, fresh, ago(19), None, "api"))
    farm.refuses(
        UnknownNameError,
        "Known",
        lambda: late(1, replace(fresh, species="morel"), None, None, "api"),
    )


def test_a_line_stays_a_line(farm: Farm) -> None:
    """No batch comes from itself, nor from one that is younger."""
    farm.start(BAGS, DARK, days=60)
    farm.start(replace(BAG, parent=1), DARK, days=60)
    farm.start(replace(BAG, parent=2), DARK, days=40)
    correct = farm.record.correct_start
    for number, parent in ((1, 1), (1, 2), (3, 3)):
        circle = replace(BAGS, parent=parent)
        farm.refuses(RefusedError, "itself", partial(correct, number, circle, None, None, "page"))
    farm.refuses(
        RefusedError,
        "Batch 3 came from batch 2 and was started earlier",
        lambda: correct(2, replace(BAG, parent=1), ago(30), None, ""),
    )
    assert correct(3, replace(BAG, parent=1), None, None, "").start.parent == 1
    assert correct(2, BAG, ago(30), None, "").started == ago(30)


def test_weights_of_a_split_are_corrected_with_the_start(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.record.split(1, 1, None, ago(9), "page")
    heavier = replace(BAGS, wet_g=10_000.0)
    farm.record.correct_start(1, heavier, ago(58), None, "api")
    left, taken = farm.record.batch(1), farm.record.batch(2)
    assert (dry_g(left) or 0.0) + (dry_g(taken) or 0.0) == pytest.approx(3800.0)
    assert taken.started == ago(58)


# ------------------------------------------------------------------ what is known


def test_nothing_is_folded_again_while_nothing_is_told(farm: Farm) -> None:
    assert dict(farm.record.batches()) == {}
    farm.start()
    known = farm.record.batches()
    assert farm.record.batches() is known
    elsewhere = farm.another()
    elsewhere.tell(1, Telling(K.OPENED, ago(1)), "command line")
    assert (known[1].stage, farm.record.batches()[1].stage) == (S.COLONISATION, S.PINNING)


def test_of_two_states_the_newer_is_known(farm: Farm) -> None:
    """Whoever read the batches before somebody else told something can tell that he is late."""
    seen: list[tuple[int, Mapping[int, Batch]]] = [farm.record.state()]
    farm.start()
    calls: list[Callable[[], object]] = [
        lambda: farm.tell(1, K.OPENED, 20),
        lambda: farm.record.correct(2, Telling(K.OPENED, ago(21)), "page"),
        lambda: farm.record.withdraw(3, "page"),
        lambda: farm.another().start(BAG, DARK, None, "", "elsewhere"),
    ]
    for call in calls:
        call()
        seen.append(farm.record.state())
    assert [newest for newest, _ in seen] == [0, 2, 3, 4, 5]
    assert seen[-1][1] is farm.record.batches()


@pytest.mark.parametrize("name", ["oyster", "button", "reishi"])
def test_a_species_that_was_taken_out_again(
    farm: Farm, name: str, caplog: pytest.LogCaptureFixture
) -> None:
    lives = {
        "oyster": [K.WHITE, K.OPENED, K.PINNED],
        "button": [K.CASED, K.OPENED, K.PINNED],
        "reishi": [K.OPENED, K.PINNED, K.OPENED],
    }
    farm.start(Start(name, Container.BAG, 3), TOP)
    farm.start(replace(BAG, species="button"), TOP)
    for day, kind in enumerate(lives[name]):
        farm.tell(1, kind, 20 - day)
    before = farm.record.batch(1)
    farm.table = SpeciesTable({"enoki": OYSTER}, {})
    farm.record = farm.another()
    with caplog.at_level(logging.WARNING):
        assert farm.record.batch(1) == before
        assert list(farm.record.batches()) == [1, 2]
        farm.refuses(RefusedError, "batch 1 and batch 2", lambda: farm.start(
            replace(BAG, species="enoki"), TOP
        ))  # fmt: skip
        assert harvested_g(farm.tell(1, K.HARVESTED, 9, weight_g=500.0)) == 500.0
        assert farm.record.split(1, 1, DARK, None, "page")[1].stage is S.RESTING
        assert farm.record.tell(1, Telling(K.SPENT), "page").ended == NOON
        farm.record.batches()
    said = [r.getMessage() for r in caplog.records if f"“{name}”" in r.getMessage()]
    assert len(said) == 1


def test_the_end_of_a_lost_species_can_be_taken_out(farm: Farm) -> None:
    farm.start(Start("reishi", Container.BAG, 3), TOP)
    for day, kind in ((30, K.OPENED), (20, K.PINNED), (10, K.OPENED)):
        farm.tell(1, kind, day)
    farm.table = SpeciesTable({"oyster": OYSTER}, {})
    farm.record = farm.another()
    left, taken = farm.record.split(1, 1, DARK, None, "page")
    assert left.stage is taken.stage is S.CONK
    kept = farm.record.correct_start(1, replace(left.start, strain="antler"), None, None, "page")
    assert (kept.stage, kept.start.strain, farm.record.batch(2).start.strain) == (
        S.CONK,
        "antler",
        "antler",
    )


def test_what_can_not_be_read_takes_nothing_else_with_it(
    farm: Farm, caplog: pytest.LogCaptureFixture
) -> None:
    farm.start(BAG, TOP)
    farm.start(BAG, DARK)
    with farm.books.write() as book:
        book.growing.add(Entry(0, 1, K.PINNED, NOON, NOON, "by hand"))
    with caplog.at_level(logging.WARNING):
        assert list(farm.record.batches()) == [2]
    assert "Batch 1 can't be read" in caplog.text
    farm.refuses(RefusedError, "wants opening", lambda: farm.tell(1, K.NOTED, 0))
    assert farm.tell(2, K.OPENED, 1).stage is S.PINNING


def test_only_what_holds_counts(farm: Farm) -> None:
    """The batches are what their effective entries make of them, and nothing else."""
    farm.start(BAGS, TOP)
    farm.tell(1, K.OPENED, 20)
    farm.record.withdraw(farm.newest(1), "page")
    assert [e.kind for e in effective(farm.record.entries(1))] == [K.STARTED]
    assert farm.record.batch(1).sealed


# ------------------------------------------------------------------ further off


def test_clocks_may_differ_by_two_minutes(farm: Farm) -> None:
    farm.start()
    assert farm.tell(1, K.OPENED, -119 / 86400).stage is S.PINNING


@pytest.mark.parametrize("weight_g", [0.0, -1.0, 0.6, float("nan"), float("inf")])
def test_what_no_scale_shows_is_no_harvest(farm: Farm, weight_g: float) -> None:
    farm.start(BAG, TOP)
    farm.tell(1, K.OPENED, 9)
    words = "more than nothing.*tell that it rests|[Cc]heck the unit"
    farm.refuses(RefusedError, words, lambda: farm.tell(1, K.HARVESTED, 1, weight_g=weight_g))


def test_a_batch_that_ended_takes_a_note_still(farm: Farm) -> None:
    farm.start(BAG, TOP)
    farm.tell(1, K.CONTAMINATED, 3)
    assert farm.tell(1, K.NOTED, 2, note="x" * 2000).stage is S.CONTAMINATED
    farm.refuses(RefusedError, "atch 1", lambda: farm.tell(1, K.OPENED, 1))


def test_another_time_folds_all_that_came_after_again(farm: Farm) -> None:
    """A picking belongs to a flush by when it was, which follows a correction of that."""
    farm.start(BAGS, DARK)
    for day, kind, more in (
        (40.0, K.OPENED, {}),
        (36.0, K.PINNED, {}),
        (30.0, K.HARVESTED, {"weight_g": 500.0}),
        (28.0, K.HARVESTED, {"weight_g": 100.0}),
        (20.0, K.MOVED, {"chamber": "tent", "shelf": "top"}),
    ):
        farm.tell(1, kind, day, **more)
    assert [h.flush for h in farm.record.batch(1).harvests] == [1, 1]
    late = Telling(K.HARVESTED, ago(18), weight_g=100.0)
    assert [h.flush for h in farm.record.correct(5, late, "page").harvests] == [1, 2]
    assert farm.record.batch(1).flush == 2
    first = Telling(K.MOVED, ago(50), chamber="tent", shelf="top")
    moved = farm.record.correct(6, first, "page")
    assert (moved.placed, moved.shelf) == (ago(50), "top")
    opened = farm.record.correct(2, Telling(K.OPENED, ago(45)), "page")
    assert (opened.opened_at, opened.stages[1].since) == (ago(45), ago(45))
    never = Telling(K.OPENED, ago(5))
    farm.refuses(RefusedError, "wants opening", lambda: farm.record.correct(9, never, "page"))


def test_the_newest_correction_of_a_start_names_the_species(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    for name in ("reishi", "oyster", "button"):
        farm.record.correct_start(1, replace(BAGS, species=name), None, None, "page")
    assert farm.tell(1, K.CASED, 20).stage is S.CASE_RUN
    assert species_of(farm.record.entries(1)) == "button"
    # With cased in it, it can't have been an oyster.
    farm.refuses(
        RefusedError,
        "case run",
        lambda: farm.record.correct_start(1, BAGS, None, None, "page"),
    )


def test_how_many_were_taken_out_is_corrected_with_the_part(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.record.split(1, 1, None, ago(9), "page")
    part = farm.record.batch(2).start
    correct = farm.record.correct_start
    fixed = correct(2, replace(part, count=3, wet_g=6810.0), None, None, "page")
    assert (fixed.count, farm.record.batch(1).count) == (3, 1)
    assert [e.count for e in farm.record.entries(1) if e.kind is K.SPLIT] == [1, 3]
    assert (dry_g(farm.record.batch(1)), dry_g(fixed)) == pytest.approx((862.6, 2587.8))
    # All of it would leave nothing behind; nor can a part be said to come from elsewhere.
    all_of_it = replace(part, count=4)
    farm.refuses(RefusedError, "Take out 1 to 3", lambda: correct(2, all_of_it, None, None, ""))
    elsewhere = correct(2, replace(fixed.start, split_from=None), None, None, "page")
    assert elsewhere.start.split_from == 1


def test_what_came_from_a_part_stays_younger_than_it(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.record.split(1, 1, None, ago(50), "page")
    farm.start(replace(BAG, parent=2), DARK, 55)
    farm.refuses(
        RefusedError,
        "Batch 3 came from batch 2 and was started earlier",
        lambda: farm.record.correct_start(1, BAGS, ago(51), None, "page"),
    )


def test_a_split_that_fails_half_way_leaves_nothing(farm: Farm) -> None:
    """The part is started before it is known that it can't be moved where it should go."""
    farm.start(BAGS, DARK)
    split = farm.record.split
    farm.refuses(UnknownNameError, "attic", lambda: split(1, 1, Place("attic"), None, "page"))
    farm.refuses(RefusedError, "shorten", lambda: split(1, 1, None, None, "page", "x" * 2001))
    assert farm.start(BAG, DARK) == 2
    assert farm.newest(2) == 2


def test_what_can_not_be_read_can_be_mended(farm: Farm, caplog: pytest.LogCaptureFixture) -> None:
    farm.start(BAG, TOP)
    with farm.books.write() as book:
        wrong = book.growing.add(Entry(0, 1, K.PINNED, ago(5), NOON, "by hand"))
    with caplog.at_level(logging.WARNING):
        for _ in range(3):
            farm.another().start(BAG, DARK, ago(1), "", "elsewhere")
            assert 1 not in farm.record.batches()
            farm.refuses(RefusedError, "wants opening", lambda: farm.record.batch(1))
    said = [r for r in caplog.records if r.name.endswith("record") and "Batch 1" in r.message]
    # Once by each record that met it.
    assert len(said) == 4
    assert farm.record.withdraw(wrong.id, "page").stage is S.COLONISATION
    assert list(farm.record.batches()) == [1, 2, 3, 4]


def test_threads_that_tell_at_once_lose_nothing(farm: Farm) -> None:
    each, farm.table = 12, TABLE
    farm.start(BAG, TOP)
    records = [farm.record, farm.record, farm.another()]
    ready = Barrier(len(records))
    refused: list[Exception] = []

    def many(record: GrowingRecord) -> None:
        ready.wait()
        for n in range(each):
            record.tell(1, Telling(K.NOTED, note=str(n)), "page")
            record.start(BAG, DARK, None, "", "page")
            record.batches()
            try:
                # One place is left.
                record.start(BAG, TOP, None, "", "page")
            except RefusedError as error:
                refused.append(error)

    with ThreadPoolExecutor(len(records)) as threads:
        list(threads.map(many, records))
    batches = farm.record.batches()
    assert dict(batches) == dict(farm.another().batches())
    assert len([e for e in farm.told() if e.kind is K.NOTED]) == each * 3
    assert list(batches) == list(range(1, each * 3 + 3))
    assert len(refused) == each * 3 - 1
    assert len(farm.heard) == len(farm.told())


def test_years_of_batches_are_not_read_with_each_telling(
    farm: Farm, monkeypatch: pytest.MonkeyPatch
) -> None:
    farm.start(BAGS, DARK)
    read: list[int] = []

    def all_of_it(growing: SqlGrowing, real: Callable[..., Sequence[Entry]]) -> Sequence[Entry]:
        found = real(growing)
        read.append(len(found))
        return found

    monkeypatch.setattr(SqlGrowing, "all", partialmethod(all_of_it, real=SqlGrowing.all))
    record = farm.another()
    for day in (9, 8):
        record.start(BAG, None, ago(day), "", "page")
        record.tell(1, Telling(K.NOTED, ago(day)), "page")
        record.split(1, 1, TOP, ago(day), "page")
        record.batches()
    # Once when it began, and again only after somebody else told something.
    assert read == [1]
    farm.record.tell(1, Telling(K.NOTED), "command line")
    assert record.batches() == farm.record.batches()
    assert len(read) == 3


def test_who_reads_between_keeps_what_he_read(farm: Farm) -> None:
    """Between a telling's being kept and its being known, somebody else may read the book."""
    seen: list[Mapping[int, Batch]] = []

    class Watched(FullDisk):
        @contextmanager
        def write(self) -> Iterator[Book]:
            with self.books.write() as book:
                yield book
            seen.append(record.batches())

    parts = RecordParts(Watched(farm.books), farm.clock, farm.house, farm.table, lambda: None)
    record = GrowingRecord(parts)
    record.start(BAG, TOP, None, "", "page")
    assert list(seen[0]) == [1]
    assert record.batches() is seen[0]


def test_only_what_changed_of_a_part_is_told(farm: Farm) -> None:
    farm.start(BAGS, DARK)
    farm.record.split(1, 1, None, ago(9), "page")
    told = farm.record.entries(2)
    assert farm.record.correct_start(1, BAGS, None, BOTTOM, "page").shelf == "bottom"
    assert farm.record.entries(2) == told


def test_who_reads_without_a_record_has_it_logged(
    farm: Farm, caplog: pytest.LogCaptureFixture
) -> None:
    farm.start(BAG, TOP)
    told = [*farm.told(), Entry(2, 2, K.PINNED, NOON, NOON, "by hand")]
    with caplog.at_level(logging.WARNING):
        assert list(batches_of(told, TABLE)) == [1]
    assert "Batch 2 can't be read" in caplog.text
    check_place(HOUSE, OUTDOORS)


# ------------------------------------------------------------------ several at once


def test_several_tellings_are_kept_together_or_not_at_all(farm: Farm) -> None:
    number = farm.start()
    farm.tell(number, K.OPENED, 20)
    weighings = [Telling(K.HARVESTED, ago(3), weight_g=grams) for grams in (300.0, 120.0)]
    beside: list[int] = []
    after = farm.record.tell_all(
        number, weighings, "page", lambda _book, entry: beside.append(entry)
    )
    assert [harvest.weight_g for harvest in after.harvests] == [300.0, 120.0]
    assert [harvest.flush for harvest in after.harvests] == [1, 1]
    assert beside == [farm.newest(number)]
    heavy = [*weighings, Telling(K.HARVESTED, ago(2), weight_g=9e9)]
    farm.refuses(RefusedError, "can't be", lambda: farm.record.tell_all(number, heavy, "page"))
    farm.refuses(
        RefusedError,
        "split the batch",
        lambda: farm.record.tell_all(number, [*weighings, Telling(K.SPLIT)], "page"),
    )


def test_what_can_not_be_kept_beside_keeps_nothing(farm: Farm) -> None:
    number = farm.start()

    def fails(book: object, entry: int) -> None:
        raise RefusedError(f"No room beside {entry}.")

    farm.refuses(
        RefusedError,
        "No room beside 2",
        lambda: farm.record.tell_all(number, [Telling(K.NOTED, note="x")], "page", fails),
    )
