"""The air of a week in figures: how much of it was as it should be, when it was not, and how far.

All figures are of samples: a share is that of the samples a band held for, an hour of the typical
day that of all samples taken in that hour of the clock. So they can be reckoned again from the
readings themselves.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from statistics import median
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.review.summary import Summary
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity

MINUTE: Final = timedelta(minutes=1)
QUARTER: Final = timedelta(minutes=15)
BRIDGED: Final = timedelta(minutes=5)
"""Air that is back for less than this has not come back; it is one spell."""
SHORTEST: Final = timedelta(minutes=5)
"""What is outside for less is the swing of a visit, not a spell."""
SPELLS: Final = 5

BandAt = Callable[[Quantity, datetime], Band | None]
"""Which band held for the air of the chamber at a moment."""


@dataclass(frozen=True, slots=True)
class Share:
    """How the samples of one quantity lay against their bands.

    Attributes:
        quantity: which.
        heard: quarter-hours with a sample.
        judged: samples that a band held for.
        within: of them.
        below: of them.
        above: of them.
        least: of all samples, in the unit of the quantity.
        mean: of all samples.
        most: of all samples.
    """

    quantity: Quantity
    heard: timedelta
    judged: int
    within: int
    below: int
    above: int
    least: float
    mean: float
    most: float

    @property
    def in_band(self) -> float | None:
        """Return the share within the band, 0 to 1; None where no band held."""
        return self.within / self.judged if self.judged else None


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch in which one quantity was outside its band, on one side.

    Attributes:
        quantity: which.
        side: below or above.
        start: its first minute.
        end: the end of its last minute.
        extreme: the value furthest outside, in the unit of the quantity.
        limit: of the band it was outside of, there.
        harm: whether it passed a harm limit.
        excess: how far outside, in deadbands of the quantity, added up over its minutes. [min]
    """

    quantity: Quantity
    side: Standing
    start: datetime
    end: datetime
    extreme: float
    limit: float
    harm: bool
    excess: float

    @property
    def lasted(self) -> timedelta:
        """Return how long it was."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class HourOfDay:
    """One hour of the clock over all days of a week.

    Attributes:
        hour: 0 to 23, by the clock of the site.
        mean: of the samples; None where there was none.
        judged: samples that a band held for.
        within: of them.
        below: of them.
        above: of them.
    """

    hour: int
    mean: float | None
    judged: int
    within: int
    below: int
    above: int

    @property
    def in_band(self) -> float | None:
        """Return the share within the band, 0 to 1; None where no band held."""
        return self.within / self.judged if self.judged else None


@dataclass(frozen=True, slots=True)
class Holding:
    """The mistings of a week.

    Attributes:
        found: how many the readings show.
        unrecorded: of them, those that nobody told.
        held: how long each held whose end is known, the shortest first.
    """

    found: int
    unrecorded: int
    held: tuple[timedelta, ...]

    @property
    def typical(self) -> timedelta | None:
        """Return how long one held in the middle; None where none is known."""
        return (
            timedelta(seconds=median(h.total_seconds() for h in self.held)) if self.held else None
        )


@dataclass(frozen=True, slots=True)
class Freshness:
    """The air changes of a week.

    Attributes:
        ventings: how many the readings show.
        closed_per_h: of the closed chamber, the median of its fits; None: no fit. [1/h]
        closed_low: the least of them. [1/h]
        closed_high: the most of them. [1/h]
        fits: how many there were.
    """

    ventings: int
    closed_per_h: float | None
    closed_low: float | None
    closed_high: float | None
    fits: int


@dataclass(frozen=True, slots=True)
class Climate:
    """The air of one chamber over a week.

    Attributes:
        chamber: its name.
        start: of the week.
        end: of the week.
        shares: of each quantity that was heard.
        spells: the worst, the worst first.
        day: the typical day of each quantity that was judged.
        holding: the mistings.
        freshness: the air changes.
    """

    chamber: str
    start: datetime
    end: datetime
    shares: tuple[Share, ...]
    spells: tuple[Spell, ...]
    day: Mapping[Quantity, tuple[HourOfDay, ...]]
    holding: Holding
    freshness: Freshness


def share(quantity: Quantity, quarters: Sequence[Summary]) -> Share | None:
    """Return how a quantity lay against its bands; None where nothing was heard.

    Args:
        quantity: which.
        quarters: its summaries of quarter-hours.
    """
    if not quarters:
        return None
    count = sum(each.count for each in quarters)
    return Share(
        quantity=quantity,
        heard=len(quarters) * QUARTER,
        judged=sum(each.judged for each in quarters),
        within=sum(each.within for each in quarters),
        below=sum(each.below for each in quarters),
        above=sum(each.above for each in quarters),
        least=min(each.least for each in quarters),
        mean=sum(each.mean * each.count for each in quarters) / count,
        most=max(each.most for each in quarters),
    )


def outside(quarters: Iterable[Summary]) -> tuple[tuple[datetime, datetime], ...]:
    """Return the stretches of quarter-hours in which a sample lay outside, oldest first.

    Spells lie in them and nowhere else, so that the minutes of the others need not be looked at.
    """
    found: list[tuple[datetime, datetime]] = []
    for quarter in quarters:
        if quarter.below + quarter.above == 0:
            continue
        if found and found[-1][1] == quarter.start:
            found[-1] = (found[-1][0], quarter.start + QUARTER)
        else:
            found.append((quarter.start, quarter.start + QUARTER))
    return tuple(found)


def _side(minute: Summary) -> Standing:
    """Return where most of a minute's judged samples lay."""
    if minute.below * 2 >= minute.judged > minute.within * 2 and minute.below >= minute.above:
        return Standing.BELOW
    if minute.above * 2 >= minute.judged > minute.within * 2:
        return Standing.ABOVE
    return Standing.WITHIN


@dataclass(slots=True)
class _Open:
    """A spell that is being gathered."""

    side: Standing
    minutes: list[Summary]

    def goes_on(self, minute: Summary, side: Standing) -> bool:
        """Tell whether a minute outside belongs to it."""
        gap = minute.start - self.minutes[-1].start - MINUTE
        return side is self.side and gap <= BRIDGED


def spells(quantity: Quantity, minutes: Iterable[Summary], band_at: BandAt) -> tuple[Spell, ...]:
    """Return every spell outside the band, in the order of their beginnings.

    Args:
        quantity: which.
        minutes: its summaries of single minutes, oldest first; those of `outside` are enough.
        band_at: which band held when.
    """
    found: list[_Open] = []
    open_: _Open | None = None
    for minute in minutes:
        side = _side(minute)
        if side is Standing.WITHIN:
            continue
        if open_ is None or not open_.goes_on(minute, side):
            open_ = _Open(side, [])
            found.append(open_)
        open_.minutes.append(minute)
    made = (_spell(quantity, each, band_at) for each in found)
    return tuple(s for s in made if s is not None and s.lasted >= SHORTEST)


def _spell(quantity: Quantity, gathered: _Open, band_at: BandAt) -> Spell | None:
    low = gathered.side is Standing.BELOW
    minutes = gathered.minutes
    worst = min(minutes, key=lambda m: m.least) if low else max(minutes, key=lambda m: m.most)
    extreme = worst.least if low else worst.most
    band = band_at(quantity, worst.start)
    if band is None:
        return None
    limit, harmful = (band.low, band.harm_low) if low else (band.high, band.harm_high)
    limit = harmful if limit is None else limit
    if limit is None:
        return None
    sign = -1.0 if low else 1.0
    far = sum(max(0.0, sign * (m.mean - limit)) for m in minutes)
    return Spell(
        quantity=quantity,
        side=gathered.side,
        start=minutes[0].start,
        end=minutes[-1].start + MINUTE,
        extreme=extreme,
        limit=limit,
        harm=harmful is not None and sign * (extreme - harmful) > 0.0,
        excess=far / PATIENCE[quantity].deadband,
    )


def worst(found: Iterable[Spell], most: int = SPELLS) -> tuple[Spell, ...]:
    """Return the worst, the worst first: harm before all else, then how far and how long."""
    return tuple(sorted(found, key=lambda s: (not s.harm, -s.excess, s.start))[:most])


def typical_day(quarters: Iterable[Summary], zone: tzinfo) -> tuple[HourOfDay, ...]:
    """Return the 24 hours of the clock, each over all days.

    Args:
        quarters: summaries of quarters of an hour: they fit the clocks of every zone there is.
        zone: of the site.
    """
    hours: list[list[Summary]] = [[] for _ in range(24)]
    for quarter in quarters:
        hours[quarter.start.astimezone(zone).hour].append(quarter)
    return tuple(_hour(hour, held) for hour, held in enumerate(hours))


def _hour(hour: int, held: Sequence[Summary]) -> HourOfDay:
    count = sum(s.count for s in held)
    return HourOfDay(
        hour=hour,
        mean=sum(s.mean * s.count for s in held) / count if count else None,
        judged=sum(s.judged for s in held),
        within=sum(s.within for s in held),
        below=sum(s.below for s in held),
        above=sum(s.above for s in held),
    )


def holding(found: Iterable[Found]) -> Holding:
    """Return what the mistings came to; one that the grower denied is none."""
    mistings = [f for f in found if f.kind is Kind.MISTING and not f.denied]
    return Holding(
        found=len(mistings),
        unrecorded=sum(1 for f in mistings if f.action is None),
        held=tuple(sorted(f.held for f in mistings if f.held is not None)),
    )


def freshness(found: Iterable[Found], exchanges: Iterable[Exchange]) -> Freshness:
    """Return what the ventings and the fits of the closed chamber came to."""
    ventings = [f for f in found if f.kind is Kind.VENTING and not f.denied]
    fits = sorted(e.per_h for e in exchanges if not e.vented and e.per_h is not None)
    return Freshness(
        ventings=len(ventings),
        closed_per_h=median(fits) if fits else None,
        closed_low=fits[0] if fits else None,
        closed_high=fits[-1] if fits else None,
        fits=len(fits),
    )
