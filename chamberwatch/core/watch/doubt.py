"""Whether to believe a sensor: suspicions that last become doubts, and doubts end.

A look at a chamber finds for each suspicion that it holds, that it doesn't, or that nothing can
be said just now. `step` gives it patience: a doubt begins when the suspicion has held for its
delay, and ends after ten minutes of good readings. All times are those of readings.

The figures are common practice unless a source is named beside them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.lately import Series
from chamberwatch.core.watch.reading import Place, Quantity, Reading


class Doubted(StrEnum):
    """Why a sensor is not to be believed, gravest first."""

    SILENT = "silent"
    IMPOSSIBLE = "impossible"
    STUCK = "stuck"
    WET = "wet"
    JUMPING = "jumping"
    DISAGREEING = "disagreeing"
    LOW_BATTERY = "low battery"


GRAVITY: Final = tuple(Doubted)

Key = tuple[str, Doubted, Quantity]
"""What is suspected: the sensor, of what, and the quantity that shows it."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A sensor that is not to be believed.

    Attributes:
        sensor: its name.
        kind: of what it is suspected.
        since: time of the reading from which on.
        words: which sensor, why, and what to look at.
        quantities: those whose values are in doubt; empty where they may well be right.
        shown_by: the quantity that shows it; None with silence.
    """

    sensor: str
    kind: Doubted
    since: datetime
    words: str
    quantities: frozenset[Quantity] = frozenset()
    shown_by: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """What one look says of one suspicion.

    Attributes:
        at: time of the reading that says so.
        bad: it holds; False: it does not; None: nothing can be said.
        words: as in the doubt; empty unless it holds.
        quantities: as in the doubt.
        since: from when on it holds, or does not, where that is known.
    """

    at: datetime
    bad: bool | None
    words: str = ""
    quantities: frozenset[Quantity] = frozenset()
    since: datetime | None = None


@dataclass(frozen=True, slots=True)
class Suspicion:
    """How far a suspicion has come.

    Attributes:
        at: time of the last reading looked at.
        doubt: what it has become, None while it has not held for its delay.
        bad_since: since when it has held without a break.
        good_since: since when readings have been good without a break.
    """

    at: datetime
    doubt: Doubt | None = None
    bad_since: datetime | None = None
    good_since: datetime | None = None


def _minutes(value: int) -> timedelta:
    return timedelta(minutes=value)


ENDS_AFTER: Final = _minutes(10)
"""So long must readings be good before a doubt is over."""

ON_DELAY: Final[Mapping[Doubted, timedelta]] = {
    Doubted.LOW_BATTERY: _minutes(10),
    Doubted.IMPOSSIBLE: _minutes(10),
    Doubted.DISAGREEING: _minutes(30),
}
"""How long a suspicion must hold; one that is not here looks back by itself."""

LONGEST_GAP: Final = _minutes(15)
"""A delay that was running starts afresh after a longer silence."""

BATTERY_GAP: Final = timedelta(hours=25)
"""Many sensors tell of their battery once a day."""


def step(before: Suspicion | None, key: Key, finding: Finding, gap: timedelta) -> Suspicion:
    """Take one more look into account.

    Args:
        before: how far it had come, None at the first look.
        key: what is suspected.
        finding: what the look says.
        gap: a longer one between readings starts a running delay afresh.
    """
    if before is None:
        before = Suspicion(finding.at - gap - gap)
    if finding.at <= before.at:
        return before
    if before.doubt is not None:
        return _step_in_doubt(before, before.doubt, finding)
    if not finding.bad:
        return Suspicion(finding.at)
    unbroken = finding.at - before.at <= gap
    since = finding.since or (before.bad_since if unbroken else None) or finding.at
    if finding.at - since < ON_DELAY.get(key[1], timedelta(0)):
        return Suspicion(finding.at, None, since)
    doubt = Doubt(key[0], key[1], since, finding.words, finding.quantities, key[2])
    return Suspicion(finding.at, doubt, since)


def _step_in_doubt(before: Suspicion, doubt: Doubt, finding: Finding) -> Suspicion:
    if finding.bad is False:
        good_since = before.good_since or finding.since or finding.at
        if finding.at - good_since >= ENDS_AFTER:
            return Suspicion(finding.at)
        return replace(before, at=finding.at, good_since=good_since)
    # Two that disagree may turn into one that is named; other words stay as they were told.
    if finding.bad and finding.quantities != doubt.quantities:
        doubt = replace(doubt, words=finding.words, quantities=finding.quantities)
    return Suspicion(finding.at, doubt, before.bad_since)


def gap_of(sensor: Sensor, kind: Doubted) -> timedelta:
    """Return how far apart readings may be without breaking off a delay."""
    return BATTERY_GAP if kind is Doubted.LOW_BATTERY else max(LONGEST_GAP, sensor.unheard_after)


def gravest(doubts: Iterable[Doubt]) -> Mapping[str, Doubt]:
    """Return one doubt for each sensor: the gravest, with all quantities that are in doubt."""
    found: dict[str, Doubt] = {}
    for doubt in sorted(doubts, key=lambda d: GRAVITY.index(d.kind)):
        first = found.setdefault(doubt.sensor, doubt)
        found[doubt.sensor] = replace(first, quantities=first.quantities | doubt.quantities)
    return found


def silence(sensor: str, since: datetime) -> Doubt:
    """Return the doubt about a sensor that is not heard."""
    words = (
        f"Nothing has been heard from {sensor} for longer than it may be silent. Look at its "
        "battery or plug, and its distance to the router."
    )
    return Doubt(sensor, Doubted.SILENT, since, words, frozenset(Quantity))


def stands_back(
    house: House,
    sensor: Sensor,
    quantity: Quantity,
    doubts: Mapping[str, Doubt],
    newest: Mapping[Series, Reading],
) -> bool:
    """Tell whether a sensor leaves a quantity to another: it is in doubt there, the other isn't.

    Args:
        house: what the grower declared.
        sensor: which.
        quantity: of what.
        doubts: of each sensor that is in doubt.
        newest: newest reading of each series.
    """
    if not _in_doubt(doubts, sensor.name, quantity) or sensor.place is not Place.AIR:
        return False
    return any(
        _serves(other, quantity, newest) and not _in_doubt(doubts, other.name, quantity)
        for other in house.sensors_in(sensor.chamber)
        if other.name != sensor.name and other.place is Place.AIR
    )


def _in_doubt(doubts: Mapping[str, Doubt], sensor: str, quantity: Quantity) -> bool:
    doubt = doubts.get(sensor)
    return doubt is not None and quantity in doubt.quantities


def _serves(sensor: Sensor, quantity: Quantity, newest: Mapping[Series, Reading]) -> bool:
    """Tell whether a sensor speaks of a quantity, and not only of others lately."""
    times = {q: newest[sensor.name, q].time for q in Quantity if (sensor.name, q) in newest}
    return quantity in times and max(times.values()) - times[quantity] <= sensor.unheard_after
