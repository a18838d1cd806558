"""The plan of starts: nothing is booked twice, all adds up, and what gives is said."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.rotation.air import share_air
from chamberwatch.core.growing.rotation.plan import (
    Plan,
    PlannedStart,
    Space,
    Timing,
    UnderWay,
    Wanted,
)
from chamberwatch.core.growing.rotation.search import plan
from chamberwatch.core.growing.rotation.words import (
    Cause,
    Change,
    Help,
    help_words,
    kilos,
    together,
    why_words,
)
from chamberwatch.core.growing.species import Species, SpeciesTable
from tests.core.growing.rotation.rotations import (
    ANY,
    COOL,
    SHY,
    STALE,
    TABLE,
    TODAY,
    WARM,
    quick,
    species,
    under_way,
    wish,
)

TENT = Space("tent", ("top", "low"))
ROOMY = Space("tent", ("top", "middle", "low"), holds=4)
STORE = Space("store", ("floor",), holds=6, takes_open=False)


def made(
    wanted: Sequence[Wanted],
    spaces: Sequence[Space] = (TENT,),
    standing: Sequence[UnderWay] = (),
    weeks: int = 8,
    timings: dict[str, Timing] | None = None,
) -> Plan:
    return plan(wanted, spaces, standing, TABLE, TODAY, weeks, timings)


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def days(since: date, until: date) -> set[date]:
    return {since + timedelta(days=n) for n in range((until - since).days)}


def booked(start: PlannedStart, white: int) -> set[tuple[tuple[str, str], date]]:
    """Return the places that a start takes, by day; it may be white as late as `white` days."""
    assert start.colonise_at is not None
    left = max(start.opens_on, start.on + timedelta(days=white))
    stored = {(start.colonise_at, each) for each in days(start.on, left)}
    return stored | {(start.fruit_at, each) for each in days(start.opens_on, start.leaves_on)}


# ------------------------------------------------------------------ what must always hold


@settings(max_examples=15, deadline=None)
@given(
    kg=st.lists(st.sampled_from((0.0, 0.1, 0.3, 0.6, 1.5)), min_size=3, max_size=3),
    white=st.tuples(st.integers(5, 20), st.integers(0, 9)),
    shelves=st.integers(1, 3),
    holds=st.integers(1, 3),
    open_at_most=st.sampled_from((None, 1, 2)),
    store=st.booleans(),
    standing=st.lists(st.tuples(st.booleans(), st.integers(1, 30)), max_size=2),
)
def test_no_plan_books_a_place_twice(
    kg: list[float],
    white: tuple[int, int],
    shelves: int,
    holds: int,
    open_at_most: int | None,
    store: bool,
    standing: list[tuple[bool, int]],
) -> None:
    tent = Space("tent", ("top", "middle", "low")[:shelves], holds, open_at_most)
    spaces = [tent, *([STORE] if store else []), Space("cupboard", ("one",))]
    kinds = [kind for kind, want in zip((COOL, SHY, WARM), kg, strict=True) if want]
    wishes = [wish(kind, want) for kind, want in zip((COOL, SHY, WARM), kg, strict=True) if want]
    certain = sum(white)
    time = quick((white[0], certain), (9.0, 12.0), ((4.0, 9.0, 1.0),))
    there = [
        under_way(n, COOL, ("cupboard", "one") if n else ("tent", "top"), leaves=leaves)
        for n, (_, leaves) in enumerate(standing)
    ]
    found = made(wishes, spaces, there, 6, {kind.name: time for kind in kinds})

    room = {(s.chamber, shelf): s.holds for s in spaces for shelf in s.shelves}
    taken = Counter(
        ((u.chamber, u.shelf), each) for u in there for each in days(TODAY, u.leaves.high.date())
    )
    opened = Counter(
        ((u.chamber, "grey-oyster"), each)
        for u in there
        for each in days(TODAY, u.leaves.high.date())
    )
    for start in found.starts:
        taken.update(booked(start, certain))
        opened.update(
            ((start.fruit_at[0], start.species), each)
            for each in days(start.opens_on, start.leaves_on)
        )
        ready = start.on + timedelta(days=(white[0] + certain + 1) // 2)
        assert ready <= start.opens_on <= ready + timedelta(days=14)
    assert all(count <= room[place] for (place, _), count in taken.items())  # type: ignore[index]
    by_air: dict[tuple[str | None, date], Counter[str]] = {}
    for ((chamber, name), each), count in opened.items():
        by_air.setdefault((chamber, each), Counter())[name] += count
    for (where, _), names in by_air.items():
        limit = open_at_most if where == "tent" else None
        assert limit is None or names.total() <= limit
        assert share_air(*(TABLE.get(name) for name in names))


def test_the_same_question_has_the_same_answer() -> None:
    question = ([wish(COOL, 0.3, 0.5), wish(SHY, 0.2)], [TENT, STORE])
    assert made(*question) == made(*question)


def test_weeks_add_up_to_the_flushes() -> None:
    standing = [
        under_way(1, crops=((-5.0, 3.0, 0.4), (10.0, 12.0, 0.2))),
        under_way(2, SHY, place=None, crops=((4.0, 5.0, 0.1),)),
    ]
    found = made([wish(COOL, 0.3)], [ROOMY], standing, weeks=30)
    starts = [s for s in found.starts if s.harvests[-1].high < day(30 * 7)]
    assert len(starts) < len(found.starts)
    late = [s for s in found.starts if s not in starts]
    sum_low = sum(crop.kg_low for start in starts for crop in start.harvests) + 0.4 + 0.2 + 0.1
    most = sum_low + sum(crop.kg_low for start in late for crop in start.harvests)
    assert sum_low < sum(week.kg_low for week in found.weeks) < most
    assert [week.monday for week in found.weeks] == [day(7 * n) for n in range(30)]
    first = found.weeks[0]
    # What is late is still to come, from today on; the others come when they are due.
    assert first.by_species["grey-oyster"] == pytest.approx((0.4, 0.4))
    assert first.by_species["shiitake"] == pytest.approx((0.1, 0.1))
    assert first.kg_low == pytest.approx(0.5)
    assert found.weeks[1].by_species["grey-oyster"][0] == pytest.approx(0.2)


def test_weeks_begin_on_monday_and_starts_today() -> None:
    found = plan([wish(COOL, 0.5)], [ROOMY], [], TABLE, day(3), 4)
    assert [week.monday for week in found.weeks] == [day(7 * n) for n in range(4)]
    assert found.starts[0].on == day(3)
    assert all(start.on < day(4 * 7) for start in found.starts)


# ------------------------------------------------------------------ against the trade


def test_king_oyster_is_staggered_as_published() -> None:
    # Jung & Son 2021, Sustainability 13:5434: 12 places, 16 days each; 3 bottles every 4 days
    # bring as much as 12 every 16 days, with 4 cohorts at once.
    time = quick((20.0, 20.0), (16.0, 16.0), ((13.0, 16.0, 1.0),))
    kind = species("King oyster", (15.0, 21.0), (None, 2000.0))
    table = SpeciesTable({kind.name: kind}, {})
    rate = 3 * 7 / 4
    found = plan(
        [wish(kind, rate * 0.1, dry_g=100.0)],
        [
            Space("room", tuple("abcdefghijkl")),
            Space("store", ("floor",), holds=24, takes_open=False),
        ],
        [],
        table,
        TODAY,
        16,
        {kind.name: time},
    )
    assert found.starts_per_week[kind.name] == pytest.approx((rate, rate))
    assert found.slots[kind.name].fruiting == pytest.approx((12.0, 12.0))
    open_on = [
        sum(s.opens_on <= each < s.leaves_on for s in found.starts)
        for each in (day(n) for n in range(50, 110))
    ]
    assert max(open_on) <= 12
    assert sum(open_on) / len(open_on) == pytest.approx(12.0, rel=0.1)
    steady = [week.kg_low for week in found.weeks[7:]]
    assert sum(steady) / len(steady) == pytest.approx(rate * 0.1, rel=0.1)


def test_room_enough_gives_a_steady_plan() -> None:
    found = made([wish(COOL, 0.4, 0.6)], [ROOMY], weeks=12)
    assert found.meets
    assert (found.gives, found.helps, found.stuck) == ((), (), ())
    steady = [week.kg_low for week in found.weeks[7:]]
    assert all(0.4 * 0.9 - 1e-9 <= kg <= 0.6 * 1.2 for kg in steady)
    # Half a kilogram of dry substrate brings as much, so it is one start a week.
    assert found.starts_per_week["grey-oyster"] == pytest.approx((0.8, 1.2))
    assert 10 <= len(found.starts) <= 14


def test_sealed_ones_leave_the_fruiting_shelves_to_others() -> None:
    found = made([wish(COOL, 0.5)], [TENT, STORE])
    places = {(start.colonise_at, start.fruit_at[0]) for start in found.starts}
    assert places == {(("store", "floor"), "tent")}


def test_what_fruits_in_other_air_goes_to_another_chamber() -> None:
    warm = Space("warm", ("one", "two"), temperature_c=(22.0, 25.0))
    cool = Space("cool", ("one", "two"), temperature_c=(14.0, 18.0))
    found = made([wish(COOL, 0.2), wish(WARM, 0.2)], [warm, cool])
    assert {(start.species, start.fruit_at[0]) for start in found.starts} == {
        ("grey-oyster", "cool"),
        ("golden-oyster", "warm"),
    }
    # 14 to 18 °C meets what colonises at 18 to 27 °C.
    cold = replace(cool, temperature_c=(10.0, 15.0))
    starts = made([wish(COOL, 0.2)], [warm, cold]).starts
    assert {(s.colonise_at or ("", ""))[0] for s in starts} == {"warm"}


def test_no_species_starves() -> None:
    found = made([wish(COOL, 0.5), wish(SHY, 0.5)], [TENT], weeks=12)
    counts = Counter(start.species for start in found.starts)
    assert min(counts["grey-oyster"], counts["shiitake"]) >= 1
    assert abs(counts["grey-oyster"] - counts["shiitake"]) <= 1


# ------------------------------------------------------------------ what is under way


def test_a_batch_under_way_holds_its_shelf() -> None:
    shelf = Space("tent", ("top",))
    found = made([wish(COOL, 0.5)], [shelf], [under_way(1, leaves=25.0)])
    assert found.starts[0].on >= day(25)
    # A batch that stands nowhere, or somewhere else, is in nobody's way.
    elsewhere = [under_way(1, place=None), under_way(2, place=("garden", "bed"))]
    assert made([wish(COOL, 0.5)], [shelf], elsewhere).starts[0].on < day(25)


def test_a_late_batch_holds_its_shelf_today() -> None:
    found = made([wish(COOL, 0.5)], [Space("tent", ("top",))], [under_way(1, leaves=-3.0)])
    assert day(1) <= found.starts[0].on < day(14)


def test_a_sealed_batch_is_opened_where_and_when_there_is_room() -> None:
    crops = ((15.0, 15.0, 0.3),)
    stored = under_way(7, place=("store", "floor"), opens=(5.0, 7.0), leaves=25.0, crops=crops)
    full = under_way(8, SHY, leaves=9.0)
    shelf = Space("tent", ("top",))
    found = made([wish(COOL, 0.1)], [shelf, STORE], [stored, full])
    # Free on day 9 rather than 7, so all of it comes 2 days later: day 17.
    assert found.stuck == ()
    assert found.weeks[2].by_species["grey-oyster"][0] == pytest.approx(0.3)
    assert found.weeks[1].by_species["grey-oyster"][0] == pytest.approx(0.0)
    assert all(start.opens_on >= day(27) for start in found.starts)


@pytest.mark.parametrize(
    ("batch", "stuck"),
    [
        pytest.param(
            under_way(7, place=("store", "floor"), opens=(1, 3), leaves=25), (7,), id="in a store"
        ),
        pytest.param(under_way(7, place=None, opens=(1, 3)), (), id="outdoors"),
        pytest.param(
            replace(under_way(7, opens=(1, 3), place=("store", "floor")), opens=None),
            (),
            id="nobody knows when",
        ),
    ],
)
def test_a_sealed_batch_without_room_is_named(batch: UnderWay, stuck: tuple[int, ...]) -> None:
    full = under_way(8, SHY, leaves=60.0)
    crops = under_way(0, crops=((20.0, 20.0, 0.4),)).harvests
    found = made(
        [wish(COOL, 0.1)], [Space("tent", ("top",)), STORE], [replace(batch, harvests=crops), full]
    )
    assert found.stuck == stuck
    came = found.weeks[2].by_species["grey-oyster"][0]
    assert came == pytest.approx(0.0 if stuck else 0.4)


def test_a_batch_stays_on_its_shelf_when_it_is_opened() -> None:
    sealed = under_way(7, place=("tent", "low"), opens=(5.0, 7.0), leaves=30.0)
    found = made([wish(COOL, 0.4)], [TENT], [sealed])
    before = [s for s in found.starts if s.on < day(30)]
    assert before
    assert {s.fruit_at for s in before} == {("tent", "top")}


def test_more_under_way_than_shelves_take_leave_room_later() -> None:
    crowd = [under_way(n, ANY if n else COOL, leaves=20.0) for n in range(4)]
    found = made([wish(COOL, 0.4)], [TENT], crowd)
    assert found.starts[0].on >= day(20)


# ------------------------------------------------------------------ what gives

SMALL = Space("tent", ("top", "low"), holds=4, open_at_most=1)
COLD = Space("tent", ("top",), temperature_c=(2.0, 5.0))


@pytest.mark.parametrize(
    ("wanted", "spaces", "standing", "where", "why", "help_"),
    [
        pytest.param(
            [wish(COOL, 1.0)],
            [SMALL],
            [],
            "tent",
            "as many batches as may be open in “tent” are open by then",
            "Let 2 batches be open in “tent” instead of 1, if its air is led outdoors",
            id="open ones",
        ),
        pytest.param(
            [wish(COOL, 1.0)],
            [TENT],
            [],
            "tent",
            "the shelves of “tent” are taken by then; shelf “",
            "One more shelf in “tent”",
            id="shelves",
        ),
        pytest.param(
            [wish(COOL, 1.0)],
            [replace(ROOMY, temperature_c=(10.0, 15.0)), replace(STORE, holds=1)],
            [],
            "store",
            "there is no place left to colonise in “store” before; shelf “floor” is free",
            "One more shelf in “store”",
            id="store",
        ),
        pytest.param(
            [wish(COOL, 0.3)],
            [COLD],
            [],
            "",
            "no chamber is held at what it wants",
            "Wish for less: nothing of grey oyster fits.",
            id="nowhere",
        ),
        pytest.param(
            [wish(COOL, 0.3), wish(STALE, 0.3)],
            [ROOMY],
            [under_way(1, COOL, leaves=60.0)],
            "tent",
            "what stands open in “tent” by then can't share its air",
            "Choose species that fruit in the same air in place of grey oyster or enoki",
            id="air",
        ),
        pytest.param(
            [wish(COOL, 0.2, dry_g=3000.0)],
            [ROOMY],
            [],
            "",
            "one more batch would bring more than is wanted in the weeks around",
            "",
            id="lumps",
        ),
    ],
)
def test_what_gives_is_said_with_what_would_help(
    wanted: list[Wanted],
    spaces: list[Space],
    standing: list[UnderWay],
    where: str,
    why: str,
    help_: str,
) -> None:
    found = made(wanted, spaces, standing, 12)
    assert not found.meets
    given = [each for each in found.gives if why in each.why]
    assert given
    assert {each.chamber for each in given} == {where}
    assert all(each.missing_kg > 0.0 and each.week.weekday() == 0 for each in given)
    assert help_ in " ".join(found.helps)
    assert all(any(said in each.why for said in found.helps) for each in found.gives)


def test_clearing_early_helps_where_later_flushes_hold_the_only_shelf() -> None:
    time = quick((7.0, 7.0), (40.0, 40.0), ((4.0, 8.0, 0.9), (36.0, 40.0, 0.1)))
    found = made([wish(COOL, 0.5)], [Space("tent", ("top",))], timings={"grey-oyster": time})
    assert found.helps[0].startswith("Clear batches out after their first flush, and start more:")


def test_weeks_before_the_first_can_be_ripe_give_nothing() -> None:
    found = made([wish(COOL, 3.0)], weeks=12)
    # 14 days to white through and 8 to the first flush.
    assert found.gives[0].week >= day(21)


# ------------------------------------------------------------------ odd questions


def test_nothing_wanted_is_no_plan() -> None:
    found = made([], [TENT], [under_way(1, crops=((1.0, 1.0, 0.5),))])
    assert (found.starts, found.meets) == ((), True)
    assert found.weeks[0].kg_high == pytest.approx(0.5)


def test_nowhere_to_stand_is_no_plan() -> None:
    assert made([wish(COOL, 0.3)], []).starts == ()


@pytest.mark.parametrize(
    "kind",
    [
        pytest.param(species("Odd", None, efficiency=None), id="no efficiency"),
        pytest.param(Species("odd", "Odd", "", {}), id="no figures"),
    ],
)
def test_a_species_without_figures_is_refused(kind: Species) -> None:
    with pytest.raises(RefusedError, match="No rotation can be planned for Odd"):
        plan([wish(kind, 0.3)], [TENT], [], SpeciesTable({"odd": kind}, {}), TODAY)


def test_own_times_stand_in_for_missing_days() -> None:
    bare = replace(COOL, stages={})
    table = SpeciesTable({bare.name: bare}, {})
    assert plan([wish(bare, 0.3)], [TENT], [], table, TODAY, 8, {bare.name: quick()}).starts


def test_an_unknown_species_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="no species “any”"):
        made([wish(ANY, 0.3)])


@pytest.mark.parametrize(
    ("wanted", "cure"),
    [
        pytest.param(
            [wish(COOL, 0.3), wish(SHY, 0.3), wish(COOL, 0.1)],
            "Grey oyster is wanted 2 times. Make them one wish.",
            id="twice",
        ),
        pytest.param([wish(COOL, 1e-6)], "0.01 to 100 kg a week", id="a crumb"),
        pytest.param([wish(COOL, 0.0, 0.5)], "0.01 to 100 kg a week", id="nothing or more"),
        pytest.param([wish(COOL, 5.0, 101.0)], "0.01 to 100 kg a week", id="a farm"),
        pytest.param([wish(COOL, 2.0, 1.0)], "the lower figure first", id="swapped"),
        pytest.param([wish(COOL, math.nan)], "0.01 to 100 kg a week", id="no number"),
        pytest.param(
            [wish(COOL, 50.0, 60.0, dry_g=100.0)],
            "that takes 500 batches a week or more, and a plan takes 100. Wish for less, or make "
            "larger batches.",
            id="a flood of bags",
        ),
    ],
)
def test_a_wish_that_is_none_is_refused(wanted: list[Wanted], cure: str) -> None:
    with pytest.raises(RefusedError) as refused:
        made(wanted)
    assert cure in str(refused.value)


def test_the_least_and_the_most_can_be_planned() -> None:
    assert made([wish(COOL, 0.01)], [ROOMY]).starts_per_week["grey-oyster"] == (0.02, 0.02)
    # Half a kilogram from each, so 100 a week are 50 kg.
    assert not made([wish(COOL, 50.0)], [ROOMY], weeks=4).meets


# ------------------------------------------------------------------ words


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param(
            Change(Help.SHELF, "tent", kg=0.3),
            "One more shelf in “tent”: about 0.3 kg more a week.",
            id="more",
        ),
        pytest.param(
            Change(Help.SHELF, "tent", kg=0.001),
            "One more shelf in “tent”: less than 0.01 kg more a week.",
            id="hardly more",
        ),
    ],
)
def test_what_a_change_brings(change: Change, words: str) -> None:
    assert help_words(change) == words


@pytest.mark.parametrize(
    ("kg", "said"),
    [
        (0.004, "less than 0.01 kg"),
        (0.006, "0.01 kg"),
        (0.304, "0.3 kg"),
        (0.996, "1 kg"),
        (2.34, "2.3 kg"),
    ],
)
def test_weights_are_said_no_finer_than_they_can_be_foretold(kg: float, said: str) -> None:
    assert kilos(kg) == said


def test_names_within_a_sentence() -> None:
    assert together(["Grey oyster"]) == "grey oyster"
    assert together(["Grey oyster", "Enoki", "Nameko"]) == "grey oyster, enoki or nameko"


def test_a_reason_without_a_shelf() -> None:
    assert why_words(Cause.SHELF, "Enoki", 0.2, "tent", "") == (
        "Enoki: 0.2 kg too little; the shelves of “tent” are taken by then."
    )


def test_nothing_is_cleared_earlier_than_after_the_only_flush() -> None:
    time = quick(stay=(8.0, 8.0))
    found = made([wish(COOL, 3.0)], timings={"grey-oyster": time})
    assert found.helps
    assert "first flush" not in " ".join(found.helps)
