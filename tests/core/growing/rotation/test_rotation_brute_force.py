"""Small plans against all there are: every set of starts on a grid of days, tried shelf by shelf.

The grid, the room and the loss are made from the question alone (`every_plan`). The search tries
every day for a start, and moves openings by single days in the end, so on a coarse grid it may be
better than the best there, never worse; on the grid of every day and every opening it has to be
as good.
"""

import random
from dataclasses import replace

import pytest

from chamberwatch.core.growing.rotation.goal import kind_of
from chamberwatch.core.growing.rotation.improve import WORK
from chamberwatch.core.growing.rotation.plan import Space
from chamberwatch.core.growing.rotation.solve import Ask, Solved, solved
from chamberwatch.core.growing.rotation.takes import batch_kg
from tests.core.growing.rotation.every_plan import EVERY_DAY, EveryPlan, Made, Question
from tests.core.growing.rotation.rotations import (
    COOL,
    SHY,
    STALE,
    TABLE,
    TODAY,
    WARM,
    quick,
    under_way,
    wish,
)

TENT = Space("tent", ("top",))
TWO = Space("tent", ("top", "low"))
THREE = Space("tent", ("top", "middle", "low"))
STORE = Space("store", ("floor",), takes_open=False)
CUPBOARD = Space("cupboard", ("one",))

SLOW = quick((7.0, 10.0), (9.0, 12.0))
TWICE = quick(stay=(14.0, 14.0), flushes=((4.0, 6.0, 0.7), (11.0, 14.0, 0.3)))
FEW = (0, 2, 5, 7, 10, 14)


def searched(question: Question) -> Solved:
    kinds = tuple(
        kind_of(wanted, batch_kg(TABLE.get(wanted.species), wanted.batch_dry_g), time)
        for wanted, time in question.wishes
    )
    asked = Ask(
        kinds, tuple(question.spaces), tuple(question.standing), TABLE, TODAY, question.weeks
    )
    return solved(asked, WORK)


def weighed(question: Question, found: Solved) -> float:
    """Return the loss of what was found, by the words of the goal; it has to have room."""
    stays = (Made(s.kind, s.on, s.opens, s.until, s.end, s.store, s.bed) for s in found.planned)
    return EveryPlan(question).loss_of(tuple(stays))


@pytest.mark.parametrize(
    "question",
    [
        pytest.param(Question([(wish(COOL, 0.5), quick())], [TENT], 4), id="too much"),
        pytest.param(Question([(wish(COOL, 0.2), quick())], [TENT], 3), id="little"),
        pytest.param(Question([(wish(COOL, 0.2, 0.4), quick())], [TENT], 3), id="a range"),
        pytest.param(Question([(wish(COOL, 0.3), SLOW)], [TENT], 4), id="wide windows"),
        pytest.param(Question([(wish(COOL, 0.25), TWICE)], [TENT], 4), id="two flushes"),
        pytest.param(
            Question([(wish(COOL, 0.5), quick())], [TENT], 4, [under_way(1, leaves=12.0)]),
            id="one under way",
        ),
    ],
)
def test_on_one_shelf_no_plan_at_all_is_better(question: Question) -> None:
    """Every day for a start, every day for its opening."""
    every = EveryPlan(replace(question, every=1, waits=EVERY_DAY))
    assert weighed(question, searched(question)) == pytest.approx(every.least(), abs=1e-9)
    assert every.tried > 100


@pytest.mark.parametrize(
    "question",
    [
        pytest.param(
            Question([(wish(COOL, 0.3), quick())], [TWO], 2, every=1, waits=(0, 7, 14)),
            id="two shelves, every day",
        ),
        pytest.param(
            Question([(wish(COOL, 0.5), quick())], [TWO], 3, every=2, waits=(0, 7, 14)),
            id="two shelves, every other day",
        ),
        pytest.param(
            Question([(wish(COOL, 0.3), TWICE)], [TWO], 4, waits=EVERY_DAY),
            id="two shelves, two flushes",
        ),
        pytest.param(
            Question([(wish(COOL, 0.3), quick())], [THREE], 3, waits=EVERY_DAY), id="three shelves"
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.6), quick())],
                [replace(THREE, open_at_most=1)],
                3,
                waits=EVERY_DAY,
            ),
            id="three shelves, one open",
        ),
        pytest.param(
            Question([(wish(COOL, 0.5), quick())], [TENT, STORE], 4, waits=FEW),
            id="a shelf and a store",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.5), quick())],
                [replace(TENT, open_at_most=1), STORE],
                5,
                waits=(0, 2, 4, 7, 9, 11, 14),
            ),
            id="a store, one open",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.3), quick()), (wish(SHY, 0.3), quick())], [TENT], 4, waits=EVERY_DAY
            ),
            id="two that share, one shelf",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.3), quick()), (wish(SHY, 0.2), TWICE)], [TENT], 5, waits=EVERY_DAY
            ),
            id="a quick and a slow one",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.4), quick()), (wish(WARM, 0.4), quick())], [TWO], 3, waits=FEW
            ),
            id="two that can't share, two shelves",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.4), quick()), (wish(STALE, 0.4), quick())], [TWO], 3, waits=FEW
            ),
            id="one that likes it stale",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.4), quick()), (wish(WARM, 0.4), quick())],
                [TENT, CUPBOARD],
                3,
                waits=(0, 5, 7, 14),
            ),
            id="two that can't share, two chambers",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.4), quick())],
                [TWO],
                4,
                [under_way(1, leaves=10.0, crops=((2.0, 6.0, 0.3),))],
                waits=FEW,
            ),
            id="one under way that bears",
        ),
        pytest.param(
            Question(
                [(wish(WARM, 0.4), quick())],
                [TWO],
                4,
                [under_way(1, COOL, leaves=17.0)],
                waits=EVERY_DAY,
            ),
            id="one under way in whose air nothing else can be opened",
        ),
        pytest.param(
            Question(
                [(wish(COOL, 0.9, dry_g=300.0), quick())], [replace(TENT, holds=2)], 4, waits=FEW
            ),
            id="two on a shelf",
        ),
    ],
)
def test_no_plan_on_a_grid_is_better(question: Question) -> None:
    every = EveryPlan(question)
    assert weighed(question, searched(question)) <= every.least() + 1e-9
    assert every.tried > 1


def drawn(chance: random.Random) -> Question:
    """Return a question of one species or two, on one shelf or two."""
    colonise, stay, late = chance.randint(4, 12), chance.randint(6, 16), chance.randint(0, 4)
    time = quick((colonise, colonise + late), (stay, stay + late), ((4.0, float(stay), 1.0),))
    kg, other = chance.choice((0.1, 0.2, 0.3, 0.5, 0.8)), chance.choice((None, SHY, WARM))
    wishes = [(wish(COOL, kg), time)]
    if other is not None:
        wishes.append((wish(other, kg / 2.0), quick()))
    space = chance.choice((TENT, TWO))
    return Question(wishes, [replace(space, open_at_most=chance.choice((None, 1)))], 3)


def test_of_questions_drawn_hardly_any_has_a_better_plan() -> None:
    """Drawn with a fixed seed, each the same at every run.

    No search in bounded work finds the best of every question: of hundreds drawn like these, about
    one in a hundred was missed, by a sixth at most.
    """
    chance = random.Random(5)  # noqa: S311 - invented questions, no secret
    missed = []
    for question in (drawn(chance) for _ in range(40)):
        found = searched(question)
        loss, least = weighed(question, found), EveryPlan(question).least()
        # The search weighs as the words of its goal say.
        assert found.draft.loss() == pytest.approx(loss, abs=1e-9)
        missed += [loss / least - 1.0] * (loss > least + 1e-9)
    assert len(missed) <= 1
    assert max(missed, default=0.0) <= 1.0 / 6.0


def test_the_gap_that_is_known() -> None:
    """Two that can't share air: it would take the order of three starts to be turned at once.

    The search changes two at a time, so its plan is worse by a sixth; more work would find it.
    """
    slow = quick((7.0, 9.0), (15.0, 17.0), ((4.0, 15.0, 1.0),))
    question = Question([(wish(COOL, 0.3), slow), (wish(WARM, 0.15), quick())], [TWO], 3)
    loss, least = weighed(question, searched(question)), EveryPlan(question).least()
    assert least < loss <= least * (1.0 + 1.0 / 6.0)
