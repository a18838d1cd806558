"""Moves told again as episodes."""

from dataclasses import replace

import pytest

from chamberwatch.core.review.episode import Episode, episodes
from chamberwatch.core.watch.reminder import Event, Move, State
from tests.core.review.weeks import DRY, LOOK, MIST, SILENT, VENT, Told, mon

E = Event


def found(*happened: tuple[Event, float]) -> Episode:
    """Return the last episode of a reminder to which this happened."""
    told = Told()
    for event, minutes in happened:
        told.move(MIST, event, minutes, 30.0 if event is E.SHELVED else 0.0)
    return episodes(told.moves)[-1]


def test_an_episode_is_from_the_raise_to_the_return() -> None:
    told = Told()
    told.episode(MIST, 10, 25)
    told.episode(LOOK, 12)
    told.episode(MIST, 40)
    assert episodes(told.moves) == (
        Episode(MIST, 1, mon(10), mon(25), mon(10), evidence=DRY),
        Episode(LOOK, 1, mon(12), None, mon(12), evidence=SILENT),
        Episode(MIST, 2, mon(40), None, mon(40), evidence=DRY),
    )


@pytest.mark.parametrize(
    ("happened", "minutes"),
    [
        pytest.param([(E.RAISED, 0), (E.SEEN, 4)], 4, id="seen"),
        pytest.param([(E.RAISED, 0), (E.SHELVED, 5)], 5, id="put off"),
        pytest.param([(E.RAISED, 0), (E.TAKEN_OUT, 6)], 6, id="taken out"),
        pytest.param([(E.RAISED, 0), (E.RETURNED, 9), (E.SEEN, 20)], 20, id="seen when over"),
        pytest.param([(E.RAISED, 0), (E.SHELVED, 5), (E.SHELVED, 9)], 5, id="the first counts"),
        pytest.param([(E.RAISED, 0), (E.RETURNED, 9)], None, id="nobody"),
        # So is what was never told put away, and so is a task that was done.
        pytest.param([(E.RAISED, 0), (E.RETURNED, 9), (E.SEEN, 9)], None, id="after the return"),
        pytest.param([(E.RAISED, 0), (E.SEEN, 9), (E.RETURNED, 9)], None, id="with the return"),
    ],
)
def test_when_a_person_first_said_they_know(
    happened: list[tuple[Event, float]], minutes: float | None
) -> None:
    assert found(*happened).acknowledged == (None if minutes is None else mon(minutes))


@pytest.mark.parametrize(
    ("happened", "minutes"),
    [
        pytest.param([(E.SHELVED, 0), (E.RAISED, 5)], None, id="raised while shelved"),
        pytest.param([(E.SHELVED, 0), (E.RAISED, 5), (E.SHELF_ENDED, 30)], 30, id="shelf ended"),
        pytest.param(
            [(E.SHELVED, 0), (E.RAISED, 5), (E.RETURNED, 9), (E.SHELF_ENDED, 30)],
            None,
            id="over before the shelf was",
        ),
        pytest.param([(E.TAKEN_OUT, 0), (E.RAISED, 5)], None, id="out of service"),
        pytest.param([(E.TAKEN_OUT, 0), (E.RAISED, 5), (E.PUT_BACK, 50)], 50, id="put back"),
        pytest.param([(E.RAISED, 0), (E.SHELVED, 5), (E.SHELF_ENDED, 35)], 0, id="known before"),
    ],
)
def test_when_people_could_first_hear_of_it(
    happened: list[tuple[Event, float]], minutes: float | None
) -> None:
    assert found(*happened).announced == (None if minutes is None else mon(minutes))


@pytest.mark.parametrize(
    ("happened", "minutes"),
    [
        pytest.param([(E.RAISED, 0)], None, id="in service"),
        pytest.param([(E.RAISED, 0), (E.TAKEN_OUT, 6)], 6, id="taken out"),
        pytest.param([(E.RAISED, 0), (E.TAKEN_OUT, 6), (E.PUT_BACK, 90)], None, id="put back"),
        pytest.param([(E.TAKEN_OUT, 0), (E.RAISED, 5)], 5, id="raised out of service"),
    ],
)
def test_since_when_it_is_out_of_service(
    happened: list[tuple[Event, float]], minutes: float | None
) -> None:
    assert found(*happened).out == (None if minutes is None else mon(minutes))


def test_what_became_harmful_is_grave() -> None:
    assert found((E.RAISED, 0), (E.WORSENED, 5)).grave
    assert not found((E.RAISED, 0), (E.RETURNED, 5)).grave


def test_a_record_with_gaps_is_made_the_best_of() -> None:
    """A database that was put back from a copy may hold a raise twice, or a return alone."""
    told = Told()
    told.episode(MIST, 10)
    again = replace(told.moves[0], episode=7, time=mon(60))
    stray = Move(VENT, 3, E.RETURNED, State.UNACKNOWLEDGED, State.RETURNED, mon(70), "")
    of_another = Move(MIST, 1, E.SEEN, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, mon(80), "")
    late = Move(MIST, 7, E.RETURNED, State.UNACKNOWLEDGED, State.RETURNED, mon(90), "")
    twice = replace(late, time=mon(95))
    first, second = episodes([*told.moves, again, stray, of_another, late, twice])
    assert (first.number, first.ended, first.acknowledged) == (1, mon(60), None)
    assert (second.number, second.raised, second.ended) == (7, mon(60), mon(90))
    assert second.acknowledged is None


def test_taken_out_twice_counts_from_the_first() -> None:
    told = Told()
    told.episode(MIST, 0)
    out = Move(MIST, 1, E.TAKEN_OUT, State.UNACKNOWLEDGED, State.OUT_OF_SERVICE, mon(5), "")
    (episode,) = episodes([*told.moves, out, replace(out, time=mon(9))])
    assert (episode.out, episode.acknowledged) == (mon(5), mon(5))
