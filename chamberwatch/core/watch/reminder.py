"""The life of a reminder. Everything that moves one is in this file.

A reminder is kept for each action in each chamber (or for each sensor to be looked at) and lives
through episodes. States and moves follow IEC 62682 / ANSI/ISA-18.2; the latched and
suppressed-by-design states are left out, since nothing here latches and logic that holds a
message back is part of judging.

Two facts make up a life: whether its cause holds (`active`, from the readings) and what people
know of it (`state`). While shelved or out of service the cause goes on being judged.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import IntEnum, StrEnum
from typing import Final

from chamberwatch.core.errors import ImpossibleMoveError
from chamberwatch.core.watch.reading import Quantity


class Call(StrEnum):
    """What a reminder asks for."""

    MIST = "mist"
    VENT = "vent"
    WARM = "warm"
    COOL = "cool"
    DRY_OFF = "dry off"
    AIR_ROOM = "air the room"
    CHECK_SENSOR = "check the sensor"
    CHECK_ALL = "check the power and the broker"
    OPEN = "open"
    CASE = "case"
    AIR = "give more air"
    HARVEST = "harvest"
    SOAK = "soak"
    WATER = "water"
    START = "start the next"
    CLEAR_OUT = "clear out"
    TODAY = "today's list"
    REFILL = "refill"


TASK_CALLS: Final = frozenset(
    {
        Call.OPEN,
        Call.CASE,
        Call.AIR,
        Call.HARVEST,
        Call.SOAK,
        Call.WATER,
        Call.START,
        Call.CLEAR_OUT,
        Call.TODAY,
    }
)
"""What is asked for by the growing record and not by the air; their subject is the task's key.
`Call.TODAY` stands for all of them together: it is what people are told of."""


class Priority(IntEnum):
    """How much it matters; higher is graver."""

    LOW = 1
    MEDIUM = 2
    HIGH = 3

    @property
    def word(self) -> str:
        """Name it as in the log and the API."""
        return self.name.lower()


class State(StrEnum):
    """Where a reminder stands (IEC 62682 / ANSI/ISA-18.2)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned unacknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out of service"


ASKING: Final = frozenset({State.UNACKNOWLEDGED, State.ACKNOWLEDGED})
"""What asks for something right now."""

QUIET: Final = frozenset({State.SHELVED, State.OUT_OF_SERVICE})
"""What goes on and is not spoken of."""


class Event(StrEnum):
    """What can happen to a reminder."""

    RAISED = "raised"
    WORSENED = "worsened"
    REALARMED = "told again"
    RETURNED = "returned to normal"
    SEEN = "seen"
    SHELVED = "shelved"
    SHELF_ENDED = "shelf ended"
    TAKEN_OUT = "taken out of service"
    PUT_BACK = "put back in service"


_S, _E = State, Event

# (state, event) -> state.
MOVES: Final[dict[tuple[State, Event], State]] = {
    (_S.NORMAL, _E.RAISED): _S.UNACKNOWLEDGED,
    (_S.NORMAL, _E.SHELVED): _S.SHELVED,
    (_S.NORMAL, _E.TAKEN_OUT): _S.OUT_OF_SERVICE,
    (_S.UNACKNOWLEDGED, _E.WORSENED): _S.UNACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, _E.REALARMED): _S.UNACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, _E.RETURNED): _S.RETURNED,
    (_S.UNACKNOWLEDGED, _E.SEEN): _S.ACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, _E.SHELVED): _S.SHELVED,
    (_S.UNACKNOWLEDGED, _E.TAKEN_OUT): _S.OUT_OF_SERVICE,
    (_S.ACKNOWLEDGED, _E.WORSENED): _S.UNACKNOWLEDGED,
    (_S.ACKNOWLEDGED, _E.REALARMED): _S.UNACKNOWLEDGED,
    (_S.ACKNOWLEDGED, _E.RETURNED): _S.NORMAL,
    (_S.ACKNOWLEDGED, _E.SHELVED): _S.SHELVED,
    (_S.ACKNOWLEDGED, _E.TAKEN_OUT): _S.OUT_OF_SERVICE,
    (_S.RETURNED, _E.RAISED): _S.UNACKNOWLEDGED,
    (_S.RETURNED, _E.SEEN): _S.NORMAL,
    (_S.RETURNED, _E.SHELVED): _S.SHELVED,
    (_S.RETURNED, _E.TAKEN_OUT): _S.OUT_OF_SERVICE,
    (_S.SHELVED, _E.RAISED): _S.SHELVED,
    (_S.SHELVED, _E.WORSENED): _S.SHELVED,
    (_S.SHELVED, _E.RETURNED): _S.SHELVED,
    (_S.SHELVED, _E.SHELVED): _S.SHELVED,
    (_S.SHELVED, _E.TAKEN_OUT): _S.OUT_OF_SERVICE,
    (_S.OUT_OF_SERVICE, _E.RAISED): _S.OUT_OF_SERVICE,
    (_S.OUT_OF_SERVICE, _E.WORSENED): _S.OUT_OF_SERVICE,
    (_S.OUT_OF_SERVICE, _E.RETURNED): _S.OUT_OF_SERVICE,
}

# Leaving these two states leads to where the cause says: still there, or gone.
LEAVES: Final[frozenset[tuple[State, Event]]] = frozenset(
    {(_S.SHELVED, _E.SHELF_ENDED), (_S.OUT_OF_SERVICE, _E.PUT_BACK)}
)

# What an event says of the cause; the other events say nothing of it.
ACTIVE_AFTER: Final[dict[Event, bool]] = {
    _E.RAISED: True,
    _E.WORSENED: True,
    _E.RETURNED: False,
}

# After these the reminder has not yet been told in its present form.
SPEAKS_ANEW: Final[frozenset[Event]] = frozenset(
    {_E.RAISED, _E.WORSENED, _E.REALARMED, _E.SHELF_ENDED, _E.PUT_BACK}
)


@dataclass(frozen=True, slots=True)
class Evidence:
    """The reading that speaks for a reminder.

    Attributes:
        sensor: whose reading.
        quantity: None where silence is the evidence.
        value: in the unit of the quantity; None with silence.
        low: lower limit of the band that held, if any.
        high: upper limit of the band that held, if any.
        trend_per_h: change of the value in an hour, None when not known.
        since: when the value left the band, or when the sensor was last heard.
    """

    sensor: str
    quantity: Quantity | None
    value: float | None
    low: float | None
    high: float | None
    trend_per_h: float | None
    since: datetime | None


@dataclass(frozen=True, slots=True)
class Reminder:
    """One call in one chamber.

    Attributes:
        id: given by the book; 0 before it is stored.
        chamber: name of the chamber; empty for what grows outdoors, and for today's list.
        call: what it asks for.
        subject: the sensor to look at; “surfaces” where it is they that are to dry off and not
            the air; empty for every other call.
        state: what people know of it.
        active: whether its cause holds.
        priority: of the present or last episode.
        episode: counts up each time it is raised anew.
        since: when the present episode was raised; None before the first.
        moved: time of the last move.
        told: when this episode (or its worsening) was last put in the outbox.
        shelved_until: end of the shelf, None otherwise.
        evidence: what spoke for it at the last raise or worsening.
        repeats: how often this episode was told anew because nobody had seen it.
        out_until: when it is put back in service by itself; None while it is in service, or
            where only a person puts it back.
        out_by: who took it out of service.
        out_why: why; empty while it is in service.
    """

    id: int
    chamber: str
    call: Call
    subject: str = ""
    state: State = State.NORMAL
    active: bool = False
    priority: Priority = Priority.MEDIUM
    episode: int = 0
    since: datetime | None = None
    moved: datetime | None = None
    told: datetime | None = None
    shelved_until: datetime | None = None
    evidence: Evidence | None = None
    repeats: int = 0
    out_until: datetime | None = None
    out_by: str = ""
    out_why: str = ""


@dataclass(frozen=True, slots=True)
class Move:
    """One step in a life, as kept in the log; `evidence` is what spoke for the reminder then."""

    reminder: int
    episode: int
    event: Event
    before: State
    after: State
    time: datetime
    cause: str
    evidence: Evidence | None = None


UNTOLD: Final = "nobody had been told"
"""Cause of a move to seen of which no person knows: it was over before anybody was told."""


def can(reminder: Reminder, event: Event) -> bool:
    """Tell whether the event may happen now."""
    step = (reminder.state, event)
    return step in MOVES or step in LEAVES


@dataclass(frozen=True, slots=True)
class Out:
    """Taking a reminder out of service.

    Attributes:
        by: who did it.
        why: the reason; never empty.
        until: when it is put back by itself; None: when somebody does.
    """

    by: str
    why: str
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a reminder moves.

    Attributes:
        words: in a few words, for the log.
        evidence: the reading that speaks for it; None where a person or time alone does.
        shelf: how long, with `Event.SHELVED`.
        out: who and why, with `Event.TAKEN_OUT`.
    """

    words: str
    evidence: Evidence | None = None
    shelf: timedelta | None = None
    out: Out | None = None


def advance(
    reminder: Reminder, event: Event, now: datetime, cause: Cause | str
) -> tuple[Reminder, Move]:
    """Make one move.

    Args:
        reminder: as it stands.
        event: what happened.
        now: when.
        cause: why; plain words where nothing else belongs to it.

    Raises:
        ImpossibleMoveError: the state does not allow the event; nothing has changed.
    """
    if isinstance(cause, str):
        cause = Cause(cause)
    _check(event, cause)
    active = ACTIVE_AFTER.get(event, reminder.active)
    after = _next_state(reminder.state, event, active=active)
    changed = replace(reminder, state=after, active=active, moved=now)
    if event is Event.RAISED:
        changed = replace(changed, episode=reminder.episode + 1, since=now, repeats=0)
    if event is Event.REALARMED:
        changed = replace(changed, repeats=reminder.repeats + 1)
    if event in SPEAKS_ANEW:
        changed = replace(changed, told=None)
    if event in ACTIVE_AFTER and active and cause.evidence is not None:
        changed = replace(changed, evidence=cause.evidence)
    changed = _set_aside(changed, cause, now)
    move = Move(
        reminder.id,
        changed.episode,
        event,
        reminder.state,
        after,
        now,
        cause.words,
        cause.evidence,
    )
    return changed, move


def _check(event: Event, cause: Cause) -> None:
    if event is Event.SHELVED and cause.shelf is None:
        raise ImpossibleMoveError("Shelving needs an end; nothing was changed.")
    if event is Event.TAKEN_OUT and (cause.out is None or not cause.out.why.strip()):
        raise ImpossibleMoveError("Taking out of service needs a reason; nothing was changed.")


def _set_aside(reminder: Reminder, cause: Cause, now: datetime) -> Reminder:
    """Keep until when and why it is set aside, and no longer than it is."""
    if cause.shelf is not None:
        reminder = replace(reminder, shelved_until=now + cause.shelf)
    elif reminder.state is not State.SHELVED:
        reminder = replace(reminder, shelved_until=None)
    out = cause.out if reminder.state is State.OUT_OF_SERVICE else Out("", "")
    if out is None:
        return reminder
    return replace(reminder, out_until=out.until, out_by=out.by, out_why=out.why)


def _next_state(state: State, event: Event, *, active: bool) -> State:
    if (state, event) in LEAVES:
        return State.UNACKNOWLEDGED if active else State.NORMAL
    try:
        return MOVES[state, event]
    except KeyError:
        raise ImpossibleMoveError(
            f"A reminder that is {state} can't be {event}; nothing was changed."
        ) from None
