"""The plan of starts as the house, the record and the wish make it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, EntryKind, Start
from chamberwatch.core.growing.rotation.plan import Plan, PlannedStart, Space, Wanted
from chamberwatch.core.growing.rotation.promise import promise
from chamberwatch.core.growing.species import Mark, SpeciesTable, Stated, View
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.growing.promised import NAME, keep, kept
from chamberwatch.service.growing.rotating import NOTHING_WANTED, Rotating, RotatingParts, spaces
from tests.core.growing.lives import live, tell
from tests.core.growing.timed import ENOKI, OYSTER
from tests.fakes import HandClock
from tests.make import ROOM, SHELF, TENT
from tests.web.desk_fakes import ZONE, FakeBooks

K = EntryKind
# 0.5 kg of dry straw brings 0.5 kg of oysters; no range, so that sums can be done by hand.
SURE = replace(OYSTER, efficiency_pct=Stated((View(100.0, 100.0, "S00", Mark.READ),)))
WISH = Wanted("grey-oyster", (0.4, 0.6), 500.0)
HOUSE = House({c.name: c for c in (TENT, ROOM, SHELF)}, {})
TABLE = SpeciesTable({"grey-oyster": SURE, "enoki": ENOKI}, {})


@dataclass
class Told:
    """A record whose batches the test sets."""

    known: Mapping[int, Batch] = field(default_factory=dict)

    def batches(self) -> Mapping[int, Batch]:
        return self.known


@dataclass
class Bench:
    """A rotation and what it is made from; the day is the first of November, 10:00 in Berlin."""

    record: Told = field(default_factory=Told)
    clock: HandClock = field(default_factory=lambda: HandClock(wall=tell(K.NOTED, 0).at))
    books: FakeBooks = field(default_factory=FakeBooks)

    def rotating(self, *wanted: Wanted, house: House = HOUSE) -> Rotating:
        parts = RotatingParts(self.record, TABLE, house, self.books, self.clock, ZONE)
        return Rotating(parts, wanted)

    def hand(self, plan: Plan) -> None:
        """Keep a plan of starts made by hand today."""
        known = self.record.known.values()
        with self.books.write() as book:
            keep(book, promise(plan, [WISH], spaces(HOUSE), known, self.today))

    @property
    def today(self) -> date:
        return self.clock.now().astimezone(ZONE).date()

    def put(self, *batches: Batch) -> None:
        self.record.known = {batch.id: batch for batch in batches}

    def later(self, days: float) -> None:
        self.clock.turn(minutes=days * 24 * 60)


def renewed(rotating: Rotating) -> tuple[PlannedStart, ...]:
    """Return the starts after a round."""
    rotating.renew()
    return rotating.starts()


@pytest.fixture
def bench() -> Bench:
    return Bench()


def bag(number: int, day: float, *more: tuple[EntryKind, float, float | None]) -> Batch:
    """Return a bag of 500 g of dry straw on the top shelf of the tent."""
    start = Start("grey-oyster", Container.BAG, dry_g=500.0)
    begun = tell(K.STARTED, day, batch=number, start=start, chamber="tent", shelf="top")
    after = (tell(kind, when, batch=number, weight_g=g) for kind, when, g in more)
    return live(SURE, begun, *after)


# ------------------------------------------------------------------ where there is room


@pytest.mark.parametrize(
    ("chamber", "space"),
    [
        pytest.param(TENT, Space("tent", ("top", "bottom"), 1, None), id="plain"),
        pytest.param(
            replace(TENT, living_space=True, shelf_holds=3),
            Space("tent", ("top", "bottom"), 3, 2),
            id="where people live",
        ),
        pytest.param(
            replace(TENT, living_space=True, open_at_most=5),
            Space("tent", ("top", "bottom"), 1, 5),
            id="as stated",
        ),
        pytest.param(SHELF, Space("shelf", ("",), 1, None, takes_open=False), id="a dark store"),
        pytest.param(ROOM, None, id="a room takes none"),
    ],
)
def test_where_batches_can_stand(chamber: Chamber, space: Space | None) -> None:
    assert spaces(House({chamber.name: chamber}, {})) == (() if space is None else (space,))


# ------------------------------------------------------------------ the plan


def test_a_wish_that_fits(bench: Bench) -> None:
    made = bench.rotating(WISH).plan()
    # 0.4 to 0.6 kg a week of bags that bring 0.5 kg each.
    assert made.plan.starts_per_week == {"grey-oyster": pytest.approx((0.8, 1.2))}
    assert made.asked == (WISH,)
    assert len(made.plan.weeks) == 12
    assert made.plan.starts[0].on >= date(2026, 11, 1)
    assert made.words
    assert len(bench.rotating(WISH).plan(weeks=3).plan.weeks) == 3


def test_what_stands_there_takes_room_and_brings_harvest(bench: Bench) -> None:
    picked = (K.OPENED, -8.0, None), (K.PINNED, -4.0, None), (K.HARVESTED, 0.0, 200.0)
    bench.put(bag(1, -24, *picked))
    empty = bench.rotating(replace(WISH, kg_per_week=(0.01, 0.01)))
    made = empty.plan(weeks=6).plan
    # Flushes 2 and 3 of three, the middle of common practice: 27.5 and 15 of 97.5 parts.
    rest_kg = 0.5 * (27.5 + 15.0) / 97.5
    high = sum(week.by_species["grey-oyster"][1] for week in made.weeks)
    planned = sum(a.kg_high for start in made.starts for a in start.harvests)
    assert rest_kg - 1e-9 <= high <= rest_kg + planned + 1e-9
    # Nothing of the flush that was picked.
    assert high < 0.5


def test_of_a_bag_that_nobody_weighed_no_harvest_is_promised(bench: Bench) -> None:
    start = Start("grey-oyster", Container.BAG)
    begun = tell(K.STARTED, -24, start=start, chamber="shelf")
    bench.put(live(SURE, begun, tell(K.OPENED, -8), tell(K.PINNED, -4)))
    made = bench.rotating(replace(WISH, kg_per_week=(0.01, 0.01))).plan(weeks=2).plan
    assert [week.kg_high for week in made.weeks] == [0.0, 0.0]


def test_own_batches_narrow_the_plan(bench: Bench) -> None:
    """A grower whose bags are white in 20 days is told to open later than the book says."""
    book = bench.rotating(WISH).plan().plan.starts[0]
    slow = [
        bag(n, -80 + n, (K.WHITE, -60 + n, None), (K.OPENED, -60 + n, None), (K.SPENT, -5, None))
        for n in range(1, 7)
    ]
    bench.put(*slow)
    own = bench.rotating(WISH).plan().plan.starts[0]
    assert own.opens_on - own.on > book.opens_on - book.on


def test_another_wish_leaves_that_of_the_settings(bench: Bench) -> None:
    rotating = bench.rotating(WISH)
    before = renewed(rotating)
    other = replace(WISH, kg_per_week=(0.1, 0.2))
    assert rotating.plan([other]).asked == (other,)
    assert renewed(rotating) == before


def test_nothing_wanted(bench: Bench) -> None:
    rotating = bench.rotating()
    assert renewed(rotating) == ()
    with pytest.raises(RefusedError, match=r"Add a \[\[rotation\]\] to the settings"):
        rotating.plan()
    assert rotating.plan([WISH]).asked == (WISH,)
    assert NOTHING_WANTED.endswith(".")


@pytest.mark.parametrize(
    ("name", "error", "words"),
    [
        pytest.param("enoki", RefusedError, "efficiency_pct", id="without figures"),
        pytest.param("morel", UnknownNameError, "Known: grey-oyster, enoki", id="unknown"),
    ],
)
def test_what_cannot_be_planned(
    bench: Bench, name: str, error: type[Exception], words: str
) -> None:
    rotating = bench.rotating(replace(WISH, species=name))
    with pytest.raises(error, match=words):
        rotating.plan()
    assert renewed(rotating) == ()  # the rounds go on


# ------------------------------------------------------------------ the next starts


def test_a_plan_stands_for_its_week(bench: Bench) -> None:
    """The first of November 2026 is a Sunday."""
    bench.later(1)
    rotating = bench.rotating(WISH)
    first = renewed(rotating)
    bench.later(6)
    assert renewed(rotating) == first
    assert rotating.plan().made == date(2026, 11, 2)
    bench.later(1)
    assert renewed(rotating) != first
    assert rotating.plan().made == date(2026, 11, 9)


def test_a_start_that_is_due_waits(bench: Bench) -> None:
    bench.later(1)
    rotating = bench.rotating(WISH)
    planned = renewed(rotating)
    bench.put(bag(1, 1))
    assert renewed(rotating) == planned[1:]
    assert rotating.plan().plan.starts == planned[1:]
    assert rotating.plan(weeks=1).plan.starts == tuple(
        start for start in planned[1:] if start.on < date(2026, 11, 9)
    )


def test_weeks_and_words_are_those_of_the_plan_that_is_kept(bench: Bench) -> None:
    bench.later(1)
    much = replace(WISH, kg_per_week=(2.0, 3.0))
    rotating = bench.rotating(much)
    first = rotating.plan()
    assert first.plan.gives
    bench.later(2)
    bench.put(bag(1, 3))
    then = rotating.plan()
    assert replace(then.plan, starts=first.plan.starts) == first.plan
    assert (then.words, then.made) == (first.words, date(2026, 11, 2))
    assert rotating.plan(weeks=4).plan.weeks == first.plan.weeks[:4]
    # Another question is answered from what there is by then, all of it.
    far = rotating.plan(weeks=13)
    assert far.made == date(2026, 11, 4)
    assert far.plan == bench.rotating().plan([much], 13).plan
    assert far.plan.weeks[:12] != first.plan.weeks
    assert rotating.plan().plan == then.plan


def test_a_restart_keeps_to_the_plan(bench: Bench) -> None:
    bench.later(1)
    planned = renewed(bench.rotating(WISH))
    bench.later(2)
    again = bench.rotating(WISH)
    assert again.starts() == planned
    assert renewed(again) == planned
    assert again.plan().made == date(2026, 11, 2)
    assert bench.books.writes == 1


def test_two_processes_share_a_plan(bench: Bench) -> None:
    """The other was sooner, while this one still looked for a plan."""
    bench.later(1)
    mine = bench.rotating(WISH)
    theirs = replace(
        bench.rotating(WISH).plan([WISH]).plan, starts=(), helps=("Kept by the other.",)
    )

    class Sooner(Told):
        """Keeps the plan of the other while the batches are looked at to plan."""

        def batches(self) -> Mapping[int, Batch]:
            if bench.books.writes == 0:
                bench.hand(theirs)
            return {}

    mine._record = Sooner()
    mine.renew()
    assert mine.plan().plan.helps == ("Kept by the other.",)
    assert bench.rotating(WISH).plan().plan.helps == ("Kept by the other.",)


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "null", '{"made": "2026-11-02"}', '{"made": 5}', "{", '{"wanted": 3}'],
)
def test_what_cannot_be_read_is_planned_anew(bench: Bench, text: str) -> None:
    bench.later(1)
    planned = renewed(bench.rotating(WISH))
    bench.books.kept.texts[NAME] = text
    rotating = bench.rotating(WISH)
    assert rotating.starts() == ()
    assert renewed(rotating) == planned


@pytest.mark.parametrize(
    ("wanted", "house"),
    [
        pytest.param(replace(WISH, kg_per_week=(0.1, 0.2)), HOUSE, id="another wish"),
        pytest.param(
            WISH, House({"tent": replace(TENT, shelves=("top",))}, {}), id="a shelf less"
        ),
    ],
)
def test_other_settings_make_it_anew(bench: Bench, wanted: Wanted, house: House) -> None:
    bench.later(1)
    planned = renewed(bench.rotating(WISH))
    rotating = bench.rotating(wanted, house=house)
    assert rotating.starts() == ()
    assert renewed(rotating) != planned
    assert rotating.plan().asked == (wanted,)


def test_what_is_kept_is_read_as_it_was(bench: Bench) -> None:
    """A full plan: with what gives, what helps, and one that is stuck."""
    bench.later(1)
    much = replace(WISH, kg_per_week=(2.0, 3.0))
    made = replace(bench.rotating(much).plan().plan, stuck=(4,))
    assert made.gives
    assert made.helps
    warm = Space("tent", ("top", ""), 2, 1, (18.0, 21.5))
    whole = promise(made, [much, WISH], [warm, Space("shelf", ("",))], [bag(1, 0)], bench.today)
    with bench.books.write() as book:
        keep(book, whole)
        assert kept(book) == whole


@pytest.mark.parametrize(
    ("where", "days"),
    [
        pytest.param(("tent", "tent", "shelf"), [3, 5], id="full"),
        pytest.param(("tent", "shelf"), [2, 5], id="room for one"),
        pytest.param(("tent", "shelf", None), [2, 5], id="one stands outdoors"),
    ],
)
def test_while_every_place_is_taken_nothing_is_due(
    bench: Bench, where: tuple[str | None, ...], days: list[int]
) -> None:
    bench.later(1)
    rotating = bench.rotating(WISH)
    there = [
        live(ENOKI, tell(K.STARTED, 0, start=Start("enoki", Container.BAG), chamber=chamber))
        for chamber in where
    ]
    bench.put(*(replace(batch, id=number) for number, batch in enumerate(there, start=1)))
    first = renewed(rotating)[0]
    planned = [replace(first, on=date(2026, 11, day)) for day in (2, 5)]
    bench.hand(replace(bench.rotating(WISH).plan().plan, starts=tuple(planned)))
    again = bench.rotating(WISH)
    assert [start.on.day for start in again.starts()] == days
    moved = [start.opens_on - start.on for start in again.starts()]
    assert moved == [first.opens_on - start.on for start in planned]
    # What is planned, listed and dated is one and the same.
    assert again.plan().plan.starts == again.starts()


def test_a_start_that_is_due_says_where_if_there_is_room(bench: Bench) -> None:
    bench.later(1)
    first = renewed(bench.rotating(WISH))[0]
    here = replace(first, on=bench.today, colonise_at=("tent", "top"))
    for there, place in (("bottom", ("tent", "top")), ("top", None)):
        bench.put(replace(bag(1, 0), shelf=there))
        bench.hand(replace(bench.rotating(WISH).plan().plan, starts=(here,)))
        (due,) = bench.rotating(WISH).starts()
        assert due.colonise_at == place


def test_days_are_those_of_the_grower(bench: Bench) -> None:
    bench.clock.wall = bench.clock.wall.replace(hour=23, minute=30)  # half past midnight in Berlin
    assert all(start.on >= date(2026, 11, 2) for start in renewed(bench.rotating(WISH)))


def test_stages_are_needed(bench: Bench) -> None:
    """Only chambers with a stage take batches; with none of them something gives."""
    made = bench.rotating(WISH, house=House({"room": ROOM}, {})).plan().plan
    assert not made.meets
    assert made.starts == ()
    assert TENT.stage is Stage.FRUITING
