"""Which bands held in the past: for charts, and for counting how many readings lay within."""

import logging
import threading
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from itertools import groupby
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.band_words import whose
from chamberwatch.core.growing.bands_then import Since, followed
from chamberwatch.core.growing.batch import Batch, Entry, by_batch
from chamberwatch.core.growing.life import lived
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.review.reckoning import Held, Line
from chamberwatch.core.review.summary import Rules
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reading import EPOCH, Place, Quantity
from chamberwatch.service.books import Book, Span
from chamberwatch.service.chart import BandThen
from chamberwatch.service.growing.folding import read
from chamberwatch.service.series import MEASURED

log = logging.getLogger(__name__)

EVER: Final = datetime.max.replace(tzinfo=UTC)
JUDGED: Final = ("temperature_c", "humidity_pct", "co2_ppm")
"""The quantities that have bands, by the names that the API has for them."""

STATED: Final = "stated stage "


Told = Sequence[tuple[Entry, Batch]]
"""What holds of a batch, oldest first, each with what the batch was after it."""


@dataclass(frozen=True, slots=True)
class _Past:
    """What held of one quantity of a chamber's air, oldest first; neighbours differ.

    Attributes:
        starts: from when on each held.
        bands: which, from 1970 or the one before until the next; None: nothing was judged.
    """

    starts: Sequence[datetime]
    bands: Sequence[BandThen | None]

    def within(self, span: Span) -> Iterator[BandThen]:
        """Yield the bands of a span, cut at its ends."""
        first = max(bisect_right(self.starts, span.start) - 1, 0)
        for band in self.bands[first : bisect_right(self.starts, span.end)]:
            if band is not None:
                start, end = max(band.start, span.start), min(band.end, span.end)
                if start < end:
                    yield replace(band, start=start, end=end)


@dataclass(frozen=True, slots=True)
class _Known:
    """What follows from the entries up to the newest."""

    newest: int = -1
    told: tuple[Told, ...] = ()
    rules: Rules = field(default_factory=Rules)
    past: Mapping[tuple[str, str], _Past] = field(default_factory=dict)


class BandsThen:
    """Tells which bands held when. Safe to ask from any thread."""

    def __init__(self, house: House, table: SpeciesTable) -> None:
        """Begin with what was declared.

        Args:
            house: as the grower declared it; the stage stated today counts for the past as well.
            table: the species.
        """
        self._house = house
        self._table = table
        self._lock = threading.Lock()
        self._known = _Known()

    def told(self, book: Book) -> Sequence[Told]:
        """Return what holds of every batch that can be read, oldest first in each."""
        return self._fresh(book).told

    def rules(self, book: Book) -> Rules:
        """Return what the readings of every sensor were held against; the same until more is told.

        Not to be changed: it is kept.
        """
        return self._fresh(book).rules

    def bands(
        self, book: Book, name: str, quantities: Sequence[str], span: Span
    ) -> tuple[BandThen, ...]:
        """Return the bands of a chamber's air within a span, oldest first; its ends cut them.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber = self._house.chamber(name)
        past = self._fresh(book).past
        found = [
            band
            for quantity in quantities
            if quantity in JUDGED
            for band in past[chamber.name, quantity].within(span)
        ]
        return tuple(sorted(found, key=lambda each: each.start))

    def _fresh(self, book: Book) -> "_Known":
        newest = book.growing.newest_id()
        with self._lock:
            if newest != self._known.newest:
                self._known = self._reckoned(book, newest)
            return self._known

    def _reckoned(self, book: Book, newest: int) -> "_Known":
        told = tuple(_told(book.growing.all(), self._table))
        lives = [[(entry.at, batch) for entry, batch in each] for each in told]
        chambers = self._house.chambers
        known = followed(chambers, lives, self._table)
        was = {name: _was(chamber, known[name]) for name, chamber in chambers.items()}
        past = {(chamber, name): _past(was[chamber], name) for chamber in was for name in JUDGED}
        return _Known(newest, told, self._rules(was), past)

    def _rules(self, was: Mapping[str, Sequence["_Was"]]) -> Rules:
        held: dict[Line, tuple[Held, ...]] = {}
        for sensor in self._house.sensors.values():
            for name in JUDGED if sensor.chamber in was else ():
                history = tuple(_held(was[sensor.chamber], name, sensor.place))
                if any((each.low, each.high) != (None, None) for each in history):
                    held[sensor.name, name] = history
        return Rules(held, self._house.pressure_pa)


def _told(entries: Sequence[Entry], table: SpeciesTable) -> Iterator[Told]:
    """Yield what holds of every batch that can be read; the record has said which can't."""
    for told in by_batch(entries).values():
        try:
            species, _ = read(told, table)
        except RefusedError as error:
            log.debug("No band of the past follows from a batch: %s", error)
            continue
        yield lived(told, species)


_Was = tuple[datetime, Chamber]
"""What a chamber was, and from when on."""


def _was(chamber: Chamber, told: Sequence[Since]) -> Sequence[_Was]:
    return [(since.at or EPOCH, replace(chamber, following=since.following)) for since in told]


def _held(was: Sequence[_Was], name: str, place: Place) -> Iterator[Held]:
    """Yield what values were held against, as in `core.watch.judgement`; each differs."""
    every = ((at, *_limits(chamber.limits(MEASURED[name], place))) for at, chamber in was)
    for _, group in groupby(every, key=lambda each: each[1:]):
        at, low, high = next(group)
        yield Held(round((at - EPOCH).total_seconds() * 1e6), low, high)


def _limits(band: Band | None) -> tuple[float | None, float | None]:
    return (None, None) if band is None else band.edges


def _past(was: Sequence[_Was], name: str) -> _Past:
    """Return what held of a quantity; where nothing changed for it, a change is none."""
    starts: list[datetime] = []
    bands: list[BandThen | None] = []
    ends = [*(at for at, _ in was[1:]), EVER]
    for (at, chamber), end in zip(was, ends, strict=True):
        band = _band_then(name, Span(at, end), chamber)
        last = bands[-1] if bands else None
        if last is not None and band is not None and _same(last, band):
            bands[-1] = replace(last, end=end)
        else:
            starts.append(at)
            bands.append(band)
    return _Past(starts, bands)


def _same(one: BandThen, other: BandThen) -> bool:
    return replace(one, start=other.start, end=other.end) == other


def _band_then(name: str, span: Span, was: Chamber) -> BandThen | None:
    band = was.limits(MEASURED[name], Place.AIR)
    if band is None:
        return None
    why = _why(was, MEASURED[name])
    return BandThen(
        name, span.start, span.end, band.low, band.high, band.harm_low, band.harm_high, why
    )


def _why(was: Chamber, quantity: Quantity) -> str:
    if was.following is not None:
        limits = was.following.limits.get(quantity.value)
        return whose(limits) if limits is not None else ""
    if was.stage is not None:
        return f"{STATED}{was.stage}"
    band = was.limits(quantity, Place.AIR)
    return band.source if band is not None else ""
