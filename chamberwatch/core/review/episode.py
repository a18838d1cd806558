"""The episodes of reminders, told again from their moves: each from a raise to the return."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from chamberwatch.core.watch.reminder import QUIET, Event, Evidence, Move, State

_PEOPLE_DO: Final = frozenset({Event.SEEN, Event.SHELVED, Event.TAKEN_OUT})


@dataclass(frozen=True, slots=True)
class Episode:
    """One time that the cause of a reminder held.

    Attributes:
        reminder: whose.
        number: of the episode, as its messages name it.
        raised: when its on-delay had run out.
        ended: when it was back for the off-delay; None while it holds.
        announced: when a person could first hear of it: at the raise, or when the shelf it was
            raised in ended; None: never.
        acknowledged: when a person first said they know, or put it off; None: nobody did.
        out: since when it has been out of service; None while it is in service.
        grave: it became harmful while it held.
        evidence: the reading that spoke for it when it was raised.
    """

    reminder: int
    number: int
    raised: datetime
    ended: datetime | None = None
    announced: datetime | None = None
    acknowledged: datetime | None = None
    out: datetime | None = None
    grave: bool = False
    evidence: Evidence | None = None


def episodes(moves: Iterable[Move]) -> tuple[Episode, ...]:
    """Return the episodes that moves tell of, in the order of their raises.

    A move whose raise is not among them says nothing. A raise while another episode of the same
    reminder holds (a record with a gap) ends that one.

    Args:
        moves: in the order of the log; of those before the stretch that is looked at, the last
            raise of whatever held when it began.
    """
    told: list[Episode] = []
    newest: dict[int, int] = {}
    for move in moves:
        place = newest.get(move.reminder)
        if move.event is Event.RAISED:
            if place is not None:
                told[place] = _ended(told[place], move.time)
            newest[move.reminder] = len(told)
            told.append(_begun(move))
        elif place is not None and told[place].number == move.episode:
            told[place] = _went_on(told[place], move)
    return tuple(told)


def _begun(move: Move) -> Episode:
    announced = None if move.after in QUIET else move.time
    out = move.time if move.after is State.OUT_OF_SERVICE else None
    return Episode(
        move.reminder,
        move.episode,
        move.time,
        announced=announced,
        out=out,
        evidence=move.evidence,
    )


def _went_on(episode: Episode, move: Move) -> Episode:
    if move.event is Event.RETURNED:
        return _ended(episode, move.time)
    if move.event is Event.WORSENED:
        return replace(episode, grave=True)
    if move.event in _PEOPLE_DO:
        return _answered(episode, move)
    # What is left is the end of a shelf, or of a time out of service.
    back = replace(episode, out=None)
    heard_now = episode.announced is None and move.after is State.UNACKNOWLEDGED
    return replace(back, announced=move.time) if heard_now else back


def _ended(episode: Episode, time: datetime) -> Episode:
    if episode.ended is not None:
        return episode
    # Seen in the very instant of the return is bookkeeping: nobody had been told of it, or the
    # task was done. A person has a moment of their own.
    seen = None if episode.acknowledged == time else episode.acknowledged
    return replace(episode, ended=time, acknowledged=seen)


def _answered(episode: Episode, move: Move) -> Episode:
    if move.event is Event.TAKEN_OUT and episode.out is None:
        episode = replace(episode, out=move.time)
    if episode.acknowledged is not None or move.time == episode.ended:
        return episode
    return replace(episode, acknowledged=move.time)
