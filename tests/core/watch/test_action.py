"""How much water one misting can have been."""

import pytest

from chamberwatch.core.watch.action import most_into_air_g, too_much_words


@pytest.mark.parametrize(
    ("volume_l", "most_g"),
    [pytest.param(None, 500.0, id="not known"), pytest.param(500.0, 1000.0, id="a tent")],
)
def test_more_than_this_is_a_slip_of_the_pen(volume_l: float | None, most_g: float) -> None:
    assert most_into_air_g(volume_l) == most_g


def test_what_was_meant_is_asked_in_grams() -> None:
    assert "give grams, one squeeze is about 1.2 g" in too_much_words(1.2)
