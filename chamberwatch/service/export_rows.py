"""The tables in which everything is taken along: their columns, with units, and their rows."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.cells import (
    FROM_ARRIVAL,
    FROM_SENSOR,
    SENSOR,
    SENT,
    TIME,
    TIME_FROM,
    VALUES,
)
from chamberwatch.core.growing.batch import Entry, EntryKind
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import UNITS, Quantity, Reading
from chamberwatch.core.watch.reminder import Evidence, Move, Reminder

Cell = datetime | float | int | bool | str | None
Row = tuple[Cell, ...]


class Kind(StrEnum):
    """What can be taken along; the value names the file."""

    READINGS = "readings"
    BATCHES = "batches"
    ACTIONS = "actions"
    REMINDERS = "reminders"
    MOVES = "moves"


_EVIDENCE: Final = (
    "evidence_sensor",
    "evidence_quantity",
    "evidence_unit",
    "evidence_value",
    "evidence_low",
    "evidence_high",
    "evidence_trend_per_h",
    "evidence_since_utc",
)
_NO_EVIDENCE: Final[Row] = (None,) * len(_EVIDENCE)

# The first column of each is the moment by which the span is meant, but of reminders.
COLUMNS: Final[dict[Kind, tuple[str, ...]]] = {
    Kind.READINGS: (TIME, SENSOR, *VALUES.values(), *SENT.values(), TIME_FROM),
    Kind.BATCHES: tuple(
        """at_utc batch entry kind chamber shelf species container started_count substrate strain
        spawn wet_g dry_g moisture_pct parent_batch split_from_batch count other_batch weight_g
        stage flush sign note recorded_utc via corrects_entry replaced_by_entry holds""".split()  # noqa: SIM905 - a list to be read
    ),
    Kind.ACTIONS: tuple(
        """at_utc action chamber deed sprayed_g standing_g vented_min advised note recorded_utc
        via corrects_action replaced_by_action holds""".split()  # noqa: SIM905 - a list to be read
    ),
    Kind.REMINDERS: (
        *"""since_utc reminder chamber call subject state active priority episode moved_utc
        told_utc shelved_until_utc out_until_utc out_by out_why repeats""".split(),  # noqa: SIM905
        *_EVIDENCE,
    ),
    Kind.MOVES: (
        *"""time_utc move reminder episode chamber call subject event before after
        cause""".split(),  # noqa: SIM905
        *_EVIDENCE,
    ),
}


_WHOLE: Final = frozenset(
    """batch entry started_count parent_batch split_from_batch count other_batch flush
    corrects_entry replaced_by_entry action corrects_action replaced_by_action reminder episode
    repeats move""".split()  # noqa: SIM905
)
_FLAGS: Final = frozenset({"advised", "holds", "active"})
_FIGURES: Final = (
    "_c",
    "_pct",
    "_ppm",
    "_pa",
    "_v",
    "_g",
    "_min",
    "_value",
    "_low",
    "_high",
    "_h",
)


def type_of(column: str) -> type:
    """Return what stands in a column: datetime, float, int, bool or str."""
    if column.endswith("_utc"):
        return datetime
    if column in _WHOLE:
        return int
    if column in _FLAGS:
        return bool
    return float if column.endswith(_FIGURES) else str


def reading_rows(held: Sequence[Reading]) -> Iterator[Row]:
    """Yield what was read at one time, a row for each sensor."""
    rows: dict[tuple[str, bool], dict[Quantity, Reading]] = {}
    for reading in held:
        rows.setdefault((reading.sensor, reading.timed), {})[reading.quantity] = reading
    for (sensor, timed), found in rows.items():
        at = [found.get(quantity) for quantity in VALUES]
        values = [None if each is None else each.value for each in at]
        sent = [None if each is None else each.raw for each in at]
        yield (held[0].time, sensor, *values, *sent, FROM_SENSOR if timed else FROM_ARRIVAL)


def entry_row(entry: Entry, instead: int | None) -> Row:
    """Return what was told of a batch; `instead`: id of what was told in its place."""
    start = entry.start
    begun: Row = (None,) * 11
    if start is not None:
        begun = (
            start.species,
            start.container.value,
            start.count,
            start.substrate,
            start.strain,
            start.spawn,
            start.wet_g,
            start.dry_g,
            start.moisture_pct,
            start.parent,
            start.split_from,
        )
    return (
        entry.at,
        entry.batch,
        entry.id,
        entry.kind.value,
        entry.chamber,
        entry.shelf,
        *begun,
        entry.count,
        entry.other,
        entry.weight_g,
        None if entry.stage is None else entry.stage.value,
        entry.flush,
        entry.sign,
        entry.note,
        entry.recorded,
        entry.via,
        entry.corrects,
        instead,
        instead is None and entry.kind is not EntryKind.WITHDRAWN,
    )


def action_row(action: Action, instead: int | None) -> Row:
    """Return a deed; `instead`: id of what was told in its place."""
    return (
        action.at,
        action.id,
        action.chamber,
        action.deed.value,
        action.amount if action.deed is Deed.MISTED else None,
        action.standing_g,
        action.amount if action.deed is Deed.VENTED else None,
        action.advised,
        action.note,
        action.recorded,
        action.via,
        action.corrects,
        instead,
        instead is None and not action.withdrawn,
    )


def reminder_row(reminder: Reminder) -> Row:
    """Return how a reminder stands."""
    return (
        reminder.since,
        reminder.id,
        reminder.chamber,
        reminder.call.value,
        reminder.subject,
        reminder.state.value,
        reminder.active,
        reminder.priority.word,
        reminder.episode,
        reminder.moved,
        reminder.told,
        reminder.shelved_until,
        reminder.out_until,
        reminder.out_by,
        reminder.out_why,
        reminder.repeats,
        *_evidence(reminder.evidence),
    )


def move_row(number: int, move: Move, whose: Reminder) -> Row:
    """Return one move, with its id and the reminder that made it."""
    return (
        move.time,
        number,
        move.reminder,
        move.episode,
        whose.chamber,
        whose.call.value,
        whose.subject,
        move.event.value,
        move.before.value,
        move.after.value,
        move.cause,
        *_evidence(move.evidence),
    )


def _evidence(evidence: Evidence | None) -> Row:
    if evidence is None:
        return _NO_EVIDENCE
    return (
        evidence.sensor,
        None if evidence.quantity is None else evidence.quantity.value,
        None if evidence.quantity is None else UNITS[evidence.quantity],
        evidence.value,
        evidence.low,
        evidence.high,
        evidence.trend_per_h,
        evidence.since,
    )
