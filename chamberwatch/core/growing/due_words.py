"""What is due and what can be done today, in the words of a person who stands before a shelf."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import GROWS, NEVER_SEALED, Batch, Container
from chamberwatch.core.growing.due import Due, DueKind, Window
from chamberwatch.core.growing.own_times import BROWNS, OWN
from chamberwatch.core.growing.species import Mark, Species
from chamberwatch.core.growing.task import Task, TaskKind, overdue
from chamberwatch.core.sentence import within

_YEAR_SHOWS: Final = timedelta(days=300)
"""Further away than this a date needs its year."""


@dataclass(frozen=True, slots=True)
class TaskWords:
    """What is said of a task: a first line, and the rest."""

    title: str
    body: str


def task_words(
    task: Task, batch: Batch | None, species: Species, now: datetime, zone: tzinfo
) -> TaskWords:
    """Write what to do, how, and why now.

    Args:
        task: what can be done.
        batch: with which; None with a start.
        species: of it.
        now: the time.
        zone: for dates.
    """
    name = within(species.title)
    if batch is None:
        return TaskWords(
            start_title(species, task.times), f"{_START} {_best(task, now, zone)}{_put(task)}"
        )
    do, how = _DO[task.kind](_Case(batch, species, now, zone))
    parts = (how, _best(task, now, zone), _where(task), _caution(task))
    return TaskWords(f"Batch {batch.id} ({name}): {do}", " ".join(part for part in parts if part))


def start_title(species: Species, times: int = 1) -> str:
    """Write in one line what to start.

    Args:
        species: of which.
        times: how many batches.
    """
    name = within(species.title)
    return f"Start the next {times} batches of {name}" if times > 1 else f"Start the next {name}"


def due_words(due: Due, now: datetime, zone: tzinfo) -> str:
    """Write in one line what is due and when, such as for a list or a calendar."""
    span, late = window_words(due.window, now, zone), now > due.window.high
    when = f"; it was expected {span}, so look now" if late else f", most likely {span}"
    season = f" {_IN_SEASON}" if due.kind is DueKind.WATER else ""
    known = _from(due.count, due.source)
    return f"Batch {due.batch}: {due_title(due)}{when}{known}.{season}"


def basis_words(due: Due) -> str:
    """Say on whose figures a window rests, such as “from the sources and 2 batches of yours”."""
    return _from(due.count, due.source).removeprefix("; ")


def due_title(due: Due) -> str:
    """Name what is due in a few words, such as “harvest of flush 2”."""
    what = _TITLES.get(due.kind, due.kind.value)
    return f"{what} of flush {due.flush}" if due.flush and due.kind in _OF_FLUSH else what


_IN_SEASON: Final = (
    "It bears in a mild, wet spell of spring or autumn, not in frost, so its pins and harvest "
    "have no date (common practice)."
)


_TITLES: Final[Mapping[DueKind, str]] = {
    DueKind.FLUSH: "harvest",
    DueKind.SOAK: "time to soak",
    DueKind.WATER: "time to water",
    DueKind.SPENT: "time to clear out",
}
_OF_FLUSH: Final = frozenset({DueKind.PINS, DueKind.HARVEST, DueKind.FLUSH})


# ------------------------------------------------------------------ dates


def window_words(window: Window, now: datetime, zone: tzinfo) -> str:
    """Write a window in dates, such as “between 3 and 8 December”."""
    low, high = window.low.astimezone(zone), window.high.astimezone(zone)
    far = abs(window.high - now) > _YEAR_SHOWS or abs(window.low - now) > _YEAR_SHOWS
    if low.date() == high.date():
        return f"around {day_words(high, far)}"
    if (low.year, low.month) == (high.year, high.month):
        return f"between {low.day} and {day_words(high, far)}"
    # One year is said once.
    first = day_words(low, far and low.year != high.year)
    return f"between {first} and {day_words(high, far)}"


def day_words(day: datetime, with_year: bool = False) -> str:
    """Write a date, such as “3 December”."""
    return f"{day:%-d %B %Y}" if with_year else f"{day:%-d %B}"


def _from(count: int, source: str) -> str:
    yours = "one batch of yours" if count == 1 else f"{count} batches of yours"
    if source == OWN:
        return f"; from {yours}"
    # Where there is no source, it is said how the figure is known.
    base = source if source in {mark.value for mark in Mark} else "from the sources"
    return f"; {base} and {yours}" if count else f"; {base}"


def _best(task: Task, now: datetime, zone: tzinfo) -> str:
    most = "Most likely ripe" if task.kind is TaskKind.HARVEST else "Best done"
    source = "" if task.kind is TaskKind.START else _from(task.count, task.source)
    late = " That is past, so look today." if overdue(task, now) else ""
    return f"{most} {window_words(task.window, now, zone)}{source}.{late}"


def _where(task: Task) -> str:
    return f"It stands in {_place(task)}." if task.chamber else ""


def _put(task: Task) -> str:
    """Say where the plan has room for what is started."""
    them = "it" if task.times == 1 else "them"
    return f" Put {them} in {_place(task)}." if task.chamber else ""


def _place(task: Task) -> str:
    return f"“{task.chamber}”, shelf “{task.shelf}”" if task.shelf else f"“{task.chamber}”"


# ------------------------------------------------------------------ what to do


@dataclass(frozen=True, slots=True)
class _Case:
    batch: Batch
    species: Species
    now: datetime
    zone: tzinfo


_START: Final = (
    "The rotation wants that now, so that there is no gap in the harvest. Have substrate and "
    "spawn ready, clean the bench and your hands, and record the start when it is done."
)
_CLEAN: Final = "Use clean hands and a clean knife."


def _mould(batch: Batch) -> str:
    never = batch.start.container in NEVER_SEALED
    first = "don't stir it" if never else "don't open it"
    return (
        f"If you see green or black, {first}: put it in a bag where it stands, take it outdoors, "
        "and record it as contaminated."
    )


def _pick(case: _Case) -> tuple[str, str]:
    when = case.species.pick_when or "while the caps are young"
    how = (
        f"Pick {when}. Twist or cut the whole cluster off at its base, don't shake it, "
        "weigh it and record the weight."
    )
    if case.batch.stage in GROWS:
        return "pick it", how
    return (
        "look whether it can be picked",
        f"No pins of this flush are on record, so look first. {how}",
    )


def _open(case: _Case) -> tuple[str, str]:
    if case.batch.stage is Stage.CASE_RUN:
        return "give it fresh air", (
            "The casing should be grown through. Where threads show on top of it, let fresh air "
            "in and a little coolness, and record that it was opened."
        )
    how = "Open or cut it where it is to fruit, and put it where the air is fresh and damp."
    last = f"{_CLEAN} {_mould(case.batch)}"
    if case.species.name in BROWNS:
        return _take_off(case, last)
    if case.batch.white_at is None:
        return "look whether it is white through", (
            "It may be by now. Look at the corners and the bottom too; what is not white yet "
            f"gets more days. If it is: {within(how)} {last}"
        )
    return "open it", f"It is white through. {how} {last}"


def _take_off(case: _Case, last: str) -> tuple[str, str]:
    """Open what turns white first, then brown all over."""
    first = "It is white through." if case.batch.white_at else "It should be white through by now."
    return "look whether it is brown all over", (
        f"{first} After that its skin turns brown, in two to four weeks. While less than two "
        "thirds of it is brown, leave it closed. Then take the bag off, and put it where the air "
        f"is fresh and damp (common practice). {last}"
    )


def _case(case: _Case) -> tuple[str, str]:
    white = "It is white through." if case.batch.white_at else "Look whether it is white through."
    return "case it", (
        f"{white} Then cover it with 3 to 5 cm of damp casing soil (common practice), keep it "
        f"warm and dark, and record that it was cased. Use clean hands. {_mould(case.batch)}"
    )


def _air(_: _Case) -> tuple[str, str]:
    return "give it more air", (
        "Its antlers are old enough for caps, which want fresh air and light. Give it both, and "
        "record that it was opened. If you want antlers, leave it as it is and pick those."
    )


def _soak(case: _Case) -> tuple[str, str]:
    logs = case.batch.start.container is Container.LOG
    it, frost = ("them", " In frost leave them till it is mild.") if logs else ("it", "")
    return f"soak {it}", (
        f"Lay {it} in cold, clean water for 6 to 24 hours, weighed down to stay under, let {it} "
        f"drain, and record that you soaked {it} (common practice).{frost}"
    )


def _water(case: _Case) -> tuple[str, str]:
    wet = case.batch.wetted_at or case.batch.started
    since = day_words(wet.astimezone(case.zone), case.now - wet > _YEAR_SHOWS)
    return "water the logs", (
        f"No rain and no soaking is on record since {since}. If it has rained well, record that. "
        "If not, water them through, or soak them for 6 to 24 hours and record the soaking. In "
        "frost leave them till it is mild."
    )


def _clear_out(case: _Case) -> tuple[str, str]:
    flushes = case.species.flushes
    given = flushes is not None and flushes.high is not None and case.batch.flush >= flushes.high
    why = (
        "It has given as many flushes as can be expected."
        if given
        else "Its next flush is long overdue. If it is still heavy, firm and "
        "clean you may keep it; else let it go."
    )
    return "clear it out", (
        f"{why} Put it in a bag before you carry it, so that spores and mould stay inside, take "
        "it outdoors, wipe its place, and record that it is spent."
    )


_DO: Final[Mapping[TaskKind, Callable[[_Case], tuple[str, str]]]] = {
    TaskKind.HARVEST: _pick,
    TaskKind.OPEN: _open,
    TaskKind.CASE: _case,
    TaskKind.AIR: _air,
    TaskKind.SOAK: _soak,
    TaskKind.WATER: _water,
    TaskKind.CLEAR_OUT: _clear_out,
}

_SPORES: Final = (
    "Spores hurt lungs over time: wear a close-fitting particle mask (FFP2, N95 or better) when "
    "you open a loaded chamber, and don't air it into a room that is lived in."
)


def _caution(task: Task) -> str:
    """Warn of spores where ripe caps share a closed air."""
    loaded = task.kind in (TaskKind.HARVEST, TaskKind.CLEAR_OUT) and task.chamber is not None
    return _SPORES if loaded else ""
