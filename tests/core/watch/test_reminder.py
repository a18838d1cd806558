"""The life of a reminder, against the states of IEC 62682 / ANSI/ISA-18.2 (from memory)."""

from datetime import timedelta
from itertools import product

import pytest

from chamberwatch.core.errors import ImpossibleMoveError
from chamberwatch.core.watch.reminder import (
    LEAVES,
    MOVES,
    Call,
    Event,
    Priority,
    Reminder,
    State,
    advance,
    can,
)
from tests.make import NOON, at

HOUR = timedelta(hours=1)


def fresh(state: State = State.NORMAL, *, active: bool = False) -> Reminder:
    return Reminder(7, "tent", Call.MIST, state=state, active=active, episode=3, told=NOON)


@pytest.mark.parametrize(
    ("state", "event", "after"),
    [
        pytest.param(State.NORMAL, Event.RAISED, State.UNACKNOWLEDGED, id="A to B"),
        pytest.param(State.UNACKNOWLEDGED, Event.SEEN, State.ACKNOWLEDGED, id="B to C"),
        pytest.param(State.ACKNOWLEDGED, Event.RETURNED, State.NORMAL, id="C to A"),
        pytest.param(State.UNACKNOWLEDGED, Event.RETURNED, State.RETURNED, id="B to D"),
        pytest.param(State.RETURNED, Event.SEEN, State.NORMAL, id="D to A"),
        pytest.param(State.RETURNED, Event.RAISED, State.UNACKNOWLEDGED, id="D to B"),
        pytest.param(State.ACKNOWLEDGED, Event.WORSENED, State.UNACKNOWLEDGED, id="re-alarm"),
        pytest.param(State.ACKNOWLEDGED, Event.REALARMED, State.UNACKNOWLEDGED, id="C to B"),
        pytest.param(State.UNACKNOWLEDGED, Event.REALARMED, State.UNACKNOWLEDGED, id="B to B"),
        pytest.param(State.SHELVED, Event.RAISED, State.SHELVED, id="shelved keeps judging"),
        pytest.param(State.OUT_OF_SERVICE, Event.RETURNED, State.OUT_OF_SERVICE, id="out keeps"),
    ],
)
def test_moves(state: State, event: Event, after: State) -> None:
    moved, move = advance(fresh(state), event, at(1), "why")
    assert moved.state is after
    assert (move.before, move.after, move.event, move.time) == (state, after, event, at(1))


@pytest.mark.parametrize(
    ("state", "event"),
    [pytest.param(s, e, id=f"{s.name}-{e.name}") for s, e in product(State, Event)],
)
def test_every_pair_is_either_in_the_table_or_refused(state: State, event: Event) -> None:
    before = fresh(state)
    allowed = (state, event) in MOVES or (state, event) in LEAVES
    assert can(before, event) is allowed
    if allowed:
        advance(before, event, at(1), "why", shelf=HOUR)
    else:
        with pytest.raises(ImpossibleMoveError, match="nothing was changed"):
            advance(before, event, at(1), "why", shelf=HOUR)
        assert before == fresh(state)


@pytest.mark.parametrize(
    ("active", "after"),
    [
        pytest.param(True, State.UNACKNOWLEDGED, id="cause still there"),
        pytest.param(False, State.NORMAL, id="cause gone"),
    ],
)
def test_a_shelf_ends_where_the_cause_says(active: bool, after: State) -> None:
    moved, _ = advance(fresh(State.SHELVED, active=active), Event.SHELF_ENDED, at(1), "time")
    assert moved.state is after
    assert moved.told is None
    assert moved.shelved_until is None


def test_told_again_is_the_same_episode() -> None:
    moved, move = advance(fresh(State.ACKNOWLEDGED, active=True), Event.REALARMED, at(1), "why")
    assert (moved.told, moved.episode, moved.active) == (None, 3, True)
    assert move.episode == 3


def test_raising_starts_an_episode() -> None:
    moved, move = advance(fresh(), Event.RAISED, at(1), "dry")
    assert (moved.episode, move.episode, moved.active) == (4, 4, True)
    assert (moved.since, moved.told) == (at(1), None)


def test_shelving_needs_an_end_and_keeps_it_while_judging_goes_on() -> None:
    with pytest.raises(ImpossibleMoveError, match="needs an end"):
        advance(fresh(State.UNACKNOWLEDGED), Event.SHELVED, at(0), "later")
    shelved, _ = advance(fresh(State.UNACKNOWLEDGED), Event.SHELVED, at(0), "later", shelf=HOUR)
    assert shelved.shelved_until == at(60)
    returned, _ = advance(shelved, Event.RETURNED, at(5), "fine")
    assert (returned.shelved_until, returned.active) == (at(60), False)


def test_worsening_speaks_again_in_the_same_episode() -> None:
    moved, _ = advance(fresh(State.ACKNOWLEDGED, active=True), Event.WORSENED, at(1), "harm")
    assert (moved.episode, moved.told) == (3, None)


def test_priorities_are_ordered_and_named() -> None:
    assert Priority.HIGH > Priority.MEDIUM > Priority.LOW
    assert [p.word for p in Priority] == ["low", "medium", "high"]
