"""The reminders that tire most, and what setting would have calmed them.

Nothing is guessed: each suggestion is the past week played once more against a longer delay or a
wider deadband, and it says how many raises that would have spared. Only episodes that were over
by themselves can be spared. Where somebody misted, or the air became harmful, the message was
needed, however short the episode was.

How a raise is spared, with `on`, `off` and `deadband` as they were:

- A longer on-delay: the air was outside from `on` before the raise until `off` before the return.
  Where that is shorter than the new delay, nothing would have been raised.
- A longer off-delay: the air was back from `off` before the return until `on` before the next
  raise. Where that is shorter than the new delay, the first episode would have gone on, and the
  second raise is none.
- A wider deadband: where between two episodes the air never came so far inside the limit, the
  first would have gone on as well.

A value that is back by the deadband is inside the limit for a little longer than is reckoned here,
so each count is one of raises spared *at least*.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.patience import Patience
from chamberwatch.core.review.episode import Episode
from chamberwatch.core.review.quality import chattering, fleeting
from chamberwatch.core.review.record import Fate, Record, heard_from, middle
from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority
from chamberwatch.core.watch.rule import Side

WORST: Final = 3
TIRES_FROM: Final = 2
"""Messages, raises in a row and episodes over at once together; one alone tires nobody."""

QUANTITY_OF: Final[Mapping[Call, tuple[Quantity, Side]]] = {c: key for key, c in CALLS.items()}
"""What each call about the air was raised for."""

HELPS_FROM: Final = 2
HELPS_SHARE: Final = 1 / 3
"""A setting that would have spared less than this of the raises, or fewer than two, is no help."""

NEARLY_ALL: Final = 0.8
"""The least change is taken that spares so much of what the best of all would spare."""


class Setting(StrEnum):
    """What can be set."""

    DEADBAND = "deadband"
    OFF_DELAY = "off_delay"
    UNHEARD_AFTER = "unheard_after"
    ON_DELAY = "on_delay"


@dataclass(frozen=True, slots=True)
class Delays:
    """How patient a reminder was.

    Attributes:
        on: how long outside before it counts.
        off: how long back inside before it counts as over.
        deadband: how far inside it must be, in the unit of its quantity.
        deadband_at_most: a wider one could hardly ever be reached.
        on_is_set: the on-delay is a setting; else the band of the crop says it.
    """

    on: timedelta
    off: timedelta = timedelta(0)
    deadband: float = 0.0
    deadband_at_most: float = 0.0
    on_is_set: bool = True


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A setting that would calm a reminder.

    Attributes:
        setting: which.
        quantity: of which patience; None for a sensor's own setting.
        value: what to set it to: minutes, a deadband in the unit of its quantity.
        was: what it is now, in the same unit.
        spared: how many raises of the week it would have spared, at least.
        raises: how many there were.
    """

    setting: Setting
    quantity: Quantity | None
    value: float
    was: float
    spared: int
    raises: int


@dataclass(frozen=True, slots=True)
class Tiring:
    """A reminder that tires, and how.

    Attributes:
        reminder: its id.
        messages: that went out about it.
        chattering: raises in a row of 3 or more within an hour.
        fleeting: episodes over before anybody could act.
        raises: how often it was raised.
        needed: how many of these needed a hand: somebody acted, it was harmful, or it lasted
            longer than any delay that could be set.
        typical: median length of an episode; None where none was over.
        suggestion: what would calm it; None where no setting would.
    """

    reminder: int
    messages: int
    chattering: int
    fleeting: int
    raises: int
    needed: int
    typical: timedelta | None
    suggestion: Suggestion | None

    @property
    def weight(self) -> int:
        """Return what it is ranked by."""
        return self.messages + self.chattering + self.fleeting


# How far one may go. Pins dry out within hours and harm has a delay of its own, so half an hour is
# as long as anybody should wait for word of the air; ours.
_DELAYS_MIN: Final = (5.0, 10.0, 15.0, 20.0, 30.0)
_UNHEARD_MIN: Final = (10.0, 15.0, 20.0, 30.0, 45.0, 60.0)
_DEADBANDS: Final[Mapping[Quantity, tuple[float, ...]]] = {
    Quantity.HUMIDITY: (3.0, 4.0, 5.0, 6.0),
    Quantity.TEMPERATURE: (1.0, 1.5, 2.0),
    Quantity.CO2: (100.0, 150.0, 200.0, 300.0),
}

LASTS: Final = timedelta(minutes=30)
"""What is outside for longer needs a hand; no delay should hide it."""

LEAST_CO2_PPM: Final = 600.0
"""Fresh air of a room people live in holds about so much: a limit less a deadband below this could
never be reached, and the reminder would never be over (common practice). [ppm]"""

LONGEST_PAUSE: Final = timedelta(hours=6)
"""Air that was well for longer went out again for a cause of its own."""

_MINUTE: Final = timedelta(minutes=1)

Inside = Callable[[Episode, Episode], float | None]
"""How far inside its limit the air came at best between two episodes; None: not known."""


@dataclass(frozen=True, slots=True)
class Patiences:
    """How patient the reminders were in the week.

    Attributes:
        air: of each chamber and call about its air.
        sensors: how long each sensor may be silent.
    """

    air: Mapping[tuple[str, Call], Delays]
    sensors: Mapping[str, timedelta]


def delays(patience: Patience, band: Band, call: Call) -> Delays:
    """Return how patient the reminder of a call is.

    Args:
        patience: that of its quantity.
        band: that of the chamber.
        call: about the air.
    """
    quantity, side = QUANTITY_OF[call]
    by_band = band.high_after if side is Side.HIGH else None
    return Delays(
        on=by_band or patience.on_delay,
        off=patience.off_delay,
        deadband=patience.deadband,
        deadband_at_most=_widest(band, quantity),
        on_is_set=by_band is None,
    )


def _widest(band: Band, quantity: Quantity) -> float:
    """Return the widest deadband that leaves room to be back in."""
    if band.low is not None and band.high is not None:
        return (band.high - band.low) / 2
    if quantity is Quantity.CO2 and band.high is not None:
        return band.high - LEAST_CO2_PPM
    return max(_DEADBANDS[quantity])


def worst(record: Record, patiences: Patiences, inside: Inside) -> tuple[Tiring, ...]:
    """Return the three reminders about air and sensors that tire most, the worst first.

    Ranked by messages, chattering raises and fleeting episodes together; one message alone tires
    nobody.

    Args:
        record: of the week.
        patiences: as they are set.
        inside: asked for pairs of episodes of a reminder in a row.
    """
    rows = Counter(number for number, _ in chattering(record))
    short = Counter(episode.reminder for episode in fleeting(record))
    out = Counter(
        t.reminder
        for t in record.tellings
        if t.fate is Fate.OUT and record.holds(t.created) and record.asks(t.reminder)
    )
    all_ = rows + short + out
    tire = (n for n, weight in all_.items() if weight >= TIRES_FROM)
    ranked = sorted(tire, key=lambda n: (-all_[n], -out[n], n))[:WORST]
    return tuple(
        _tiring(_case(record, n, patiences), (out[n], rows[n], short[n]), inside) for n in ranked
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """One reminder, with what can be set of it.

    Attributes:
        record: of the week.
        number: of the reminder.
        ours: its episodes of the week.
        delays: how patient it was.
        quantity: whose patience that is; None for a sensor's own.
        waits: the setting of the on-delay, with what it may be in minutes; None: it has none.
    """

    record: Record
    number: int
    ours: tuple[Episode, ...]
    delays: Delays = Delays(timedelta(0))
    quantity: Quantity | None = None
    waits: tuple[Setting, tuple[float, ...]] | None = None

    def by_itself(self, episode: Episode) -> bool:
        """Tell whether an episode was over without a hand and without harm."""
        left = episode.raised - self.delays.on
        return not self.grave(episode) and self.record.by_itself(episode, left)

    def grave(self, episode: Episode) -> bool:
        """Tell whether an episode was harmful; delays of its own decide that."""
        told = self.record.told(episode)
        return episode.grave or (told is not None and told.priority is Priority.HIGH)

    def outside(self, episode: Episode) -> timedelta:
        """Return how long the air of an episode that is over was outside its limit."""
        over = episode.ended or episode.raised
        return (over - self.delays.off) - (episode.raised - self.delays.on)

    def needed(self, episode: Episode) -> bool:
        """Tell whether an episode needed a hand."""
        return not self.by_itself(episode) or self.outside(episode) > LASTS


def _case(record: Record, number: int, patiences: Patiences) -> _Case:
    reminder = record.reminders[number]
    bare = _Case(record, number, tuple(e for e in record.announced if e.reminder == number))
    if reminder.call is Call.CHECK_SENSOR:
        unheard_after = patiences.sensors.get(reminder.subject)
        if unheard_after is None or not all(_silence(e.evidence) for e in bare.ours):
            return bare
        silence = (Setting.UNHEARD_AFTER, _UNHEARD_MIN)
        return replace(bare, delays=Delays(unheard_after), waits=silence)
    found = patiences.air.get((reminder.chamber, reminder.call))
    if found is None or reminder.subject:
        return bare
    waits = (Setting.ON_DELAY, _DELAYS_MIN) if found.on_is_set else None
    return replace(bare, delays=found, quantity=QUANTITY_OF[reminder.call][0], waits=waits)


def _silence(evidence: Evidence | None) -> bool:
    return evidence is not None and evidence.quantity is None


def _tiring(case: _Case, counted: tuple[int, int, int], inside: Inside) -> Tiring:
    messages, rows, short = counted
    lasted = [e.ended - e.raised for e in case.ours if e.ended is not None]
    return Tiring(
        reminder=case.number,
        messages=messages,
        chattering=rows,
        fleeting=short,
        raises=len(case.ours),
        needed=sum(case.needed(e) for e in case.ours),
        typical=middle(lasted),
        suggestion=_best([*_delayed(case), *_joined(case, inside)]),
    )


# ---------------------------------------------------------------------- the week played again


def _delayed(case: _Case) -> Iterator[Suggestion]:
    """Yield what each longer on-delay would have spared."""
    if case.waits is None:
        return
    setting, candidates = case.waits
    short = [case.outside(e) for e in case.ours if case.by_itself(e)]
    yield from _spared(case, setting, candidates, case.delays.on / _MINUTE, _minutes(short))


def _joined(case: _Case, inside: Inside) -> Iterator[Suggestion]:
    """Yield what each longer off-delay and each wider deadband would have spared."""
    if case.quantity is None:
        return
    now, pairs = case.delays, _pairs(case)
    back = [(b.raised - now.on) - ((a.ended or a.raised) - now.off) for a, b in pairs]
    yield from _spared(case, Setting.OFF_DELAY, _DELAYS_MIN, now.off / _MINUTE, _minutes(back))
    reached = [by for a, b in pairs if (by := inside(a, b)) is not None]
    wide = [w for w in _DEADBANDS[case.quantity] if w <= now.deadband_at_most]
    yield from _spared(case, Setting.DEADBAND, wide, now.deadband, reached)


def _minutes(lengths: Iterable[timedelta]) -> list[float]:
    return [length / _MINUTE for length in lengths]


def _spared(
    case: _Case,
    setting: Setting,
    candidates: Iterable[float],
    was: float,
    reached: Sequence[float],
) -> Iterator[Suggestion]:
    """Yield how many raises did not reach each candidate that is more than what is set."""
    for value in candidates:
        if value > was:
            spared = sum(each < value for each in reached)
            yield Suggestion(setting, case.quantity, value, was, spared, len(case.ours))


def _pairs(case: _Case) -> list[tuple[Episode, Episode]]:
    """Return episodes in a row of which the second might have been part of the first.

    Where somebody had misted in between, it was dry anew, and wanted a message of its own.
    """
    found = []
    for first, second in pairwise(case.record.of(case.number)):
        of_this_week = case.record.holds(heard_from(second))
        if not of_this_week or not case.by_itself(first) or case.grave(second):
            continue
        over = first.ended or first.raised
        pause = second.raised - over
        if pause <= LONGEST_PAUSE and not case.record.seen_to(case.number, over, second.raised):
            found.append((first, second))
    return found


def _best(options: Sequence[Suggestion]) -> Suggestion | None:
    """Return the least change that spares nearly as much as any; None where none helps."""
    helps = [o for o in options if o.spared >= max(HELPS_FROM, HELPS_SHARE * o.raises)]
    most = max((o.spared for o in helps), default=0)
    nearly = [o for o in helps if o.spared >= NEARLY_ALL * most]
    return min(nearly, key=_change, default=None)


def _change(option: Suggestion) -> tuple[float, int]:
    """Return how far an option goes; of two that go as far the one that delays no first word."""
    grows = option.value / option.was if option.was else float("inf")
    return grows, list(Setting).index(option.setting)
