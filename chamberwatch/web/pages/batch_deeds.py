"""Doing what the list of the day says: a tap, or a weight and a tap, and the record has it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.task import Task, TaskKind
from chamberwatch.core.growing.weights import grams
from chamberwatch.service.growing.told import Telling
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.buttons import leads_back, once_field
from chamberwatch.web.pages.said import VIA, Back, Once, answered

router = APIRouter(include_in_schema=False)

DONE: Final[Mapping[TaskKind, tuple[EntryKind, str]]] = {
    TaskKind.OPEN: (EntryKind.OPENED, marked("Opened just now")),
    TaskKind.CASE: (EntryKind.CASED, marked("Cased just now")),
    TaskKind.AIR: (EntryKind.OPENED, marked("Given more air")),
    TaskKind.HARVEST: (EntryKind.HARVESTED, marked("Picked")),
    TaskKind.SOAK: (EntryKind.SOAKED, marked("Soaked just now")),
    TaskKind.WATER: (EntryKind.SOAKED, marked("Watered just now")),
    TaskKind.CLEAR_OUT: (EntryKind.SPENT, marked("Cleared out")),
}
"""What a task comes to in the record. A start needs more than a tap."""


@dataclass(frozen=True, slots=True)
class BatchDeed:
    """The form that says a task was done. `weighs`: it asks for a weight."""

    id: str
    label: str
    says: str
    fields: tuple[tuple[str, str], ...]
    weighs: bool


def deeds(desk: Desk, chamber: str, *, whole: bool) -> Mapping[str, BatchDeed]:
    """Return the forms for the tasks of a chamber, by the task's key."""
    if desk.growing is None:
        return {}
    tasks = [shown.task for shown in desk.growing.duties.tasks()]
    return {
        task.key: _deed(task, chamber, whole=whole)
        for task in tasks
        if task.kind in DONE and task.chamber == chamber
    }


def _deed(task: Task, chamber: str, *, whole: bool) -> BatchDeed:
    kind, label = DONE[task.kind]
    label = _(label)
    return BatchDeed(
        id=f"deed-{task.key}",
        label=label,
        says=_("%(label)s: batch %(batch)s", label=label, batch=task.batch),
        fields=(
            ("batch", str(task.batch)),
            ("kind", kind.value),
            leads_back(chamber, whole=whole),
            once_field(),
        ),
        weighs=kind is EntryKind.HARVESTED,
    )


@router.post("/grew")
def grew(
    request: Request,
    batch: Annotated[Id, Form()],
    kind: Annotated[EntryKind, Form()],
    once: Once,
    weight: Annotated[str, Form(max_length=60)] = "",
    back: Back = "",
) -> Response:
    """Keep what was done with a batch."""
    record = growing_of(request).record
    weight_g = grams(weight) if weight.strip() else None
    telling = Telling(kind, weight_g=weight_g)
    return answered(desk_of(request), once, back, "grew", lambda: record.tell(batch, telling, VIA))
