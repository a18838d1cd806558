"""Wet, dry, and what nobody could tell."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.watch.wetness import CLEAR_K, DRY, Wet, due, step
from tests.make import NOON, at

SIX_HOURS = timedelta(hours=6)
Looks = list[tuple[float, float | None]]


def after(looks: Looks, wet: Wet = DRY) -> Wet:
    """Return the state after looks of (minute, margin)."""
    for minute, margin_k in looks:
        wet = step(wet, margin_k, at(minute))
    return wet


def minutes(value: float) -> timedelta:
    return timedelta(minutes=value)


@pytest.mark.parametrize(
    ("looks", "wanted"),
    [
        pytest.param([(0, 1.0), (1, 0.01)], DRY, id="never wet"),
        pytest.param([(0, None)], DRY, id="nothing known, nothing wet"),
        pytest.param([(0, 0.0)], Wet(at(0), None, at(0)), id="wet begins at exactly 0"),
        pytest.param(
            [(0, -0.2), (5, 0.1), (20, CLEAR_K)],
            Wet(at(0), None, at(20), minutes(20)),
            id="a margin that is not clear of 0 leaves it wet",
        ),
        pytest.param(
            [(0, -0.2), (5, 0.31), (14, 0.4)],
            Wet(at(0), at(5), at(14), minutes(14)),
            id="drying, not dry yet",
        ),
        pytest.param([(0, -0.2), (5, 0.31), (10, 0.5), (15, 0.4)], DRY, id="dry"),
        pytest.param(
            [(0, -0.2), (5, 0.4), (12, 0.3), (13, 0.4), (22, 0.4)],
            Wet(at(0), at(13), at(22), minutes(22)),
            id="drying that was broken off begins anew",
        ),
        pytest.param(
            [(0, -0.2), (10, None), (30, -0.1)],
            Wet(at(0), None, at(30), minutes(30)),
            id="a short gap is wet like what lies before it",
        ),
        pytest.param(
            [(0, -0.2), (20, -0.2), (40, None), (51, -0.1), (61, -0.1)],
            Wet(at(0), None, at(61), minutes(30)),
            id="a long gap is left out",
        ),
        pytest.param(
            [(0, -0.2), (5, 0.5), (40, 0.5), (49, 0.5)],
            Wet(at(0), at(40), at(49), minutes(14)),
            id="a long gap dries nothing",
        ),
        pytest.param([(0, -0.2), (5, 0.5), (40, 0.5), (50, 0.5)], DRY, id="dry after the gap"),
        pytest.param([(0, -0.2), (721, None)], DRY, id="forgotten after half a day"),
        pytest.param(
            [(0, -0.2), (720, None)], Wet(at(0), None, at(0)), id="not forgotten at half a day"
        ),
        pytest.param(
            [(0, -0.2), (721, -0.2)], Wet(at(721), None, at(721)), id="wet anew after half a day"
        ),
        pytest.param(
            [(0, -0.2), (20, -0.2), (-40, -0.2), (-30, -0.2)],
            Wet(at(0), None, at(-30), minutes(30)),
            id="a clock set back measures nothing",
        ),
    ],
)
def test_looks(looks: Looks, wanted: Wet) -> None:
    assert after(looks) == wanted


@pytest.mark.parametrize(
    ("wet", "minute", "wanted"),
    [
        pytest.param(DRY, 1000, False, id="dry"),
        pytest.param(Wet(at(0), None, at(350), minutes(350)), 359, False, id="not yet"),
        pytest.param(Wet(at(0), None, at(350), minutes(350)), 360, True, id="since the last look"),
        pytest.param(
            Wet(at(0), None, at(350), minutes(350)), 381, False, id="a long gap counts nothing"
        ),
        pytest.param(
            Wet(at(0), None, at(360), SIX_HOURS), 500, True, id="a gap takes nothing back"
        ),
        pytest.param(Wet(at(0), None, at(360), SIX_HOURS), 300, True, id="a clock set back"),
        pytest.param(Wet(at(0), at(355), at(360), SIX_HOURS), 360, True, id="drying is still wet"),
    ],
)
def test_due(wet: Wet, minute: float, wanted: bool) -> None:
    assert due(wet, at(minute), SIX_HOURS) is wanted


def test_due_after_six_hours_looked_at_every_round() -> None:
    looks: Looks = [(third / 3.0, -0.4) for third in range(6 * 60 * 3 + 1)]
    wet = DRY
    first = None
    for minute, margin_k in looks:
        wet = step(wet, margin_k, at(minute))
        if first is None and due(wet, at(minute), SIX_HOURS):
            first = minute
    # Microseconds are what times are kept in.
    assert first == pytest.approx(360.0, abs=1e-3)


STEPS = st.lists(
    st.tuples(st.floats(0.0, 900.0), st.none() | st.floats(-5.0, 5.0)), min_size=1, max_size=40
)


@given(STEPS)
def test_what_is_counted_never_exceeds_what_has_passed(steps: Looks) -> None:
    wet, now = DRY, NOON
    for forward, margin_k in steps:
        now += minutes(forward)
        wet = step(wet, margin_k, now)
        assert (wet.since is None) == (wet.seen is None)
        if wet.since is None:
            assert wet == DRY
        else:
            assert timedelta(0) <= wet.lasted <= now - wet.since
        if margin_k is not None and margin_k <= 0.0:
            assert wet.since is not None
