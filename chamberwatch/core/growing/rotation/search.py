"""The plan of starts for a wish: what to start when and where, and what comes of it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.rotation.gives import gives, helps
from chamberwatch.core.growing.rotation.goal import Kind, by_week, kind_of
from chamberwatch.core.growing.rotation.improve import WORK
from chamberwatch.core.growing.rotation.plan import (
    WEEK_D,
    WEEKS,
    Awaited,
    Plan,
    PlannedMove,
    PlannedStart,
    Space,
    Timing,
    UnderWay,
    Wanted,
    WeekExpectation,
)
from chamberwatch.core.growing.rotation.room import Held
from chamberwatch.core.growing.rotation.solve import Ask, Solved, crops, is_stuck, shelved, solved
from chamberwatch.core.growing.rotation.takes import (
    batch_kg,
    lacking,
    slots_for,
    starts_per_week,
    timing,
    unfit,
)
from chamberwatch.core.growing.rotation.words import help_words
from chamberwatch.core.growing.species import SpeciesTable


def plan(  # noqa: PLR0913, PLR0917 - all of it makes the question
    wanted: Sequence[Wanted],
    spaces: Sequence[Space],
    under_way: Sequence[UnderWay],
    table: SpeciesTable,
    today: date,
    weeks: int = WEEKS,
    timings: Mapping[str, Timing] | None = None,
) -> Plan:
    """Return the best plan that is found, and what gives where it falls short of the wish.

    Args:
        wanted: what is wanted, each species once.
        spaces: where batches can stand.
        under_way: those that were started already; they hold their slots first.
        table: all species.
        today: the first day on which something can be started.
        weeks: how many to plan, from that of today.
        timings: how long batches take, where that is not as the species' figures say.

    Raises:
        RefusedError: a species is wanted twice, or too much or too little of it, or it has too
            few figures; the text says what to change.
        UnknownNameError: there is no such species.
    """
    _refuse_twice(wanted, table)
    kinds = tuple(_kind(each, table, timings or {}) for each in wanted)
    ask = Ask(kinds, tuple(spaces), tuple(under_way), table, today, weeks)
    return _told(ask, solved(ask, WORK), timings or {})


def _kind(wanted: Wanted, table: SpeciesTable, timings: Mapping[str, Timing]) -> Kind:
    species = table.get(wanted.species)
    time, kg = timings.get(species.name) or timing(species), batch_kg(species, wanted.batch_dry_g)
    if time is None or not kg[0]:
        raise RefusedError(lacking(species))
    if words := unfit(wanted, species):
        raise RefusedError(words)
    return kind_of(wanted, kg, time)


def _refuse_twice(wanted: Sequence[Wanted], table: SpeciesTable) -> None:
    for name, times in Counter(each.species for each in wanted).items():
        if times > 1:
            title = table.known(name).title
            raise RefusedError(f"{title} is wanted {times} times. Make them one wish.")


# ------------------------------------------------------------------ dates and words


def _told(ask: Ask, found: Solved, timings: Mapping[str, Timing]) -> Plan:
    held = shelved(ask, found)
    changes = helps(ask, found)
    falls = gives(ask, found, held, changes)
    species = [ask.table.get(kind.wanted.species) for kind in ask.kinds]
    rates = {
        each.name: starts_per_week(kind.wanted, each)
        for kind, each in zip(ask.kinds, species, strict=True)
    }
    times = {each.name: timings.get(each.name) or timing(each) for each in species}
    return Plan(
        starts=tuple(_starts(ask, found, held)),
        weeks=tuple(_weeks(ask, found)),
        gives=falls,
        starts_per_week=rates,
        slots={name: slots_for(rates[name], time) for name, time in times.items() if time},
        meets=not falls,
        helps=tuple(help_words(change) for change in changes),
        stuck=tuple(u.batch for u in ask.under_way if is_stuck(u, found.under_way[u.batch])),
        moves=tuple(_moves(ask, found, held)),
    )


def _day(ask: Ask, day: int) -> date:
    return ask.today + timedelta(days=day)


def _starts(ask: Ask, found: Solved, held: Sequence[Mapping[int, Held]]) -> Iterator[PlannedStart]:
    for number, stay in enumerate(found.planned):
        kind = ask.kinds[stay.kind]
        began = held[stay.store][2 * number]
        moved = held[stay.bed].get(2 * number + 1, began)
        low, high = kind.kg
        yield PlannedStart(
            species=kind.wanted.species,
            on=_day(ask, stay.on),
            colonise_at=(ask.spaces[stay.store].chamber, began.shelf),
            opens_on=_day(ask, stay.opens),
            fruit_at=(ask.spaces[stay.bed].chamber, moved.shelf),
            leaves_on=_day(ask, stay.end),
            harvests=tuple(
                Awaited(_day(ask, first), _day(ask, last), part * low, part * high)
                for first, last, part in kind.windows(stay)
            ),
        )


def _moves(ask: Ask, found: Solved, held: Sequence[Mapping[int, Held]]) -> Iterator[PlannedMove]:
    """Yield the openings of the sealed batches under way."""
    for number, (batch, stay) in enumerate(found.under_way.items(), len(found.planned)):
        if stay.opens and stay.bed >= 0:
            stood = held[stay.store][2 * number] if stay.bed == stay.store else None
            put = stood or held[stay.bed][2 * number + 1]
            yield PlannedMove(
                batch,
                _day(ask, stay.opens),
                (ask.spaces[stay.bed].chamber, put.shelf),
                _day(ask, stay.end),
            )


Crop = tuple[int, int, float, float]


def _weeks(ask: Ask, found: Solved) -> Iterator[WeekExpectation]:
    """Return what to expect each week, of all that is planned and under way."""
    coming: dict[str, list[Crop]] = {name: [] for name in ask.names}
    for stay in found.planned:
        kind = ask.kinds[stay.kind]
        coming[kind.wanted.species] += [
            (first, last, part * kind.kg[0], part * kind.kg[1])
            for first, last, part in kind.windows(stay)
        ]
    for batch in ask.under_way:
        coming[batch.species] += crops(ask, batch, found.under_way[batch.batch])
    ends = {
        name: (_ends(ask, flushes, 2), _ends(ask, flushes, 3)) for name, flushes in coming.items()
    }
    for week in range(ask.weeks):
        by_species = {name: (low[week], high[week]) for name, (low, high) in ends.items()}
        least, most = (sum(kg[end] for kg in by_species.values()) for end in (0, 1))
        yield WeekExpectation(
            _day(ask, ask.calendar.first + week * WEEK_D), least, most, by_species
        )


def _ends(ask: Ask, flushes: Sequence[Crop], end: int) -> list[float]:
    return by_week(((f[0], f[1], f[end]) for f in flushes), ask.calendar.first, ask.weeks)
