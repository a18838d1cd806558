"""What came of a batch, against published worked figures; splits lose no gram."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Entry, Harvest, Passed, Start
from chamberwatch.core.growing.crop import Crop, crops, dried_g, fruited_on, split_times
from chamberwatch.core.growing.crop_rows import By, rows
from chamberwatch.core.growing.species import Species, Stated, View
from tests.core.growing.lives import K, S, begin, numbered, on, tell

PLAIN = Species("plain", "Plain", "", {})
Picking = tuple[int, float, float]
"""Flush, day, weight [g]."""


def batch(
    number: int = 1, *picked: Picking, stage: Stage = S.SPENT, day: float = 0.0, **of: object
) -> Batch:
    start = Start("plain", Container.BAG, **of)  # type: ignore[arg-type]
    return Batch(
        id=number,
        start=start,
        started=on(day),
        stages=(Passed(stage, 0, on(200)),),
        count=start.count,
        chamber=None,
        shelf=None,
        placed=on(day),
        harvests=tuple(Harvest(0, on(when), flush, weight) for flush, when, weight in picked),
        chambers=("tent",),
    )


def grown(
    *batches: Batch,
    shelves: Mapping[int, str] | None = None,
    splits: Mapping[int, datetime] | None = None,
) -> Sequence[Crop]:
    return crops({b.id: b for b in batches}, lambda _: PLAIN, shelves, splits)


def test_a_block_of_2270_g_at_62_percent_that_gave_600_g() -> None:
    (crop,) = grown(batch(1, (1, 25, 400.0), (2, 40, 200.0), wet_g=2270.0, moisture_pct=62.0))
    assert crop.dry_g == pytest.approx(863, abs=0.5)
    assert crop.efficiency_pct == pytest.approx(70, abs=0.5)
    assert crop.wet_yield_pct == pytest.approx(26, abs=0.5)
    assert crop.per_day_pct == pytest.approx(69.556 / 40, abs=1e-3)
    assert [f.share_pct for f in crop.flushes] == pytest.approx([200 / 3, 100 / 3])
    assert sum(f.efficiency_pct or 0.0 for f in crop.flushes) == pytest.approx(crop.efficiency_pct)
    assert (crop.dried_least_g, crop.dried_most_g) == pytest.approx((60.0, 60.0))
    assert crop.missing == ""


@pytest.mark.parametrize(
    ("fresh_g", "per_day_pct"),
    [
        pytest.param(1710.0, 3.8, id="171 percent, the least"),
        pytest.param(2610.0, 5.8, id="261 percent, the most"),
    ],
)
def test_oyster_on_rice_straw(fresh_g: float, per_day_pct: float) -> None:
    # Cayetano-Catarino et al. give both ranges, and 41 to 59 days; 45 days lie in these.
    (crop,) = grown(batch(1, (1, 30, fresh_g / 2), (2, 45, fresh_g / 2), dry_g=1000.0))
    assert crop.per_day_pct == pytest.approx(per_day_pct, abs=0.05)


def test_lions_mane_of_550_g_from_a_block() -> None:
    # Stamets 2000, block of 2.27 kg; at its usual 62 % that is inside the published 52 to 92 %.
    (crop,) = grown(batch(1, (1, 30, 550.0), wet_g=2270.0, moisture_pct=62.0))
    assert crop.wet_yield_pct == pytest.approx(24.2, abs=0.1)
    assert 52 < (crop.efficiency_pct or 0) < 92


def test_without_the_dry_weight_it_says_what_to_record() -> None:
    (crop,) = grown(batch(1, (1, 30, 550.0), wet_g=2270.0))
    assert (crop.efficiency_pct, crop.per_day_pct, crop.flushes[0].efficiency_pct) == (None,) * 3
    assert "moisture" in crop.missing
    assert crop.wet_yield_pct is not None


@pytest.mark.parametrize(
    ("picked", "days", "per_day"),
    [
        pytest.param((), None, None, id="not picked"),
        pytest.param(((1, 0.0, 50.0),), 0.0, None, id="picked on the day it was filled"),
        pytest.param(((1, 0.01, 50.0),), 0.01, None, id="told in one go: no rate"),
        pytest.param(((1, 1.0, 50.0),), 1.0, 50.0, id="one day"),
        pytest.param(((1, 10.0, 50.0),), 10.0, 5.0, id="ten days"),
    ],
)
def test_days(picked: tuple[Picking, ...], days: float | None, per_day: float | None) -> None:
    (crop,) = grown(batch(1, *picked, dry_g=100.0))
    assert (crop.days, crop.per_day_pct) == (days, per_day)


@pytest.mark.parametrize(
    ("water", "least_most"),
    [
        pytest.param(None, (100.0, 100.0), id="not said: a tenth"),
        pytest.param((74.0, 91.0), (90.0, 260.0), id="grey oyster, J. Mycol. 2016"),
        pytest.param((None, 92.0), (80.0, 80.0), id="at most"),
        pytest.param((80.0, None), (100.0, 200.0), id="at least"),
    ],
)
def test_dried(
    water: tuple[float | None, float | None] | None, least_most: tuple[float, float]
) -> None:
    stated = None if water is None else Stated((View(*water),))
    assert dried_g(1000.0, replace(PLAIN, water_pct=stated)) == pytest.approx(least_most)


# ------------------------------------------------------------------ splits and lines


def test_each_part_keeps_its_share_of_what_was_picked_before() -> None:
    # Four bags give 400 g; three are left when one is taken out; then each goes its own way.
    whole = batch(1, (1, 20, 400.0), (2, 40, 150.0), count=4, dry_g=400.0)
    whole = replace(whole, count=3)
    part = batch(2, (2, 44, 90.0), count=1, dry_g=100.0, split_from=1)
    one, two = grown(whole, part, splits={2: on(30)})
    assert (one.fresh_g, one.weighed_g, one.dry_g) == pytest.approx((450.0, 550.0, 300.0))
    assert (two.fresh_g, two.weighed_g, two.dry_g) == pytest.approx((190.0, 90.0, 100.0))
    assert one.flushes[0].efficiency_pct == pytest.approx(two.flushes[0].efficiency_pct or 0.0)
    assert (two.started, two.days, two.line) == (on(0), 44.0, 1)


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 9), st.booleans()), max_size=12))
def test_no_gram_is_lost_however_it_is_split(moves: list[tuple[int, int, bool]]) -> None:
    batches = {1: batch(1, count=16, dry_g=1600.0)}
    splits: dict[int, datetime] = {}
    for day, (pick, size, divides) in enumerate(moves, 1):
        chosen = batches[1 + pick % len(batches)]
        if divides and chosen.count > 1:
            taken = 1 + size % (chosen.count - 1)
            number = len(batches) + 1
            dry = 100.0 * taken
            batches[number] = batch(number, count=taken, dry_g=dry, split_from=chosen.id)
            splits[number] = on(day)
            batches[chosen.id] = replace(chosen, count=chosen.count - taken)
        else:
            harvest = Harvest(0, on(day + 0.5), 1, 10.0 * size)
            batches[chosen.id] = replace(chosen, harvests=(*chosen.harvests, harvest))
    made = grown(*batches.values(), splits=splits)
    weighed = sum(h.weight_g for b in batches.values() for h in b.harvests)
    assert sum(crop.fresh_g for crop in made) == pytest.approx(weighed)
    assert sum(crop.dry_g or 0.0 for crop in made) == pytest.approx(1600.0)
    assert all(crop.line == 1 for crop in made)


def test_a_part_whose_split_is_not_told_gets_nothing_of_before() -> None:
    whole = replace(batch(1, (1, 20, 400.0), count=4), count=3)
    one, two = grown(whole, batch(2, split_from=1))
    assert (one.fresh_g, two.fresh_g) == (400.0, 0.0)


def test_when_parts_were_taken_out() -> None:
    told = [begin(count=4), tell(K.SPLIT, 5, count=1, other=15), tell(K.NOTED, 6)]
    assert split_times(told) == {15: on(5)}


def test_a_line_goes_up_to_the_kit_through_spawn_and_splits() -> None:
    kit = batch(1)
    child = batch(2, parent=1, day=30)
    part = batch(3, split_from=2, day=60)
    stranger = batch(4, split_from=99)
    assert [crop.line for crop in grown(kit, child, part, stranger)] == [1, 1, 1, 4]


def test_a_batch_taken_out_of_itself_ends_somewhere() -> None:
    one, two = batch(1, (1, 5, 100.0), split_from=2, count=2), batch(2, split_from=1, day=9)
    assert len(grown(one, two)) == 2


@pytest.mark.parametrize(
    ("told", "where"),
    [
        pytest.param((), "tent", id="never moved"),
        pytest.param((tell(K.MOVED, 2, chamber="tent", shelf="top"),), "tent, top", id="moved"),
        pytest.param(
            (
                tell(K.MOVED, 2, chamber="tent", shelf="top"),
                tell(K.HARVESTED, 20, weight_g=100.0),
                tell(K.MOVED, 30, chamber="cellar"),
            ),
            "tent, top",
            id="picked before it was moved on",
        ),
        pytest.param(
            (tell(K.MOVED, 2), tell(K.HARVESTED, 20, weight_g=100.0)), "", id="picked outdoors"
        ),
    ],
)
def test_where_it_fruited(told: tuple[Entry, ...], where: str) -> None:
    assert fruited_on(numbered(begin(), *told)) == where


# ------------------------------------------------------------------ put together


def test_rows_take_finished_ones_and_count_the_lost() -> None:
    made = grown(
        batch(1, (1, 20, 60.0), dry_g=100.0, substrate="Oak  sawdust"),
        batch(2, (1, 20, 70.0), dry_g=100.0, substrate="oak sawdust "),
        batch(3, (1, 40, 160.0), dry_g=200.0, substrate="oak sawdust"),
        batch(4, dry_g=100.0, stage=S.CONTAMINATED),
        batch(5, (1, 20, 500.0), stage=S.SPENT),
        batch(6, (1, 20, 90.0), dry_g=100.0, stage=S.RESTING),
        shelves={1: "tent, top", 4: ""},
    )
    (row,) = rows(made, By.SPECIES)
    assert (row.key, row.count, row.lost, row.lost_pct) == ("plain", 5, 1, 20.0)
    assert (row.fresh_g, row.dry_g) == pytest.approx((790.0, 500.0))
    assert row.together_pct == pytest.approx(58.0)
    spread = row.efficiency_pct
    assert spread is not None
    assert spread.count == 4
    assert (spread.least, spread.most) == pytest.approx((0.0, 80.0))
    assert spread.mean == pytest.approx(52.5)
    oak = rows(made, By.SUBSTRATE)[0]
    # 60, 70 and 80 %: mean 70, deviation 10, standard error 10 / sqrt(3).
    assert (oak.key, oak.count, oak.species) == ("oak sawdust", 3, ("plain",))
    assert oak.efficiency_pct is not None
    assert oak.efficiency_pct.standard_error == pytest.approx(5.7735, abs=1e-4)
    assert oak.per_day_pct is not None
    assert oak.per_day_pct.most == pytest.approx(3.5)
    assert [row.key for row in rows(made, By.SUBSTRATE)] == ["oak sawdust", "not said"]
    shelves = [row.key for row in rows(made, By.SHELF)]
    assert shelves == ["tent", "in no chamber", "tent, top"]
    assert [row.count for row in rows(made, By.LINE)] == [1] * 5


@pytest.mark.parametrize("count", [1, 2, 3])
def test_two_have_no_standard_error(count: int) -> None:
    made = grown(*(batch(n + 1, (1, 20, 50.0 + n), dry_g=100.0) for n in range(count)))
    spread = rows(made, By.SPECIES)[0].efficiency_pct
    assert spread is not None
    assert (spread.standard_error is None) == (count < 3)


def test_a_row_without_any_dry_weight_has_no_efficiency() -> None:
    (row,) = rows(grown(batch(1, (1, 20, 50.0))), By.SPECIES)
    assert (row.efficiency_pct, row.per_day_pct, row.together_pct) == (None, None, None)
    assert rows(grown(batch(1, stage=S.FRUITING)), By.SPECIES) == ()
