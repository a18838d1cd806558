"""The search for a plan: several are made, and the best of them are improved.

Made: starts at a steady pace from today on, at several paces, and then always the start that
betters the plan most. Improved: a start is taken out, or another forced in at the cost of those in
its way, and the gap is filled again; what is better stays. In the end each start and its opening
are moved by days. The order is fixed and the work is bounded, so the same question has the same
answer.
"""

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, combinations_with_replacement, product
from typing import Final

from chamberwatch.core.growing.rotation.goal import WAIT_D, Calendar, Harvest, Kind
from chamberwatch.core.growing.rotation.plan import WEEK_D
from chamberwatch.core.growing.rotation.room import Grounds, Need, Room, Stay

WORK: Final = 60_000
"""So many times a start may be weighed while a plan is improved."""

A_TRIAL: Final = 5
"""A change that is tried costs as much as so many starts weighed, even if it can't be made."""

NEAR_D: Final = 28
"""A gap is filled with starts so near to it. [d]"""

NUDGE_D: Final = 7
"""In the end a start is moved by so much at most. [d]"""

SETTLES: Final = 3
"""So many times all starts are moved in the end."""

_BETTER: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Choice:
    """A start that could be made.

    Attributes:
        first: in the place that suits it best.
        soonest: day on which it could be opened without waiting.
        places: in all that suit it, the best first, with what it needs there.
    """

    first: Stay
    soonest: int
    places: tuple[tuple[Stay, Need], ...]


@dataclass(slots=True)
class Draft:
    """A plan that is being made.

    Attributes:
        room: what stands where.
        harvest: what comes of it.
        stays: planned ones, in the order they were put in.
    """

    room: Room
    harvest: Harvest
    stays: list[Stay] = field(default_factory=list)

    def put(self, stay: Stay) -> None:
        """Put a start in."""
        self.room.book(stay)
        self.harvest.add(stay)
        self.stays.append(stay)

    def take(self, stay: Stay) -> None:
        """Take one out again."""
        self.room.book(stay, -1)
        self.harvest.add(stay, -1)
        self.stays.remove(stay)

    def copy(self) -> "Draft":
        """Return another with the same in it."""
        came = [list(weeks) for weeks in self.harvest.came]
        return Draft(self.room.copy(), replace(self.harvest, came=came), list(self.stays))

    def loss(self) -> float:
        """Return how far it is from what is wanted."""
        chambers = range(len(self.room.grounds.spaces))
        return self.harvest.loss(self.stays, sum(self.room.most(number) for number in chambers))


def choices(
    grounds: Grounds, kinds: Sequence[Kind], calendar: Calendar, step: int = 1
) -> tuple[Choice, ...]:
    """Return all starts that could be made, whether there is room or not.

    Waiting makes sense until a batch is white for certain, which shortens the time that its
    place is held, or so that batches started together are opened one after the other.

    Args:
        grounds: of the plan.
        kinds: what is wanted.
        calendar: the weeks.
        step: days between possible starts.
    """
    found = []
    for number, kind in enumerate(kinds):
        places = [
            (store, bed) for bed in grounds.beds(number) for store in grounds.stores(number, bed)
        ]
        # Fewest moves first, but sealed ones leave fruiting shelves to others where they can.
        places.sort(key=lambda pair: (grounds.spaces[pair[0]].takes_open, pair[0] != pair[1]))
        if not places:
            continue
        for on in range(0, calendar.days, step):
            for wait in _waits(kind):
                stays = tuple(kind.dated(number, on, wait, pair) for pair in places)
                needs = tuple((stay, grounds.need(stay)) for stay in stays)
                found.append(Choice(stays[0], on + kind.white[0], needs))
    return tuple(found)


def _waits(kind: Kind) -> tuple[int, ...]:
    certain = kind.white[1] - kind.white[0]
    return tuple(sorted({0, min(certain, WAIT_D), WEEK_D, WAIT_D}))


def search(draft: Draft, pool: Sequence[Choice], work: int = WORK) -> Draft:
    """Return the best plan that is found.

    Args:
        draft: with what is under way; it is changed.
        pool: what could be started.
        work: how many times a start may be weighed while it is improved; 0: not at all.
    """
    begun = _first(_made(draft, pool), BEGINNINGS if work else 1)
    improved = [_bettered(each, pool, work // len(begun)) for each in begun]
    draft = min(improved, key=Draft.loss)
    if work:
        _settle(draft, pool)
    return draft


def _first(drafts: Iterable[Draft], count: int) -> list[Draft]:
    """Return the best plans of different worth, the simplest of those that are as good."""
    found: dict[float, Draft] = {}
    for draft in drafts:
        found.setdefault(round(draft.loss(), 6), draft)
    return [found[loss] for loss in sorted(found)[:count]]


def _bettered(draft: Draft, pool: Sequence[Choice], work: int) -> Draft:
    left = work
    while left > 0:
        better, left = _improved(draft, pool, left)
        if better is draft:
            break
        draft = better
    return draft


BEGINNINGS: Final = 4
"""So many of them are improved: what is best at first is not always best in the end."""

PACES: Final = (1.0, 1.5, 2.2, 4.0, 8.0)
"""Starts are tried so many times as far apart as the wish asks for."""


def _made(draft: Draft, pool: Sequence[Choice]) -> Iterator[Draft]:
    """Return plans to begin with: the first that is as good as another is the simplest."""
    # Opened as soon as they are white, and then as late as betters the plan most.
    soon = [choice for choice in pool if choice.first.opens == choice.soonest]
    for starts, every, pace in product((soon, pool), (WEEK_D, 1), PACES):
        trial = draft.copy()
        _steadily(trial, starts, pace, every)
        _fill(trial, pool)
        yield trial
    _fill(draft, pool)
    yield draft


def _steadily(draft: Draft, pool: Sequence[Choice], pace: float, every: int) -> None:
    """Put in starts from today on, at a steady pace for each species.

    Args:
        draft: where they are put.
        pool: what could be started.
        pace: how many times as far apart as the wish asks for.
        every: days between possible starts.
    """
    days: dict[int, dict[int, list[Choice]]] = {}
    for choice in pool:
        if choice.first.on % every == 0:
            days.setdefault(choice.first.on, {}).setdefault(choice.first.kind, []).append(choice)
    due = [0.0 for _ in draft.harvest.aims]
    for on, kinds in sorted(days.items()):
        for kind, can in kinds.items():
            while due[kind] < on + every / 2.0:
                stay = _best(draft, can)
                if stay is None:
                    break
                draft.put(stay)
                apart = draft.harvest.aims[kind].kind.apart_d * pace
                due[kind] = max(due[kind], on - every / 2.0) + apart


def _best(draft: Draft, can: Sequence[Choice]) -> Stay | None:
    """Return the start of a day that betters the plan most, where there is room for one."""
    missed = draft.harvest.missed(can[0].first.kind)
    best, most = None, 0.0
    for choice in can:
        stay = _placed(draft, choice)
        gain = draft.harvest.gain(choice.first, missed) if stay else 0.0
        if gain > most:
            best, most = stay, gain
    return best


def _placed(draft: Draft, choice: Choice) -> Stay | None:
    for stay, need in choice.places:
        if draft.room.fits(need):
            return stay
    return None


@dataclass(frozen=True, slots=True)
class _Change:
    """Starts out of a plan, then starts into it at the cost of others."""

    out: tuple[Stay, ...] = ()
    into: tuple[Stay, ...] = ()

    @property
    def near(self) -> int:
        return (self.out or self.into)[0].on


def _improved(draft: Draft, pool: Sequence[Choice], work: int) -> tuple[Draft, int]:
    """Return the plan after one round of small changes, and the work that is left."""
    loss, first = draft.loss(), draft
    for change in _changes(first, pool):
        if work <= 0:
            break
        trial = draft.copy()
        work -= A_TRIAL
        if not _apply(change, trial):
            continue
        banned = {stay[:3] for stay in change.out}
        near = [c for c in pool if abs(c.first.on - change.near) <= NEAR_D]
        work -= len(near)
        _fill(trial, [c for c in near if c.first[:3] not in banned])
        better = trial.loss()
        if better < loss - _BETTER:
            draft, loss = trial, better
    return draft, work


def _changes(draft: Draft, pool: Sequence[Choice]) -> Iterator[_Change]:
    """Return what is tried: one out, one in (on the weekday of the plan first), then two."""
    stays = sorted(set(draft.stays))
    order = sorted(range(len(pool)), key=lambda n: (pool[n].first.on % WEEK_D != 0, n))
    into = [stay for n in order for stay, _ in pool[n].places]
    yield from (_Change(out=(stay,)) for stay in stays)
    yield from (_Change(into=(stay,)) for stay in into)
    yield from (_Change(out=(stay,), into=(other,)) for stay in stays for other in into)
    yield from (_Change(out=pair) for pair in combinations(stays, 2))
    yield from (_Change(into=pair) for pair in combinations_with_replacement(into, 2))


def _settle(draft: Draft, pool: Sequence[Choice]) -> None:
    """Move each start and its opening by days as it suits, till nothing betters the plan.

    What could be started is tried with few days of waiting, as there are so many of them; in the
    end each start may wait as long as is best.
    """
    turns, going = 0, True
    while going and turns < SETTLES:
        moved = [_moved(draft, stay) for stay in sorted(draft.stays)]
        before = len(draft.stays)
        _fill(draft, pool)
        going = any(moved) or len(draft.stays) != before
        turns += 1


def _moved(draft: Draft, stay: Stay) -> bool:
    """Move one start to the days that better the plan most; return whether it was moved."""
    harvest, least, best = draft.harvest, draft.loss(), stay
    draft.take(stay)
    missed = harvest.missed(stay.kind)
    enough = harvest.gain(stay, missed)
    for other in _beside(harvest, stay):
        if harvest.gain(other, missed) > enough and draft.room.fits(
            draft.room.grounds.need(other)
        ):
            draft.put(other)
            loss = draft.loss()
            draft.take(other)
            if loss < least - _BETTER:
                best, least = other, loss
    draft.put(best)
    return best != stay


def _beside(harvest: Harvest, stay: Stay) -> Iterator[Stay]:
    """Yield the same batch, started and opened on other days."""
    kind, last = harvest.aims[stay.kind].kind, harvest.calendar.days - 1
    for on in range(max(stay.on - NUDGE_D, 0), min(stay.on + NUDGE_D, last) + 1):
        for wait in range(WAIT_D + 1):
            yield kind.dated(stay.kind, on, wait, (stay.store, stay.bed))


def _apply(change: _Change, draft: Draft) -> bool:
    """Make a change; False where it can't be made."""
    for stay in change.out:
        if stay not in draft.stays:
            return False
        draft.take(stay)
    return all(_forced(stay, draft, change.into) for stay in change.into)


def _forced(stay: Stay, draft: Draft, kept: Sequence[Stay]) -> bool:
    """Put a start in at the cost of others; False where that can't be done."""
    need = draft.room.grounds.need(stay)
    while not draft.room.fits(need):
        in_way = [other for other in draft.stays if other not in kept and _meet(stay, other)]
        if not in_way:
            return False
        draft.take(max(in_way, key=lambda other: (_together(stay, other), other)))
    draft.put(stay)
    return True


def _meet(one: Stay, other: Stay) -> bool:
    return bool({one.store, one.bed} & {other.store, other.bed}) and _together(one, other) > 0


def _together(one: Stay, other: Stay) -> int:
    return min(one.end, other.end) - max(one.on, other.on)


def _fill(draft: Draft, pool: Sequence[Choice]) -> None:
    """Put in the start that betters most, again and again.

    What one more start brings only shrinks as a plan fills, so a gain that was reckoned before is
    an upper bound, and only those on top have to be weighed again.
    """
    harvest = draft.harvest
    missed = [harvest.missed(kind) for kind in range(len(harvest.aims))]
    heap = [
        (-gain, number)
        for number, choice in enumerate(pool)
        if _placed(draft, choice)
        and (gain := harvest.gain(choice.first, missed[choice.first.kind])) > 0.0
    ]
    heapq.heapify(heap)
    while heap:
        _, number = heapq.heappop(heap)
        kind = pool[number].first.kind
        stay = _placed(draft, pool[number])
        gain = harvest.gain(pool[number].first, missed[kind]) if stay else 0.0
        if stay is None or gain <= 0.0:
            continue
        if not heap or (-gain, number) <= heap[0]:
            draft.put(stay)
            missed[kind] = harvest.missed(kind)
        heapq.heappush(heap, (-gain, number))
