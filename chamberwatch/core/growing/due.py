"""What lies ahead of a batch, as windows: never a single day.

A stage takes as long as `Pace` says; what comes after it stacks on its window. What a crop does
by itself may have happened unseen, but what a person does has not happened before it is told: so
what follows an opening or a picking that is late is counted from today. Outdoors the weather
decides: nothing that waits for it has a date.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import GROWS, Batch, Container
from chamberwatch.core.growing.own_times import (
    BROWNING_DAYS,
    LOG_BETWEEN,
    NARROWEST_D,
    SPAN_OF,
    Days,
    OwnTimes,
    Pace,
    Span,
    last_picked,
    pinning_since,
)
from chamberwatch.core.growing.species import Species


class DueKind(StrEnum):
    """What can be due of a batch, in the order of its life."""

    WHITE = "white through"
    BROWN = "brown all over"
    CASE = "ready to case"
    OPEN = "ready to open"
    PINS = "pins"
    AIR = "ready for more air"
    HARVEST = "harvest"
    SOAK = "soak"
    FLUSH = "next flush"
    WATER = "water"
    SPENT = "spent"


OPEN_WITHIN: Final = timedelta(days=7)
"""What is white through should be opened within so long (common practice)."""

LEAST_REST_D: Final = 3.0
"""A block rests at least so long before it is soaked (common practice). [d]"""

DRY_DAYS: Final = 14
"""Rain once a week keeps logs wet enough; so many days without are too many (common practice)."""

BEDS: Final = frozenset({"wine-cap"})
"""Species grown in beds out in the garden (common practice)."""

WATER_WITHIN: Final = timedelta(days=7)
"""Dry logs should be watered within so long (common practice)."""

CLEAR_WITHIN: Final = timedelta(days=7)
"""Spent blocks draw flies and mould, so they should go within so long (common practice)."""


@dataclass(frozen=True, slots=True)
class Window:
    """From when to when something is expected, aware."""

    low: datetime
    high: datetime

    def after(self, days: Days) -> "Window":
        """Return the window of what takes so long from here."""
        return Window(self.low + timedelta(days=days.low), self.high + timedelta(days=days.high))

    def not_before(self, time: datetime) -> "Window":
        """Return what is left of it after a time."""
        return Window(max(self.low, time), max(self.high, time))


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that lies ahead of a batch.

    Attributes:
        batch: its number.
        kind: what.
        window: most likely within it; a late batch has one that is past.
        flush: which flush it belongs to; with soaking the one before; 0: none.
        count: own batches in it; of those of its parts that have fewest.
        source: keys of the sources, or how its figures are known.
    """

    batch: int
    kind: DueKind
    window: Window
    flush: int
    count: int
    source: str

    @property
    def key(self) -> str:
        """Return a name that stays while its window moves.

        The next flush keeps its name when its pins are seen and it becomes a harvest.
        """
        if self.kind in (DueKind.HARVEST, DueKind.FLUSH):
            return f"harvest-{self.batch}-{self.flush}"
        if self.kind in (DueKind.PINS, DueKind.SOAK):
            return f"{self.kind.name.lower()}-{self.batch}-{self.flush}"
        # Every dry spell is another, and one that nobody ends is asked for anew.
        dry = f"-{self.window.low:%Y-%m-%d}" if self.kind is DueKind.WATER else ""
        return f"{_NAMES.get(self.kind, self.kind.name.lower())}-{self.batch}{dry}"


_NAMES: Final[Mapping[DueKind, str]] = {DueKind.SPENT: "clear-out"}


def outdoors(batch: Batch) -> bool:
    """Tell whether the weather decides when it bears: logs and beds in no chamber.

    Anything else in no chamber may as well stand in a cupboard or on a window sill.
    """
    on_logs = batch.start.container is Container.LOG
    return batch.chamber is None and (on_logs or batch.start.species in BEDS)


def dues(batch: Batch, species: Species, own: OwnTimes, now: datetime) -> tuple[Due, ...]:
    """Return what lies ahead of a batch, what comes first at first.

    Of what nobody can say how long it takes nothing is returned, nor of what comes after it.

    Args:
        batch: nothing lies ahead of one that has ended.
        species: of its start.
        own: what the grower's own batches took.
        now: the time.
    """
    if batch.ended is not None:
        return ()
    on_logs = batch.start.container is Container.LOG
    ahead = _Ahead(batch, Pace(species, own, on_logs), now)
    found = (*ahead.to_come(), *_water(batch, now))
    order = list(DueKind)
    return tuple(sorted(found, key=lambda d: (d.window.low, d.window.high, order.index(d.kind))))


def _water(batch: Batch, now: datetime) -> Iterator[Due]:
    if batch.start.container is Container.LOG and batch.chamber is None:
        dry_in = timedelta(days=DRY_DAYS)
        dry = (batch.wetted_at or batch.started) + dry_in
        dry += max((now - dry) // dry_in, 0) * dry_in
        window = Window(dry, dry + WATER_WITHIN)
        yield Due(batch.id, DueKind.WATER, window, batch.flush, 0, _COMMON)


_COMMON: Final = "common practice"

# What waits for a person; the rest a crop does by itself.
_BY_HAND: Final = frozenset(
    {DueKind.CASE, DueKind.OPEN, DueKind.AIR, DueKind.HARVEST, DueKind.FLUSH}
)


@dataclass(frozen=True, slots=True)
class _Reach:
    """When something is reached, and on whose figures that rests."""

    window: Window
    count: int | None = None
    sources: tuple[str, ...] = ()

    def after(self, days: Days | None) -> "_Reach | None":
        if days is None:
            return None
        count = days.count if self.count is None else min(self.count, days.count)
        sources = tuple(dict.fromkeys((*self.sources, days.source)))
        return _Reach(self.window.after(days), count, sources)

    def to(self, window: Window) -> "_Reach":
        return replace(self, window=window)


def _at(time: datetime) -> _Reach:
    return _Reach(Window(time, time))


@dataclass(frozen=True, slots=True)
class _Ahead:
    """What lies ahead of one living batch."""

    batch: Batch
    pace: Pace
    now: datetime

    def to_come(self) -> Iterator[Due]:
        if self.batch.stage is Stage.COLONISATION:
            return self._colonising()
        if self.batch.stage is Stage.RESTING:
            return self._resting()
        return self._through(_at(self._since()), self._path(self.batch.stage))

    def _since(self) -> datetime:
        if self.batch.stage is Stage.PINNING:
            return pinning_since(self.batch, self.batch.stages[-1])
        return self.batch.since

    def _path(self, stage: Stage) -> tuple[Stage, ...]:
        """Return the stages from one on to the first picking."""
        path = _life(self.pace)
        return path[path.index(stage) :] if stage in path else (stage,)

    # -------------------------------------------------------------- before the first flush

    def _colonising(self) -> Iterator[Due]:
        batch, white = self.batch, _at(self.batch.started)
        took = white.after(self.pace.days(Span.COLONISING))
        through = white.after(self.pace.days(Span.WHITE)) if self.pace.browns else took
        if through is not None and batch.white_at is None:
            yield self._due(DueKind.WHITE, through)
        reached = took if batch.white_at is None else self._ready(took, batch.white_at)
        if reached is None:
            return
        rest = self._path(Stage.COLONISATION)[1:]
        if self.pace.on_logs or outdoors(batch):
            yield from self._first_soak()
            yield from self._through(self._forced(reached), rest)
            return
        if self.pace.browns:
            yield self._due(DueKind.BROWN, reached)
        kind = DueKind.CASE if Stage.CASE_RUN in rest else DueKind.OPEN
        yield self._due(kind, reached)
        yield from self._through(self._acted(reached), rest)

    def _ready(self, took: _Reach | None, white_at: datetime) -> _Reach:
        """Return when a batch that is white through is opened."""
        latest = white_at + OPEN_WITHIN
        if self.pace.browns:
            return self._brown(white_at)
        if took is None:
            return _Reach(Window(white_at, latest), 0, (_COMMON,))
        return took.to(Window(white_at, max(latest, took.window.high)))

    def _brown(self, white_at: datetime) -> _Reach:
        """Return when one that is white through is brown, never sooner than a spawn run takes."""
        spawn_run = self.pace.stated(Span.COLONISING)
        least = (spawn_run.low if spawn_run is not None else None) or 0.0
        brown = Window(white_at, white_at).after(BROWNING_DAYS)
        low = max(brown.low, self.batch.started + timedelta(days=least))
        return _Reach(Window(low, max(brown.high, low + OPEN_WITHIN)), 0, (_COMMON,))

    def _soaked_white(self) -> datetime | None:
        """Return when a log was soaked that had been white through."""
        white_at, soaked_at = self.batch.white_at, self.batch.soaked_at
        ripe = white_at is not None and soaked_at is not None and soaked_at >= white_at
        return soaked_at if ripe else None

    def _first_soak(self) -> Iterator[Due]:
        """Soak a log that is white through; nothing presses, it pins by itself some day."""
        white_at = self.batch.white_at
        if white_at is None or self._soaked_white() or not self.pace.species.soaked:
            return
        wait = LOG_BETWEEN.high or 0.0
        window = Window(white_at, white_at + timedelta(days=wait))
        yield self._due(DueKind.SOAK, _Reach(window))

    def _forced(self, reached: _Reach) -> _Reach:
        """Return from when a log can pin: its soaking, or any wet spell from today on."""
        soaked = self._soaked_white()
        return self._acted(reached) if soaked is None else _at(soaked)

    def _through(self, start: _Reach, path: Sequence[Stage]) -> Iterator[Due]:
        """Go through stages up to a picking, then on to the next flushes."""
        if not path or self._waits_for_weather(path[0]):
            return
        flush = self.batch.flush + (self.batch.stage not in GROWS)
        reached, cased = start, start
        for stage in path:
            # Where there is a case run the source counts pins from casing.
            base = cased if stage is Stage.PINNING else reached
            then = base.after(self.pace.days(SPAN_OF[stage]))
            if then is None:
                return
            kind = DueKind.HARVEST if stage is path[-1] else _ENDS_WITH[stage]
            if kind is DueKind.HARVEST and (since := self._given_up(then, flush)):
                yield self._spent(then, since)
                return
            # A case run that is over has not ended before it is told.
            reached = then if stage is not Stage.PINNING else _later(then, reached)
            yield self._due(kind, reached, flush)
            reached = self._acted(reached) if kind in _BY_HAND else reached
        yield from self._more(reached, flush)

    def _waits_for_weather(self, stage: Stage) -> bool:
        """Tell whether only a mild, wet spell brings it on; a soaked log pins by that."""
        batch, told = self.batch, stage in GROWS and stage is self.batch.stage
        forced = batch.soaked_at if batch.stage is Stage.PINNING else self._soaked_white()
        return outdoors(batch) and not told and forced is None

    # -------------------------------------------------------------- from flush to flush

    def _resting(self) -> Iterator[Due]:
        flush = self.batch.flush
        picked = last_picked(self.batch, flush) or self.batch.since
        most = self._most()
        if most is not None and flush >= most:
            yield self._spent(_at(picked), picked)
            return
        then = _at(picked).after(self.pace.days(Span.BETWEEN))
        if then is None:
            return
        if since := self._given_up(then, flush + 1):
            yield self._spent(then, since)
            return
        yield from self._soak(picked)
        if outdoors(self.batch):
            return
        yield self._due(DueKind.FLUSH, then, flush + 1)
        yield from self._more(self._acted(then), flush + 1)

    def _soak(self, picked: datetime) -> Iterator[Due]:
        """Soak after a rest: between flushes there are the rest, pins and their growth."""
        spans = (Span.BETWEEN, Span.PINNING, Span.FRUITING)
        between, pins, growth = (self.pace.days(span) for span in spans)
        if not self.pace.species.soaked or between is None or pins is None or growth is None:
            return
        ends = (between.low - pins.low - growth.low, between.high - pins.high - growth.high)
        low, high = (max(end, LEAST_REST_D) for end in sorted(ends))
        rest = replace(between, low=low, high=max(high, low + 1.0))
        window = Window(picked, picked).after(rest)
        yield self._due(DueKind.SOAK, _Reach(window, rest.count, (rest.source,)), self.batch.flush)

    def _more(self, picked: _Reach, flush: int) -> Iterator[Due]:
        """Return the flushes after a picking, and when it is spent."""
        most = self._most()
        if most is None or outdoors(self.batch):
            return
        between = self.pace.days(Span.BETWEEN)
        for number in range(flush + 1, most + 1):
            then = picked.after(between)
            if then is None:
                return
            yield self._due(DueKind.FLUSH, then, number)
            picked = self._acted(then)
        end = Window(picked.window.low, picked.window.high + CLEAR_WITHIN)
        yield self._due(DueKind.SPENT, picked.to(end))

    def _most(self) -> int | None:
        """Return how many flushes there are at most; logs bear for years (common practice)."""
        flushes = self.pace.species.flushes
        if self.pace.on_logs or flushes is None or flushes.high is None:
            return None
        return int(flushes.high)

    def _given_up(self, then: _Reach, flush: int) -> datetime | None:
        """Return since when a next flush is late by more than flushes ever are apart."""
        between = self.pace.days(Span.BETWEEN)
        unseen = self.batch.stage in (Stage.RESTING, Stage.PINNING) and flush > 1
        if between is None or self.pace.on_logs or outdoors(self.batch) or not unseen:
            return None
        since = then.window.high + timedelta(days=between.high)
        return since if self.now > since else None

    # -------------------------------------------------------------- short ways

    def _acted(self, reached: _Reach) -> _Reach:
        return reached.to(reached.window.not_before(self.now))

    def _spent(self, reached: _Reach, since: datetime) -> Due:
        return self._due(DueKind.SPENT, reached.to(Window(since, since + CLEAR_WITHIN)))

    def _due(self, kind: DueKind, reached: _Reach, flush: int = 0) -> Due:
        source = "; ".join(reached.sources) or _COMMON
        of = flush if kind not in (DueKind.OPEN, DueKind.AIR) else 0
        return Due(self.batch.id, kind, reached.window, of, reached.count or 0, source)


_ENDS_WITH: Final[Mapping[Stage, DueKind]] = {
    Stage.CASE_RUN: DueKind.OPEN,
    Stage.PINNING: DueKind.PINS,
    Stage.ANTLER: DueKind.AIR,
}


def _life(pace: Pace) -> tuple[Stage, ...]:
    """Return the stages of a species up to the first picking; pins become fruits or antlers."""
    has = pace.species.stages
    grown = (Stage.FRUITING,) if Stage.FRUITING in has else (Stage.ANTLER, Stage.CONK)
    cased = () if pace.on_logs else (Stage.CASE_RUN,)
    path = (Stage.COLONISATION, *cased, Stage.PINNING, *grown)
    return tuple(stage for stage in path if stage in has)


def _later(one: _Reach, other: _Reach) -> _Reach:
    """Return when both are reached, never closer than a crop can be foretold."""
    low = max(one.window.low, other.window.low)
    least = low + timedelta(days=NARROWEST_D)
    return one.to(Window(low, max(one.window.high, other.window.high, least)))
