"""What samples come to: counted against the band that held, derived pair by pair."""

import pytest
from CoolProp.HumidAirProp import HAPropsSI

from chamberwatch.core.air.derived import DERIVED, derive
from chamberwatch.core.review.covering import Piece, cover, level_for, without
from chamberwatch.core.review.reckoning import (
    Counted,
    Held,
    Samples,
    Tally,
    counted,
    paired,
    tally,
    together,
    with_derived,
)
from chamberwatch.core.review.summary import Columns, Summary
from tests.make import NOON

S = 1_000_000
MINUTE = 60 * S
LINE = ("top", "humidity_pct")


def samples(*said: tuple[float, float]) -> Samples:
    return Samples([round(at * S) for at, _ in said], [value for _, value in said])


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        pytest.param(None, None, (0, 0, 0), id="no band"),
        pytest.param(85.0, 95.0, (2, 1, 1), id="both limits"),
        pytest.param(85.0, None, (3, 1, 0), id="a low one"),
        pytest.param(None, 95.0, (3, 0, 1), id="a high one"),
        pytest.param(80.0, 96.0, (4, 0, 0), id="the limits lie within"),
    ],
)
def test_samples_are_counted_against_a_band(
    low: float | None, high: float | None, expected: tuple[int, int, int]
) -> None:
    found = tally([80.0, 85.0, 95.0, 96.0], low, high)
    assert found == Tally(4, 80.0, 356.0, 96.0, *expected)


def test_tallies_add_up() -> None:
    one, other = tally([80.0, 96.0], 85.0, 95.0), tally([90.0], 85.0, 95.0)
    assert together([one, other]) == Tally(3, 80.0, 266.0, 96.0, 1, 1, 1)


def test_stretches_begin_at_whole_steps_and_empty_ones_are_left_out() -> None:
    said = {LINE: samples((-1, 70.0), (0, 80.0), (59.9, 82.0), (180, 90.0), (240, 99.0))}
    found = list(counted(said, {}, 0, 240 * S, MINUTE))
    assert [(each.start_us // S, each.tally.number) for each in found] == [(0, 2), (180, 1)]


@pytest.mark.parametrize(
    ("held", "expected"),
    [
        pytest.param((Held(0, 85.0, None),), (1, 2, 0), id="one band"),
        pytest.param((Held(10 * S, 85.0, None),), (1, 1, 0), id="none before"),
        pytest.param((Held(0, 85.0, None), Held(20 * S, 95.0, None)), (0, 3, 0), id="a change"),
        pytest.param(
            (Held(0, 85.0, None), Held(15 * S, 5.0, None), Held(16 * S, None, None)),
            (0, 2, 0),
            id="one that held for no sample, then none",
        ),
        pytest.param((Held(90 * S, 85.0, None),), (0, 0, 0), id="later"),
    ],
)
def test_each_sample_is_held_against_the_band_of_its_time(
    held: tuple[Held, ...], expected: tuple[int, int, int]
) -> None:
    said = {LINE: samples((0, 80.0), (10, 81.0), (20, 90.0))}
    (found,) = counted(said, {LINE: held}, 0, MINUTE, MINUTE)
    assert found.tally[4:] == expected
    assert found == Counted(0, *LINE, found.tally)


@pytest.mark.parametrize(
    ("humid", "expected"),
    [
        pytest.param(samples((0, 1.0), (60, 2.0)), [1.0, 2.0], id="in one message"),
        pytest.param(samples((-60, 1.0), (119, 2.0)), [1.0, 2.0], id="a minute apart"),
        pytest.param(samples((-61, 1.0), (121, 2.0)), [], id="further apart"),
        pytest.param(samples((-5, 1.0), (5, 2.0), (61, 3.0)), [2.0, 3.0], id="as near: the later"),
        pytest.param(samples(), [], id="none"),
    ],
)
def test_a_temperature_goes_with_the_humidity_nearest_to_it(
    humid: Samples, expected: list[float]
) -> None:
    warm = samples((0, 18.0), (60, 18.0))
    assert [humidity for _, _, humidity in paired(warm, humid)] == expected


def test_what_is_derived_stands_beside_what_was_measured() -> None:
    said = {
        ("top", "temperature_c"): samples((0, 18.0), (5, 84.9)),
        ("top", "humidity_pct"): samples((0, 90.0), (5, 99.0)),
        ("low", "temperature_c"): samples((0, 18.0)),
        ("wall", "co2_ppm"): samples((0, 600.0)),
    }
    # At 40 kPa water boils below 84.9 °C: such air has a dew point by its table, but no wet bulb.
    made = with_derived(said, ("wet_bulb_c", "humidity_pct"), 40_000.0)
    assert set(made) == {*said, ("top", "wet_bulb_c")}
    assert made["top", "wet_bulb_c"].at_us == [0]
    assert made["top", "wet_bulb_c"].values == [DERIVED["wet_bulb_c"].of(18.0, 90.0, 40_000.0)]
    assert with_derived(said, ("humidity_pct",), 40_000.0) == said


@pytest.mark.parametrize(("warm_c", "humidity_pct"), [(18.0, 90.0), (24.0, 55.0), (9.5, 97.0)])
def test_what_is_derived_is_what_others_reckon(warm_c: float, humidity_pct: float) -> None:
    """Held against CoolProp's HAPropsSI, which has real gases: half a per cent apart at most."""
    given = ("T", warm_c + 273.15, "R", humidity_pct / 100.0, "P", 101_325.0)

    def theirs(name: str) -> float:
        return float(HAPropsSI(name, *given))

    def ours(name: str) -> float | None:
        return derive(name, warm_c, humidity_pct, 101_325.0)

    assert ours("dew_point_c") == pytest.approx(theirs("D") - 273.15, abs=0.02)
    assert ours("wet_bulb_c") == pytest.approx(theirs("B") - 273.15, abs=0.05)
    assert ours("humidity_ratio_g_per_kg") == pytest.approx(1000.0 * theirs("W"), rel=0.006)
    missing_kpa = theirs("P_w") * (100.0 / humidity_pct - 1.0) / 1000.0
    assert ours("vpd_kpa") == pytest.approx(missing_kpa, rel=0.006)


# ---------------------------------------------------------------- which summaries answer


@pytest.mark.parametrize(
    ("step_s", "expected"),
    [
        pytest.param(60, 60, id="a minute"),
        pytest.param(300, 60, id="five"),
        pytest.param(1800, 900, id="half an hour"),
        pytest.param(10_800, 3600, id="three hours"),
        pytest.param(604_800, 86_400, id="a week"),
        pytest.param(90, None, id="no whole minutes"),
        pytest.param(0, None, id="nothing"),
    ],
)
def test_the_longest_level_that_fits(step_s: int, expected: int | None) -> None:
    assert level_for(step_s) == expected


def test_a_stretch_is_covered_by_the_longest_first() -> None:
    day = 86_400
    found = list(cover(day - 3600 - 900 - 60, 2 * day + 3600, day))
    assert found == [
        Piece(60, day - 4560, day - 4500),
        Piece(900, day - 4500, day - 3600),
        Piece(3600, day - 3600, day),
        Piece(day, day, 2 * day),
        Piece(3600, 2 * day, 2 * day + 3600),
    ]
    assert list(cover(60, 60, day)) == []
    assert list(cover(120, 240, day)) == [Piece(60, 120, 240)]


@pytest.mark.parametrize(
    ("holes", "expected"),
    [
        pytest.param([], [(100, 5000)], id="none"),
        pytest.param([900], [(100, 900), (1800, 5000)], id="one"),
        pytest.param([0, 900], [(1800, 5000)], id="at the start"),
        pytest.param([900, 1800, 4500], [(100, 900), (2700, 4500)], id="neighbours, and the end"),
    ],
)
def test_what_is_left_beside_holes(holes: list[int], expected: list[tuple[int, int]]) -> None:
    assert list(without(100, 5000, holes)) == expected


def test_columns_and_summaries() -> None:
    assert Columns().mean == []
    assert Columns((0, 60), number=(2, 1), total=(3.0, 3.0)).mean == [1.5, 3.0]
    assert Summary(NOON, 5, 1.0, 2.0, 3.0, 1, 2, 1).judged == 4
