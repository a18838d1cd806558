"""What needed a hand, what would have, and what did harm: told from one true value a minute.

All of it is held against the true air, never against what the sensor said.

*An excursion* is a stretch of true air beyond a limit. Those less than `APART_MIN` apart, or than
the on-delay of their rule where that is longer, are one.

*An episode that needed a hand* is an excursion that lasts longer than the on-delay of its rule
(3 min for dry air, 60 for damp, 5 for CO2, 10 for the temperature): what ends sooner has ended
by itself. Dry and stale air that begin within `TOGETHER_MIN` of each other are one, since one
visit sees to both. A sensor that is silent for more than a quarter of an hour, or that reads wrong
by more than its accuracy for half an hour or more because it is wet, is one as well. (Shorter
silences end by themselves: radios drop out. To count them would only add episodes for which
nothing needs to be said, and make the messages for each look fewer.)

*What was averted* counts as an episode too: a forecast (before the night, before leaving) or an
early notice after which the true air, had nobody done anything, would have become too dry in the
hours it speaks of, and did not. The tent is lived on a second time for that, with the room as it
is then.

*Harm* is true air beyond a harm limit for longer than 10 min and than the rule's on-delay.
It is *observable* where it lies beyond by more than the sensor's stated accuracy all that
while, with a sensor that is neither wet nor silent: then any sensor as good as it claims shows
it.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.accuracy import DIGITAL
from chamberwatch.core.growing.band import HOME_BANDS, Stage
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import Level, Rule, Side, rules
from chamberwatch.service.books import OutKind

APART_MIN: Final = 10
TOGETHER_MIN: Final = 15
HARM_MIN: Final = 10
SLACK_MIN: Final = 3
EARLY_RIGHT_MIN: Final = 10
SILENT_AFTER_MIN: Final = 15
WET_AFTER_MIN: Final = 30
DAY_MIN: Final = 1440

Run = tuple[int, int]
"""From one minute up to and without another."""

JUDGED: Final = (Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE)

RULES: Final[Mapping[Quantity, tuple[Rule, ...]]] = {
    quantity: tuple(rules(HOME_BANDS[Stage.FRUITING][quantity], PATIENCE[quantity]))
    for quantity in JUDGED
}


@dataclass(frozen=True, slots=True)
class Message:
    """One message on the phone.

    Attributes:
        minute: when it arrived.
        call: what it asks for; None where it is no reminder.
        grave: of high priority.
        kind: what it is about.
        surface: it speaks of wet surfaces, not of the air.
        folded: it was said within another, and is no message of its own.
        foretold: of an early notice: the minute at which it expects the limit.
        until: of a forecast: up to when it speaks.
        dries: of an early notice or a forecast: the minute from which on the true air would have
            been too dry if nobody had done anything; None: not in the hours it speaks of.
        reminder: its number; 0 where it tells of none.
    """

    minute: int
    call: Call | None
    grave: bool = False
    kind: OutKind = OutKind.REMINDER
    surface: bool = False
    folded: bool = False
    foretold: int | None = None
    until: int | None = None
    dries: int | None = None
    reminder: int = 0


@dataclass(frozen=True, slots=True)
class Truth:
    """What was: one value a minute. [%], [ppm], [°C].

    Attributes:
        air: the true air of each quantity that is judged.
        fault: what was wrong with the sensor, 0 for nothing, 1 silent, 2 wet.
    """

    air: Mapping[Quantity, Sequence[float]]
    fault: Sequence[int]

    def minutes(self) -> int:
        """Return how long it lasts."""
        return len(self.fault)


# ---------------------------------------------------------------- stretches


def runs(flags: Iterable[bool]) -> list[Run]:
    """Return the stretches in which a flag is up."""
    found: list[Run] = []
    start, minute = None, -1
    for minute, flag in enumerate(flags):
        if flag and start is None:
            start = minute
        elif not flag and start is not None:
            found.append((start, minute))
            start = None
    if start is not None:
        found.append((start, minute + 1))
    return found


def merged(stretches: Iterable[Run], apart: int) -> list[Run]:
    """Return stretches in order, those less than `apart` from each other as one."""
    found: list[Run] = []
    for start, end in sorted(stretches):
        if found and start - found[-1][1] < apart:
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((start, end))
    return found


def beyond(rule: Rule, value: float, by: float = 0.0) -> bool:
    """Tell whether a value lies beyond a limit by more than so much; inside where `by` < 0."""
    return value < rule.limit - by if rule.side is Side.LOW else value > rule.limit + by


def accuracy(quantity: Quantity, value: float) -> float:
    """Return the ± that the sensor claims."""
    if quantity is Quantity.HUMIDITY:
        return DIGITAL.humidity_at_pct(value)
    return DIGITAL.co2_at_ppm(value) if quantity is Quantity.CO2 else DIGITAL.temperature_k


RULES_LOW: Final = next(
    r for r in RULES[Quantity.HUMIDITY] if r.side is Side.LOW and r.level is Level.BAND
)


def delay_min(rule: Rule) -> int:
    """Return the on-delay. [min]."""
    return round(rule.on_delay.total_seconds() / 60.0)


def excursions(values: Sequence[float], rule: Rule) -> list[Run]:
    """Return the stretches beyond a limit."""
    return merged(runs(beyond(rule, value) for value in values), max(APART_MIN, delay_min(rule)))


# ---------------------------------------------------------------- what needed a hand


@dataclass(frozen=True, slots=True)
class Episode:
    """Something that needed a hand, and from when a message about it is due."""

    start: int
    end: int
    call: Call
    due: int


def air_episodes(truth: Truth) -> list[Episode]:
    """Return what the air asked for; dry and stale air together count once."""
    found: list[Episode] = []
    for quantity, values in truth.air.items():
        for rule in RULES[quantity]:
            if rule.level is Level.BAND:
                delay, call = delay_min(rule), CALLS[quantity, rule.side]
                found += [
                    Episode(start, end, call, start + delay)
                    for start, end in excursions(values, rule)
                    if end - start > delay
                ]
    return _together(sorted(found, key=lambda e: e.start))


def _together(episodes: Iterable[Episode]) -> list[Episode]:
    pair, kept = {Call.MIST, Call.VENT}, list[Episode]()
    for episode in episodes:
        near = (
            k
            for k in reversed(kept)
            if episode.call in pair
            and k.call in pair
            and k.call is not episode.call
            and episode.start - k.start <= TOGETHER_MIN
        )
        if next(near, None) is None:
            kept.append(episode)
    return kept


def averted(truth: Truth, messages: Iterable[Message]) -> list[Episode]:
    """Return what would have needed a hand later, and got it before."""
    dry = [start for start, _ in excursions(truth.air[Quantity.HUMIDITY], RULES_LOW)]
    found = []
    for message in messages:
        if message.dries is None or message.folded:
            continue
        ends = message.until or message.dries + EARLY_RIGHT_MIN
        came = bisect_left(dry, message.minute)
        if came == len(dry) or dry[came] > ends:
            found.append(Episode(message.minute, message.dries, Call.MIST, message.minute))
    return found


def faults(truth: Truth, kind: int, longer_than: int) -> list[Run]:
    """Return the stretches in which a sensor was at fault for longer than so many minutes."""
    return [r for r in runs(f == kind for f in truth.fault) if r[1] - r[0] > longer_than]


def episodes(truth: Truth) -> list[Episode]:
    """Return all that needed a hand, in order."""
    sensor = [
        Episode(start, end, Call.CHECK_SENSOR, start + after)
        for kind, after in ((1, SILENT_AFTER_MIN), (2, WET_AFTER_MIN))
        for start, end in faults(truth, kind, after)
    ]
    return sorted([*air_episodes(truth), *sensor], key=lambda e: e.start)


# ---------------------------------------------------------------- harm


@dataclass(frozen=True, slots=True)
class Harm:
    """Air that hurt the crop: when, since when it was out of its band, when to be told."""

    start: int
    end: int
    call: Call
    since: int
    due: int
    observable: bool


def harms(truth: Truth) -> list[Harm]:
    """Return all harm; observable or hidden by a sensor at fault. What lies between is left out.

    Between: beyond the limit by less than the accuracy, where no sensor can be held to it.
    """
    found: list[Harm] = []
    for quantity, values in truth.air.items():
        for rule in RULES[quantity]:
            if rule.level is Level.HARM:
                found += _harms(truth, quantity, values, rule)
    return sorted(found, key=lambda h: h.start)


def _harms(truth: Truth, quantity: Quantity, values: Sequence[float], rule: Rule) -> list[Harm]:
    band = next(r for r in RULES[quantity] if r.side is rule.side and r.level is Level.BAND)
    outside = excursions(values, band)
    starts, delay = [start for start, _ in outside], delay_min(rule)
    sure = runs(beyond(rule, value, accuracy(quantity, value)) for value in values)
    found = []
    for start, end in merged(sure, APART_MIN):
        longest = max(e - s for s, e in sure if start <= s and e <= end)
        if longest <= max(HARM_MIN, delay):
            continue
        first = next(s for s, e in sure if s >= start and e - s == longest)
        since = starts[bisect_right(starts, start) - 1]
        well = not any(truth.fault[first : first + delay + SLACK_MIN + 1])
        call = CALLS[quantity, rule.side]
        found.append(Harm(start, end, call, since, first + delay, well))
    return found
