"""A plan of starts, told."""

from collections.abc import Mapping
from datetime import date

import pytest

from chamberwatch.core.growing.rotation.plan import Gives, Plan, Slots, WeekExpectation
from chamberwatch.core.growing.rotation.saying import MET, plan_words
from tests.core.growing.timed import TABLE

RATE = {"grey-oyster": (0.8, 1.2)}
SLOTS = {"grey-oyster": Slots((1.886, 2.829), (3.486, 5.229))}


def plan(
    rates: Mapping[str, tuple[float, float]] = RATE,
    slots: Mapping[str, Slots] = SLOTS,
    gives: tuple[Gives, ...] = (),
    helps: tuple[str, ...] = (),
    stuck: tuple[int, ...] = (),
) -> Plan:
    weeks = tuple(WeekExpectation(date(2026, 11, day), 0.0, 0.0, {}) for day in (2, 9, 16))
    return Plan((), weeks, gives, rates, slots, not gives, helps, stuck)


def short(day: int, kg: float, species: str = "grey-oyster") -> Gives:
    why = f"{species.capitalize()}: {kg} kg too little. Wish for less."
    return Gives(date(2026, 11, day), "tent", "top", species, kg, why)


SHORT = "Less than wanted comes in"
STARTS = "Grey oyster: start 0.8 to 1.2 batches a week. They fill 2 to 3 places sealed and 4 to 6 "


LITTLE_SHIITAKE = short(2, 0.3, "shiitake")


@pytest.mark.parametrize(
    ("made", "words"),
    [
        pytest.param(plan(), (f"{STARTS}places open.", MET), id="all is met"),
        pytest.param(
            # A place more than whole by no more than rounding is no place more.
            plan({"shiitake": (1.0, 1.0)}, {"shiitake": Slots((1.0, 1.0), (2.0, 2.0 + 1e-12))}),
            (
                "Shiitake: start 1 batch a week. They fill 1 place sealed and 2 places open.",
                MET,
            ),
            id="no range",
        ),
        pytest.param(
            plan(
                gives=(short(2, 0.1), LITTLE_SHIITAKE, short(9, 0.2)),
                helps=("Wish for less.", "One more shelf."),
                stuck=(14,),
            ),
            (
                f"{STARTS}places open.",
                f"{SHORT} 2 of 3 weeks, the least in that of 9 November. {short(9, 0.2).why}",
                f"{SHORT} 1 of 3 weeks, the least in that of 2 November. {LITTLE_SHIITAKE.why}",
                "Batch 14 finds no room to be opened in time. Clear out or move another first.",
                # What was said already is not said again.
                "One more shelf.",
            ),
            id="something gives",
        ),
    ],
)
def test_a_plan_in_words(made: Plan, words: tuple[str, ...]) -> None:
    assert plan_words(made, TABLE) == words


@pytest.mark.parametrize(
    ("rate", "words"),
    [
        pytest.param((1e-6, 0.02), "start one every 50 weeks or more.", id="hardly any"),
        pytest.param((0.02, 0.15), "start one every 7 to 50 weeks.", id="few"),
        pytest.param((0.21, 0.58), "start one every 2 to 5 weeks.", id="below one"),
        pytest.param((0.7, 0.9), "start one every week.", id="nearly one"),
        pytest.param((0.996, 9.94), "start 1 to 9.9 batches a week.", id="some"),
        pytest.param((9.96, 190.4), "start 10 to 190 batches a week.", id="many"),
        pytest.param((97.0, 8600.0), "start 97 to 8600 batches a week.", id="too many"),
    ],
)
def test_a_rate_in_plain_numbers(rate: tuple[float, float], words: str) -> None:
    assert words in plan_words(plan({"grey-oyster": rate}), TABLE)[0]
