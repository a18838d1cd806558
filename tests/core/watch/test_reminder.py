"""The life of a reminder, against the states of IEC 62682 / ANSI/ISA-18.2 (from memory)."""

from dataclasses import replace
from datetime import timedelta
from itertools import product

import pytest

from chamberwatch.core.errors import ImpossibleMoveError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    LEAVES,
    MOVES,
    Call,
    Cause,
    Event,
    Evidence,
    Out,
    Priority,
    Reminder,
    State,
    advance,
    can,
)
from tests.make import NOON, at

HOUR = timedelta(hours=1)
WHY = Cause("why", shelf=HOUR, out=Out("Ann", "the zip is being mended"))


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
        pytest.param(State.ACKNOWLEDGED, Event.WORSENED, State.UNACKNOWLEDGED, id="graver"),
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
        advance(before, event, at(1), WHY)
    else:
        with pytest.raises(ImpossibleMoveError, match="nothing was changed"):
            advance(before, event, at(1), WHY)
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
    shelved, _ = advance(
        fresh(State.UNACKNOWLEDGED), Event.SHELVED, at(0), Cause("later", shelf=HOUR)
    )
    assert shelved.shelved_until == at(60)
    returned, _ = advance(shelved, Event.RETURNED, at(5), "fine")
    assert (returned.shelved_until, returned.active) == (at(60), False)


def test_worsening_speaks_again_in_the_same_episode() -> None:
    moved, _ = advance(fresh(State.ACKNOWLEDGED, active=True), Event.WORSENED, at(1), "harm")
    assert (moved.episode, moved.told) == (3, None)


def test_priorities_are_ordered_and_named() -> None:
    assert Priority.HIGH > Priority.MEDIUM > Priority.LOW
    assert [p.word for p in Priority] == ["low", "medium", "high"]


def test_the_reading_behind_a_move_is_kept_with_it() -> None:
    dry = Evidence("middle", Quantity.HUMIDITY, 76.0, 80.0, 95.0, -4.0, at(0))
    back = replace(dry, value=83.0, since=at(9))
    raised, first = advance(fresh(), Event.RAISED, at(1), Cause("dry", dry))
    returned, second = advance(raised, Event.RETURNED, at(9), Cause("fine", back))
    seen, third = advance(returned, Event.SEEN, at(10), "seen (page)")
    assert (first.evidence, second.evidence, third.evidence) == (dry, back, None)
    # What it was for stays with the reminder, for the log of what is over.
    assert raised.evidence == returned.evidence == seen.evidence == dry


def test_told_again_counts_and_a_new_episode_begins_anew() -> None:
    again, _ = advance(fresh(State.ACKNOWLEDGED, active=True), Event.REALARMED, at(1), "harm")
    assert (again.repeats, again.told, again.episode) == (1, None, 3)
    back, _ = advance(again, Event.RETURNED, at(2), "fine")
    anew, _ = advance(back, Event.RAISED, at(3), "dry")
    assert (anew.repeats, anew.episode) == (0, 4)


@pytest.mark.parametrize("out", [None, Out("Ann", ""), Out("Ann", "  ")])
def test_out_of_service_needs_a_reason(out: Out | None) -> None:
    with pytest.raises(ImpossibleMoveError, match="needs a reason"):
        advance(fresh(), Event.TAKEN_OUT, at(0), Cause("out", out=out))


def test_out_of_service_says_who_why_and_until_when_until_it_is_back() -> None:
    out = Out("Ann", "the zip is being mended", at(60))
    away, _ = advance(fresh(), Event.TAKEN_OUT, at(0), Cause("out", out=out))
    dry, _ = advance(away, Event.RAISED, at(5), "dry")
    assert (dry.out_by, dry.out_why, dry.out_until) == (out.by, out.why, out.until)
    assert (dry.state, dry.active) == (State.OUT_OF_SERVICE, True)
    back, _ = advance(dry, Event.PUT_BACK, at(60), "its time was up")
    assert (back.state, back.out_by, back.out_why) == (State.UNACKNOWLEDGED, "", "")
    assert back.out_until is None
