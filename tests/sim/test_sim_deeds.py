"""What a person did on the page is done to the simulated tent, as much as was said."""

from datetime import UTC, datetime, timedelta

import pytest

from chamberwatch.cli.showing import ONE_MISTING_G, ONE_VENT_MIN, _do
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.sim.show import TentShow

START = datetime(2026, 1, 12, 14, tzinfo=UTC)


def deed(kind: Deed, amount: float | None, standing_g: float | None = None) -> Action:
    return Action(1, "tent", kind, START, "", START, "page", amount, standing_g)


@pytest.mark.parametrize(
    ("amount", "standing_g", "film_g"),
    [
        pytest.param(None, None, ONE_MISTING_G - 2.0 * 0.3, id="a misting as usual"),
        pytest.param(2.0, 15.0, 2.0 * 0.7 + 15.0, id="both said"),
        pytest.param(2.5, None, 2.5 * 0.7, id="sprayed"),
        pytest.param(None, 9.0, 9.0, id="poured"),
    ],
)
def test_misting(amount: float | None, standing_g: float | None, film_g: float) -> None:
    show = TentShow(1, START)
    before = show.state.film_g
    _do(show, deed(Deed.MISTED, amount, standing_g))
    assert show.state.film_g == pytest.approx(before + film_g)


@pytest.mark.parametrize("minutes", [None, 1.0, 9.0])
def test_venting(minutes: float | None) -> None:
    said, meant = TentShow(1, START), TentShow(1, START)
    _do(said, deed(Deed.VENTED, minutes))
    meant.vent(ONE_VENT_MIN if minutes is None else minutes)
    until = START + timedelta(minutes=12)
    assert said.advance_to(until) == meant.advance_to(until)


def test_other_deeds_leave_the_air_alone() -> None:
    show = TentShow(1, START)
    before = show.state
    _do(show, deed(Deed.HARVESTED, None))
    assert show.state == before
