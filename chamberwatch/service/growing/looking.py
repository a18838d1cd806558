"""What do you see? A sign on a batch, joined to what the air of its chamber did before."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.air.psychrometrics import vpd_pa
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import ENDS, GROWS, Batch, Passed
from chamberwatch.core.growing.sign_table import sign_of, signs_of
from chamberwatch.core.growing.sign_words import finding_words, note
from chamberwatch.core.growing.signs import (
    Cause,
    Clue,
    Gauge,
    Heard,
    Hour,
    Limit,
    Seen,
    Sign,
    hear,
    rank,
)
from chamberwatch.core.growing.species import Species, SpeciesTable, Stated
from chamberwatch.core.growing.wants import Grown, Voice, voice
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.books import Book, Books, Bucket, Span
from chamberwatch.service.ports import Clock
from chamberwatch.service.speaking import air_sensors

HOUR_S: Final = 3600.0
HOURS_AT_MOST: Final = 1000

NOWHERE: Final = "It stood in no chamber then."
SEALED: Final = "It was sealed then and kept its own air."
JUST_NOW: Final = "It had only just been put there, or only just been opened."

_LIMITS: Final[Mapping[Limit, Callable[[Voice], float | None]]] = {
    Limit.LOW: lambda said: said.low,
    Limit.HIGH: lambda said: said.high,
    Limit.HARM_LOW: lambda said: said.harm_low,
    Limit.HARM_HIGH: lambda said: said.harm_high,
}

_NEEDS: Final[Mapping[Gauge, tuple[Quantity, ...]]] = {
    Gauge.TEMPERATURE: (Quantity.TEMPERATURE,),
    Gauge.HUMIDITY: (Quantity.HUMIDITY,),
    Gauge.CO2: (Quantity.CO2,),
    Gauge.VPD: (Quantity.TEMPERATURE, Quantity.HUMIDITY),
}
_MISSING: Final[Mapping[Gauge, str]] = {
    Gauge.TEMPERATURE: "No sensor in the air there measures temperature.",
    Gauge.HUMIDITY: "No sensor in the air there measures humidity.",
    Gauge.CO2: "No sensor in the air there measures CO2.",
    Gauge.VPD: "No sensor in the air there measures both temperature and humidity.",
}
_SILENT: Final[Mapping[Gauge, str]] = {
    Gauge.TEMPERATURE: "The sensor there sent no temperature in that time.",
    Gauge.HUMIDITY: "The sensor there sent no humidity in that time.",
    Gauge.CO2: "The sensor there sent no CO2 in that time.",
    Gauge.VPD: "The sensor there did not send both temperature and humidity in that time.",
}


@dataclass(frozen=True, slots=True)
class _Scene:
    """A batch at the time at which a sign was seen on it."""

    batch: Batch
    species: Species
    stage: Passed
    at: datetime


@dataclass(frozen=True, slots=True)
class Looking:
    """Joins signs to the record of the air. Changes nothing.

    Attributes:
        books: hold the readings.
        house: says which sensors hang where.
        table: the species, for their bands.
        batches: gives all batches as they are now.
        clock: a sign can't be seen later than now.
        zone: for days and parts of the day.
    """

    books: Books
    house: House
    table: SpeciesTable
    batches: Callable[[], Mapping[int, Batch]]
    clock: Clock
    zone: tzinfo

    def signs(self, batch: int) -> tuple[Sign, ...]:
        """Return what may be seen on a batch.

        Raises:
            UnknownNameError: no such batch.
        """
        return signs_of(self._batch(batch).start.species)

    def look(self, batch: int, sign: str, at: datetime) -> Seen:
        """Return what a sign likely comes from, with what the air has to say to each cause.

        Args:
            batch: its number.
            sign: name of what was seen.
            at: when it was seen.

        Raises:
            UnknownNameError: no such batch, or no such sign of that species.
            RefusedError: it can't have been seen then.
        """
        found = self._batch(batch)
        species = self.table.known(found.start.species)
        shown = sign_of(sign, species.name)
        _check(found, at, self.clock.now())
        scene = _Scene(found, species, _stage_at(found, at), at)
        causes = [each for each in shown.causes_in(species.name) if _may_be(each, scene)]
        clues = {cause.clue for cause in causes if cause.clue is not None}
        with self.books.read() as book:
            heard = {clue: self._heard(book, scene, clue) for clue in clues}
        findings = (
            replace(finding, words=finding_words(finding, self.zone))
            for finding in rank(causes, heard)
        )
        return Seen(batch, species.title, shown, at, tuple(findings))

    def note_of(self, seen: Seen) -> str:
        """Return what is kept of it in the record, at most 1500 characters."""
        return note(seen)

    def _batch(self, number: int) -> Batch:
        batches = self.batches()
        if number not in batches:
            known = ", ".join(str(each) for each in sorted(batches)) or "none yet"
            raise UnknownNameError(f"There is no batch {number}. Known: {known}.")
        return batches[number]

    def _heard(self, book: Book, scene: _Scene, clue: Clue) -> Heard:
        if clue.gauge is Gauge.WAIT:
            return self._waited(scene, clue)
        span = _span(scene, clue)
        limit = self._limit(scene, clue)
        chamber = _stood_in(scene.batch)
        silence = _silence(scene, clue, span, chamber)
        if silence or chamber is None:
            return replace(hear(clue, limit, (), (span.start, span.end)), silence=silence)
        hours = self._hours(book, chamber, clue.gauge, span)
        heard = hear(clue, limit, hours, (span.start, span.end))
        if not hours:
            return replace(heard, silence=self._missing(chamber, clue.gauge))
        return replace(heard, ended=_ended(scene))

    def _missing(self, chamber: str, gauge: Gauge) -> str:
        """Say which sensor is missing, or what it didn't send."""
        hangs = air_sensors(self.house, chamber, *_NEEDS[gauge])
        return _SILENT[gauge] if hangs else _MISSING[gauge]

    def _waited(self, scene: _Scene, clue: Clue) -> Heard:
        since = scene.stage.since
        window = self._titled(_window(scene.species, scene.stage.stage))
        waited = (scene.at - since) / timedelta(days=1)
        return Heard(clue, None, since, scene.at, waited_days=waited, window=window)

    def _titled(self, stated: Stated | None) -> Stated | None:
        """Give the used view the full title of its source."""
        if stated is None:
            return None
        used = stated.used
        title = self.table.sources.get(used.source, used.source)
        return replace(stated, views=(replace(used, source=title), *stated.views[1:]))

    def _limit(self, scene: _Scene, clue: Clue) -> float | None:
        """Return what a clue's limit comes to for this batch."""
        if not isinstance(clue.limit, Limit):
            return clue.limit
        wanted = clue.stage if clue.stage in scene.species.stages else None
        stage = wanted or scene.stage.stage
        if clue.limit is Limit.PUBLISHED:
            return _published(scene.species, stage)
        sealed = stage is Stage.COLONISATION and _sealed(scene)
        grown = Grown(scene.batch.id, scene.species, stage, sealed)
        said = voice(grown, clue.gauge.value, self.table.sources)
        limit = _LIMITS[clue.limit](said) if said is not None else None
        return clue.otherwise if limit is None else limit

    def _hours(self, book: Book, chamber: str, gauge: Gauge, span: Span) -> list[Hour]:
        """Return the measured hours of a chamber's air."""
        if gauge is Gauge.VPD:
            return self._drying_hours(book, chamber, span)
        quantity = Quantity(gauge.value)
        return [
            Hour(each.start, each.mean, each.least, each.most)
            for each in self._buckets(book, chamber, (quantity,), quantity, span)
        ]

    def _drying_hours(self, book: Book, chamber: str, span: Span) -> list[Hour]:
        """Return the hours of the vapour-pressure deficit. [Pa].

        From the hour's mean temperature and humidity: within an hour they change too little for
        that to matter. Only sensors that report both are asked, so both are of the same air.
        """
        pair = _NEEDS[Gauge.VPD]
        warm = _by_start(self._buckets(book, chamber, pair, pair[0], span))
        humid = _by_start(self._buckets(book, chamber, pair, pair[1], span))
        deficits = (
            (start, vpd_pa(warm[start].mean, humid[start].mean))
            for start in warm
            if start in humid
        )
        return [Hour(start, deficit, deficit, deficit) for start, deficit in deficits]

    def _buckets(
        self, book: Book, chamber: str, needed: Sequence[Quantity], asked: Quantity, span: Span
    ) -> Sequence[Bucket]:
        names = [sensor.name for sensor in air_sensors(self.house, chamber, *needed)]
        return book.readings.buckets(names, asked, span, HOUR_S, HOURS_AT_MOST)


def _by_start(buckets: Iterable[Bucket]) -> dict[datetime, Bucket]:
    return {bucket.start: bucket for bucket in buckets}


def _check(batch: Batch, at: datetime, now: datetime) -> None:
    if at > now:
        raise RefusedError("Nothing can be seen in the future. Give the time when you looked.")
    if at < batch.started:
        raise RefusedError(
            f"Batch {batch.id} was started on {batch.started:%-d %B}, so nothing can have been "
            "seen on it before. Give the time when you looked."
        )


def _stage_at(batch: Batch, at: datetime) -> Passed:
    """Return what a batch was doing then; of an ended one what it did last while it lived."""
    lived = [passed for passed in batch.stages if passed.stage not in ENDS]
    return [passed for passed in lived if passed.since <= at][-1]


def _stood_in(batch: Batch) -> str | None:
    """Return the chamber where a batch stands, or stood before it ended."""
    return batch.chamber if batch.ended is None else next(reversed(batch.chambers), None)


def _span(scene: _Scene, clue: Clue) -> Span:
    """Return the days before in which the batch met the air of that chamber."""
    batch = scene.batch
    came = batch.placed if batch.ended is None else batch.started
    until = min(scene.at, batch.ended or scene.at)
    met = [until - timedelta(days=clue.days), came]
    # A bag passes the warmth of the chamber on, not its air.
    if clue.gauge is not Gauge.TEMPERATURE and batch.opened_at is not None:
        met.append(batch.opened_at)
    return Span(min(max(met), until), until)


def _ended(scene: _Scene) -> bool:
    return scene.batch.ended is not None and scene.batch.ended <= scene.at


def _may_be(cause: Cause, scene: _Scene) -> bool:
    """Tell whether a cause makes sense: where pins stand none is too early."""
    waits = cause.clue is not None and cause.clue.gauge is Gauge.WAIT
    return not (waits and scene.stage.stage in GROWS)


def _sealed(scene: _Scene) -> bool:
    opened = scene.batch.opened_at
    return opened is None or opened > scene.at


def _silence(scene: _Scene, clue: Clue, span: Span, chamber: str | None) -> str:
    """Say why there can be nothing to hear; empty where there can."""
    if chamber is None:
        return NOWHERE
    if clue.gauge is not Gauge.TEMPERATURE and _sealed(scene):
        return SEALED
    return JUST_NOW if span.start >= span.end else ""


def _published(species: Species, stage: Stage) -> float | None:
    wants = species.stages.get(stage)
    stated = wants.temperature_c if wants is not None else None
    return stated.high if stated is not None else None


def _window(species: Species, stage: Stage) -> Stated | None:
    """Return the days that it takes until pins from the beginning of a stage."""
    if stage is Stage.RESTING:
        return species.days_between
    wants = species.stages.get(stage)
    return wants.days if wants is not None else None
