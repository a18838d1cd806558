"""How long, how many, how much, and who can share air; published figures where there are any."""

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.own_times import OwnTimes, Span
from chamberwatch.core.growing.rotation.air import meets, share_air
from chamberwatch.core.growing.rotation.plan import Slots, Timing, Wanted
from chamberwatch.core.growing.rotation.takes import (
    batch_kg,
    flush_shares,
    lacking,
    slots,
    slots_for,
    starts_per_week,
    timing,
    whole_slots,
)
from chamberwatch.core.growing.species import Species
from tests.core.growing.rotation.rotations import (
    COOL,
    STALE,
    WARM,
    Pair,
    quick,
    said,
    species,
    wants,
)


@pytest.mark.parametrize(
    ("per_week", "days", "taken", "places"),
    [
        # Pins 4 d, growth 6 d, two rests 10 d, two more flushes 12 d: 32 d.
        pytest.param(1.0, 4 + 6 + 10 + 12, 4.571, 5, id="oyster, one a week"),
        pytest.param(1.0, 14.0, 2.0, 2, id="a store, two weeks"),
        # Jung & Son 2021, Sustainability 13:5434: 3 bottles every 4 days stay 16 days.
        pytest.param(3 * 7 / 4, 16.0, 12.0, 12, id="king oyster, 3 bottles every 4 days"),
        pytest.param(12 * 7 / 16, 16.0, 12.0, 12, id="king oyster, 12 bottles every 16 days"),
        pytest.param(0.0, 32.0, 0.0, 0, id="nothing started"),
    ],
)
def test_slots_by_littles_law(per_week: float, days: float, taken: float, places: int) -> None:
    assert slots(per_week, days) == pytest.approx(taken, abs=1e-3)
    assert whole_slots(slots(per_week, days)) == places


def test_slots_of_a_range_go_by_the_mean_stay() -> None:
    found = slots_for((1.0, 2.0), quick((12.0, 16.0), (28.0, 42.0)))
    assert found == Slots(store=(2.0, 4.0), fruiting=(5.0, 10.0))


def test_a_block_brings_its_efficiency_on_dry_substrate() -> None:
    # 2.27 kg at 62 % moisture is 0.863 kg dry; 0.60 kg of it is an efficiency of 70 %.
    dry_g = 2270.0 * (1.0 - 0.62)
    low, high = batch_kg(species("Block", None, efficiency=(70.0, 100.0)), dry_g)
    assert low == pytest.approx(0.60, abs=0.005)
    assert high == pytest.approx(0.863, abs=0.0005)


def test_starts_a_week_span_good_batches_and_poor_ones() -> None:
    # 0.5 kg dry at 50 to 100 % brings 0.25 to 0.5 kg.
    kind = species("Even", None, efficiency=(50.0, 100.0))
    assert starts_per_week(Wanted(kind.name, (0.5, 1.0), 500.0), kind) == (1.0, 4.0)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_flushes_share_all_of_a_crop_and_get_smaller(count: int) -> None:
    shares = flush_shares(count)
    assert sum(shares) == pytest.approx(1.0)
    assert list(shares) == sorted(set(shares), reverse=True)


def test_three_flushes_share_as_growers_say() -> None:
    first, second, third = flush_shares(3)
    assert 0.50 <= first <= 0.60
    assert 0.25 <= second <= 0.30
    assert 0.10 <= third <= 0.20


# ------------------------------------------------------------------ how long

LIFE = {
    Stage.COLONISATION: (12.0, 20.0),
    Stage.CASE_RUN: (8.0, 12.0),
    Stage.PINNING: (3.0, 5.0),
    Stage.FRUITING: (4.0, 7.0),
    Stage.ANTLER: (14.0, 28.0),
    Stage.CONK: (50.0, 70.0),
}


def living(
    *stages: Stage,
    flushes: Pair | None = (3.0, 4.0),
    between: Pair | None = (7.0, 14.0),
    unknown: Stage | None = None,
) -> Species:
    return Species(
        "kind",
        "Kind",
        "",
        {s: wants(s, None if s is unknown else LIFE[s], None) for s in stages},
        flushes=said(flushes),
        days_between=said(between),
        efficiency_pct=said((50.0, 100.0)),
    )


C, P, F = Stage.COLONISATION, Stage.PINNING, Stage.FRUITING


@pytest.mark.parametrize(
    ("kind", "days"),
    [
        pytest.param(living(C, P, F), [(7, 12), (14, 26), (21, 40)], id="three at least"),
        pytest.param(living(C, P, F, flushes=None), [(7, 12)], id="nobody says how many"),
        pytest.param(living(C, P, F, flushes=(0.5, 1.0)), [(7, 12)], id="less than one"),
        pytest.param(living(C, F, flushes=(1.0, 1.0), between=None), [(4, 7)], id="one flush"),
        pytest.param(
            living(C, Stage.CASE_RUN, P, F, flushes=(1.0, 1.0)),
            [(7, 12)],
            id="pins are counted from casing",
        ),
        pytest.param(
            living(C, Stage.ANTLER, Stage.CONK, flushes=(1.0, 2.0)), [(64, 98)], id="antlers, caps"
        ),
    ],
)
def test_flushes_are_counted_from_opening(kind: Species, days: list[tuple[int, int]]) -> None:
    found = timing(kind)
    assert found is not None
    assert [(flush.low, flush.high) for flush in found.flushes] == days
    assert found.colonise_days == LIFE[C]
    assert found.stay_days == days[-1]


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        pytest.param(living(P, F), "the days of colonisation", id="no colonisation"),
        pytest.param(living(C), "the days of colonisation", id="never bears"),
        pytest.param(living(C, Stage.ANTLER), "the days of colonisation", id="no caps"),
        pytest.param(living(C, P, F, unknown=P), "the days of colonisation", id="pins some day"),
        pytest.param(living(C, P, F, between=None), "days_between", id="rests for ever"),
    ],
)
def test_without_days_there_is_no_timing(kind: Species, says: str) -> None:
    assert timing(kind) is None
    assert says in lacking(kind)
    assert "efficiency_pct" not in lacking(kind)


@pytest.mark.parametrize("efficiency", [None, (0.0, 50.0), (50.0, None)], ids=str)
def test_without_an_efficiency_nothing_can_be_planned(efficiency: Pair | None) -> None:
    kind = species("Grey oyster", None, efficiency=efficiency)
    assert batch_kg(kind, 350.0) == (0.0, 0.0)
    assert lacking(kind) == (
        "No rotation can be planned for Grey oyster: its figures lack efficiency_pct, low and "
        "high, more than nothing. Add them in your own species file."
    )


def test_nothing_lacks() -> None:
    assert lacking(COOL) == ""


def test_own_batches_narrow_the_timing() -> None:
    kind = living(C, P, F)
    own = OwnTimes({("kind", Span.COLONISING, False): (20.0,) * 12})
    found, stated = timing(kind, own), timing(kind)
    assert isinstance(found, Timing)
    assert stated is not None
    assert found.colonise_days[0] > stated.colonise_days[0] + 2.0
    assert found.flushes == stated.flushes


# ------------------------------------------------------------------ who can share air

# Fruiting temperatures: Stamets, Growing Gourmet and Medicinal Mushrooms, 3rd ed. (2000), ch. 21;
# button: Stamets & Chilton (1983), p. 161; the cooler lion's mane: trade notes.
FRUITS_C: dict[str, tuple[float, float]] = {
    "ostreatus": (10, 21),
    "eryngii": (15, 21),
    "pioppino": (13, 18),
    "nameko": (13, 18),
    "wine cap": (16, 21),
    "button": (16, 18),
    "lion's mane": (18, 24),
    "cool lion's mane": (16, 20),
    "djamor": (20, 30),
    "citrinopileatus": (21, 29),
    "reishi": (21, 27),
    "enoki": (10, 16),
}
KINDS = {name: species(name, warm) for name, warm in FRUITS_C.items()}
COOL_ONES = ("ostreatus", "eryngii", "pioppino", "nameko", "wine cap", "button")


@pytest.mark.parametrize(
    ("names", "common"),
    [
        pytest.param(COOL_ONES, (16, 18), id="the cool ones"),
        pytest.param((*COOL_ONES, "cool lion's mane"), (16, 18), id="with a cool lion's mane"),
        pytest.param((*COOL_ONES, "lion's mane"), (18, 18), id="a warm lion's mane: one degree"),
        pytest.param(("djamor", "citrinopileatus", "reishi"), (21, 27), id="the warm ones"),
        pytest.param(("ostreatus", "reishi"), (21, 21), id="they just touch"),
        pytest.param(("nameko", "reishi"), None, id="cool and warm"),
        pytest.param(("enoki", "lion's mane"), None, id="cold and warm"),
        pytest.param(("ostreatus",), (10, 21), id="alone"),
    ],
)
def test_where_species_meet(names: tuple[str, ...], common: tuple[float, float] | None) -> None:
    assert meets(*(KINDS[name] for name in names)) == common


@pytest.mark.parametrize(
    ("kinds", "can"),
    [
        pytest.param((COOL, KINDS["eryngii"]), True, id="same air"),
        pytest.param((COOL, WARM), False, id="cool and warm"),
        pytest.param((COOL, STALE), False, id="enoki wants it stale"),
        pytest.param((STALE, COOL), False, id="the other way round"),
        pytest.param((STALE,), True, id="enoki alone"),
        pytest.param((COOL, species("Any", None, None)), True, id="nothing known"),
        pytest.param((COOL, Species("lost", "Lost", "", {})), True, id="no figures at all"),
    ],
)
def test_who_can_share_air(kinds: tuple[Species, ...], can: bool) -> None:
    assert share_air(*kinds) is can


def test_caps_of_reishi_count_as_fruit() -> None:
    caps = Species("reishi", "Reishi", "", {Stage.CONK: wants(Stage.CONK, None, (21.0, 27.0))})
    assert meets(caps, KINDS["djamor"]) == (21.0, 27.0)
