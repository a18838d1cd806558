"""What an axis shows, and its round numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.watch.axis import MANY, around, round_numbers


@pytest.mark.parametrize(
    ("seen", "bounds", "shown"),
    [
        pytest.param([80.0, 95.0], (None, None), (78.8, 96.2), id="a margin at either end"),
        pytest.param([50.0], (0.0, 100.0), (44.0, 56.0), id="next to nothing changes"),
        pytest.param([2.0, 60.0], (0.0, 100.0), (0.0, 64.64), id="nothing is less than nothing"),
        pytest.param([99.0, 101.0], (0.0, 100.0), (93.84, 101.0), id="said beyond the ceiling"),
        pytest.param([-1.0, 30.0], (0.0, 100.0), (-1.0, 32.48), id="said below the floor"),
    ],
)
def test_what_is_shown(
    seen: list[float], bounds: tuple[float | None, float | None], shown: tuple[float, float]
) -> None:
    assert around(seen, 12.0, *bounds) == pytest.approx(shown)


@pytest.mark.parametrize(
    ("low", "high", "numbers"),
    [
        pytest.param(68.0, 97.0, [70.0, 80.0, 90.0], id="tens"),
        pytest.param(11.2, 20.3, [12.5, 15.0, 17.5, 20.0], id="halves of fives"),
        pytest.param(0.02, 0.61, [0.2, 0.4, 0.6], id="tenths"),
        pytest.param(0.0, 0.1, [0.0, 0.05, 0.1], id="hundredths"),
        pytest.param(-4.0, 4.0, [-2.5, 0.0, 2.5], id="below nothing"),
    ],
)
def test_round_numbers(low: float, high: float, numbers: list[float]) -> None:
    assert round_numbers(low, high) == pytest.approx(numbers)


@given(low=st.floats(-2000.0, 2000.0), spread=st.floats(0.1, 5000.0))
def test_there_are_always_some_and_never_many(low: float, spread: float) -> None:
    found = round_numbers(low, low + spread)
    assert 1 <= len(found) <= MANY
    dust = 1e-6 * (abs(low) + spread)
    assert all(low - dust <= each <= low + spread + dust for each in found)
