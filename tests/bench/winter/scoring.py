"""What a season is judged by: messages held against what `episodes` tells of the true air.

*Harm is told* if a message of high priority about it came between the begin of the excursion
that it is part of and 3 min after the on-delay, or if a forecast spoke of the hours in
which it began.

*A false message* asks for something about air that is, at that minute, inside the limit by more
than the sensor's accuracy; or to look at a sensor with which nothing was wrong in the last half
hour.

*Chatter* is a message of the same cause and no greater gravity within `CHATTER_MIN` of the last.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import Level, Side
from chamberwatch.service.books import OutKind
from tests.bench.winter.episodes import (
    DAY_MIN,
    EARLY_RIGHT_MIN,
    RULES,
    SILENT_AFTER_MIN,
    SLACK_MIN,
    WET_AFTER_MIN,
    Episode,
    Harm,
    Message,
    Run,
    Truth,
    accuracy,
    averted,
    beyond,
    episodes,
    excursions,
    faults,
    harms,
)

CHATTER_MIN: Final = 30
DOUBT_WITHIN_MIN: Final = 30
EVENING_BEFORE_MIN: Final = 14 * 60


def told_harm(harm: Harm, messages: Iterable[Message]) -> bool:
    """Tell whether a person knew of it in time."""

    def tells(message: Message) -> bool:
        if message.kind is OutKind.FORECAST:
            ends = message.minute + EVENING_BEFORE_MIN if message.until is None else message.until
            return message.minute <= harm.start and harm.since <= ends
        in_time = harm.since <= message.minute <= harm.due + SLACK_MIN
        return message.grave and _is_about(message, harm.call) and in_time

    return any(map(tells, messages))


def _is_about(message: Message, call: Call) -> bool:
    """Dry and stale air is one message, and it may go by the name of either."""
    pair = {Call.MIST, Call.VENT}
    return message.call is call or (message.call in pair and call in pair)


# ---------------------------------------------------------------- messages


_SIDES: Final[Mapping[Call, tuple[Quantity, Side]]] = {call: key for key, call in CALLS.items()}


def is_false(message: Message, truth: Truth) -> bool | None:
    """Tell whether a message had no ground; None where it claims nothing that can be checked."""
    if message.kind is not OutKind.REMINDER or message.surface:
        return None
    if message.call is Call.CHECK_SENSOR:
        return not any(truth.fault[max(message.minute - 30, 0) : message.minute + 1])
    if message.call is None or message.call not in _SIDES:
        return None
    quantity, side = _SIDES[message.call]
    value = truth.air[quantity][min(message.minute, truth.minutes() - 1)]
    rule = next(r for r in RULES[quantity] if r.side is side and r.level is Level.BAND)
    return not beyond(rule, value, -accuracy(quantity, value))


def chatter(messages: Iterable[Message]) -> list[Message]:
    """Return the messages that only say again what was said a moment ago."""
    last: dict[tuple[Call, bool], Message] = {}
    found = []
    for message in messages:
        if message.call is None or message.kind is not OutKind.REMINDER or message.folded:
            continue
        key = (message.call, message.surface)
        before = last.get(key)
        last[key] = message
        soon = before is not None and message.minute - before.minute < CHATTER_MIN
        if before is not None and soon and message.grave <= before.grave:
            found.append(message)
    return found


def counted(messages: Iterable[Message]) -> list[Message]:
    """Return those that make a phone ring: not what was folded, nor the morning's summary."""
    return [m for m in messages if not m.folded and m.kind is not OutKind.SUMMARY]


def lateness(found: Iterable[Episode | Harm], messages: Sequence[Message]) -> list[int]:
    """Return how long after it was due each was told, for those that were, from its start on."""
    late = []
    for each in found:
        about = (
            m.minute
            for m in messages
            if _is_about(m, each.call) and _since(each) <= m.minute <= each.end
            if m.grave or isinstance(each, Episode)
        )
        first = next(about, None)
        if first is not None:
            late.append(first - each.due)
    return late


def _since(each: Episode | Harm) -> int:
    return each.since if isinstance(each, Harm) else each.start


# ---------------------------------------------------------------- early notices


def crossings(truth: Truth) -> list[int]:
    """Return the minutes at which true air left its band."""
    return sorted(
        start
        for quantity, values in truth.air.items()
        for rule in RULES[quantity]
        if rule.level is Level.BAND
        for start, _ in excursions(values, rule)
    )


def early(messages: Iterable[Message], left: Sequence[int]) -> list[tuple[bool, int]]:
    """Return of each early notice whether it was right, and how long ahead it came. [min].

    Whoever acts on it keeps the limit from being reached: what would have come counts as well.
    """
    found = []
    for message in messages:
        if message.kind is OutKind.EARLY and message.foretold is not None:
            lower = bisect_left(left, message.foretold - EARLY_RIGHT_MIN)
            came = left[lower] if lower < len(left) else None
            right = came is not None and came <= message.foretold + EARLY_RIGHT_MIN
            if not right and message.dries is not None:
                came = message.dries
                right = abs(came - message.foretold) <= EARLY_RIGHT_MIN
            ahead = came if right and came is not None else message.foretold
            found.append((right, ahead - message.minute))
    return found


# ---------------------------------------------------------------- the whole


@dataclass
class Score:
    """Counts and lists that add up over seeds."""

    days: int = 0
    episodes: int = 0
    messages: int = 0
    harm: int = 0
    harm_told: int = 0
    hidden_harm: int = 0
    hidden_harm_told: int = 0
    silences: int = 0
    silences_told: int = 0
    wets: int = 0
    wets_told: int = 0
    checkable: int = 0
    false: int = 0
    chatter: int = 0
    calm_days: int = 0
    calm_days_kept: int = 0
    late_min: list[int] = field(default_factory=list)
    harm_late_min: list[int] = field(default_factory=list)
    early: list[tuple[bool, int]] = field(default_factory=list)
    forecasts: int = 0
    forecasts_right: int = 0
    by_call: dict[str, int] = field(default_factory=dict)
    episodes_by_call: dict[str, int] = field(default_factory=dict)
    false_by_call: dict[str, int] = field(default_factory=dict)

    def add(self, other: "Score") -> None:
        """Take another's counts in."""
        for name, value in vars(other).items():
            if isinstance(value, dict):
                mine: dict[str, int] = getattr(self, name)
                for key, count in value.items():
                    mine[key] = mine.get(key, 0) + count
            else:
                setattr(self, name, getattr(self, name) + value)


def score(truth: Truth, messages: Sequence[Message]) -> Score:
    """Judge a season by the messages that came of it."""
    rang = counted(messages)
    asked = sorted([*episodes(truth), *averted(truth, messages)], key=lambda e: e.start)
    ahead = [m for m in messages if m.kind is OutKind.FORECAST]
    found = Score(
        days=truth.minutes() // DAY_MIN,
        episodes=len(asked),
        messages=len(rang),
        chatter=len(chatter(messages)),
        late_min=lateness([e for e in asked if e.call is not Call.CHECK_SENSOR], messages),
        early=early(messages, crossings(truth)),
        forecasts=len(ahead),
        forecasts_right=sum(m.dries is not None for m in ahead),
    )
    _score_harm(found, truth, messages)
    _score_doubts(found, truth, messages)
    _score_days(found, asked, rang)
    for episode in asked:
        _count(found.episodes_by_call, episode.call)
    for message in rang:
        name = "surfaces" if message.surface else str(message.call or message.kind)
        _count(found.by_call, name)
        verdict = is_false(message, truth)
        found.checkable += verdict is not None
        if verdict:
            found.false += 1
            _count(found.false_by_call, name)
    return found


def _count(counts: dict[str, int], name: str) -> None:
    counts[name] = counts.get(name, 0) + 1


def _score_harm(found: Score, truth: Truth, messages: Sequence[Message]) -> None:
    every = harms(truth)
    shown = [h for h in every if h.observable]
    hidden = [h for h in every if not h.observable]
    found.harm, found.hidden_harm = len(shown), len(hidden)
    found.harm_told = sum(told_harm(h, messages) for h in shown)
    found.harm_late_min = lateness(shown, messages)
    checks = [m.minute for m in messages if m.call is Call.CHECK_SENSOR]
    found.hidden_harm_told = sum(
        told_harm(h, messages) or any(h.since - DAY_MIN <= c <= h.due + SLACK_MIN for c in checks)
        for h in hidden
    )


def _score_doubts(found: Score, truth: Truth, messages: Sequence[Message]) -> None:
    checks = [m.minute for m in messages if m.call is Call.CHECK_SENSOR]

    def told(run: Run) -> bool:
        return any(run[0] <= c <= run[0] + DOUBT_WITHIN_MIN for c in checks)

    silent, wet = faults(truth, 1, SILENT_AFTER_MIN), faults(truth, 2, WET_AFTER_MIN)
    found.silences, found.wets = len(silent), len(wet)
    found.silences_told, found.wets_told = sum(map(told, silent)), sum(map(told, wet))


def _score_days(found: Score, asked: Sequence[Episode], rang: Sequence[Message]) -> None:
    for day in range(found.days):
        wanted = sum(e.due // DAY_MIN == day for e in asked)
        heard = sum(m.minute // DAY_MIN == day for m in rang)
        if wanted <= 3:
            found.calm_days += 1
            found.calm_days_kept += heard <= 3
