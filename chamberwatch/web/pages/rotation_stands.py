"""Who stands where, from when to when: what the chart of a rotation is drawn from."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.rotation.plan import (
    Awaited,
    Plan,
    PlannedMove,
    PlannedStart,
    Space,
    UnderWay,
)
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _


@dataclass(frozen=True, slots=True)
class Known:
    """What a chart is drawn from.

    Attributes:
        plan: the starts and moves.
        wish: fresh weight wanted a week of all species together. [kg]
        under_way: the batches that live.
        batches: all there are.
        spaces: where they can stand.
        titles: of the chambers, by name.
        species: common names.
        today: the day.
    """

    plan: Plan
    wish: tuple[float, float]
    under_way: Sequence[UnderWay]
    batches: Mapping[int, Batch]
    spaces: Sequence[Space]
    titles: Mapping[str, str]
    species: Mapping[str, str]
    today: date


@dataclass(frozen=True, slots=True)
class Stretch:
    """A batch at one place, in days.

    Attributes:
        place: chamber and shelf; chamber empty: in none.
        since: first day there.
        until: the day by which it has left.
        opens: the day it was or is opened; None: it stays sealed there.
        harvests: what is expected there.
        label: what stands in the bar.
        name: what it is called in words.
        planned: yet to be started.
        starts: it is started here, on that day.
    """

    place: tuple[str, str]
    since: date
    until: date
    opens: date | None
    harvests: tuple[Awaited, ...]
    label: str
    name: str
    planned: bool = False
    starts: bool = False


def stretches_of(known: Known, figures: Figures) -> Iterator[Stretch]:
    """Yield who stands where from when to when."""
    moves = {move.batch: move for move in known.plan.moves}
    for batch in known.under_way:
        yield from _of_batch(known, batch, moves.get(batch.batch), figures)
    for start in known.plan.starts:
        yield from _of_start(known, start)


def _of_batch(
    known: Known, batch: UnderWay, move: PlannedMove | None, figures: Figures
) -> Iterator[Stretch]:
    whole = known.batches[batch.batch]
    title = known.species.get(batch.species, batch.species)
    label, name = (
        f"{batch.batch} {title.lower()}",
        _("batch %(batch)s, %(title)s", batch=batch.batch, title=title.lower()),
    )
    begun = whole.started.astimezone(figures.zone).date()
    leaves = day_of(batch.leaves.high)
    here = (batch.chamber or "", batch.shelf or "")
    if batch.open:
        opened = (whole.opened_at or whole.since).astimezone(figures.zone).date()
        yield Stretch(here, begun, leaves, opened, batch.harvests, label, name)
    elif move is None:
        opens = None if batch.opens is None else day_of(batch.opens.high)
        yield Stretch(here, begun, leaves, opens, batch.harvests, label, name)
    else:
        yield from _moved(
            Stretch(here, begun, move.leaves_on, move.opens_on, batch.harvests, label, name),
            move.fruit_at,
        )


def _of_start(known: Known, start: PlannedStart) -> Iterator[Stretch]:
    title = known.species.get(start.species, start.species).lower()
    whole = Stretch(
        start.colonise_at or start.fruit_at,
        start.on,
        start.leaves_on,
        start.opens_on,
        start.harvests,
        title,
        _("start %(title)s", title=title),
        planned=True,
        starts=True,
    )
    yield from _moved(whole, start.fruit_at)


def _moved(whole: Stretch, fruits: tuple[str, str]) -> Iterator[Stretch]:
    """Yield a batch where it colonises and where it fruits, as one where that is the same."""
    if whole.place == fruits or whole.opens is None:
        yield whole
        return
    yield replace(whole, until=whole.opens, opens=None, harvests=())
    yield replace(whole, place=fruits, since=whole.opens, starts=False)


def day_of(time: date) -> date:
    """Return the day of a time, in the zone that it carries."""
    return time.date() if isinstance(time, datetime) else time


def places_of(
    known: Known, stretches: Sequence[Stretch]
) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield each chamber with its title and shelves; last where else something stands."""
    for space in known.spaces:
        more = _beside(stretches, space.chamber, space.shelves)
        title = known.titles.get(space.chamber, space.chamber)
        yield space.chamber, title, (*space.shelves, *more)
    planned = {space.chamber for space in known.spaces}
    for chamber in dict.fromkeys(s.place[0] for s in stretches if s.place[0] not in planned):
        title = known.titles.get(chamber, chamber) or _("in no chamber")
        yield chamber, title, _beside(stretches, chamber, ())


def _beside(stretches: Iterable[Stretch], chamber: str, shelves: Sequence[str]) -> tuple[str, ...]:
    """Return shelves on which something stands and which nobody declared."""
    found = (s.place[1] for s in stretches if s.place[0] == chamber)
    return tuple(dict.fromkeys(name for name in found if name not in shelves))


def lanes_of(here: Iterable[Stretch]) -> list[list[Stretch]]:
    """Put stretches that overlap beside one another, in as few lanes as it takes."""
    lanes: list[list[Stretch]] = []
    for stretch in here:
        free = next((lane for lane in lanes if lane[-1].until <= stretch.since), None)
        if free is None:
            lanes.append([stretch])
        else:
            free.append(stretch)
    return lanes
