"""What the API gives. Times are ISO 8601 in UTC with Z; unknown is null."""

from datetime import datetime, time, timedelta
from typing import Annotated, Any, Final

from pydantic import BaseModel, Field, PlainSerializer, WithJsonSchema

from chamberwatch.core.cells import utc_text
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.reminder import Call, Event, Evidence, Move, Reminder, State
from chamberwatch.service.views import ReminderNow


def _z(moment: datetime) -> str:
    return utc_text(moment)


def tenths(value: float | None) -> float | None:
    """Round an amount that a person measured out or was advised."""
    return None if value is None else round(value, 1)


def significant(value: float | None) -> float | None:
    """Round to three significant digits: what is a slope of noisy readings is no finer."""
    return None if value is None else float(f"{value:.3g}")


# A “time” of JSON Schema has an offset (RFC 3339, section 5.6); a local time of day has none.
_OF_DAY: Final = r"^([01]\d|2[0-3]):[0-5]\d:[0-5]\d$"
TimeOfDay = Annotated[
    time, WithJsonSchema({"type": "string", "pattern": _OF_DAY, "examples": ["07:30:00"]})
]
Moment = Annotated[datetime, PlainSerializer(_z, return_type=str)]


class ChamberOut(BaseModel):
    """One body of air, as declared."""

    name: str
    title: str
    stage: str | None
    volume_l: float | None
    shelves: list[str]
    surrounding: str | None
    air_changes_per_h: float | None = Field(description="closed, as stated")
    vent_air_changes_per_h: float | None = Field(description="while it is vented, as stated")
    wet_area_m2: float | None
    squeeze_g: float
    cover_u_w_per_m2k: float
    wet_at_most: timedelta
    visits: list[TimeOfDay] = Field(description="when the grower usually comes by, local time")

    @classmethod
    def of(cls, chamber: Chamber) -> "ChamberOut":
        """Write a chamber."""
        return cls.model_validate(chamber, from_attributes=True)


class RowOut(BaseModel):
    """One reading as it was sent."""

    time: Moment
    sensor: str | None
    value: float


class BucketOut(BaseModel):
    """The readings of one step; `time` is its start."""

    time: Moment
    min: float
    mean: float
    max: float
    count: int


class ReadingsOut(BaseModel):
    """Readings in order of time, and the cursor for more."""

    chamber: str
    quantity: str
    unit: str
    step_s: float | None
    rows: list[RowOut | BucketOut]
    next: str | None = Field(description="give it back as `cursor` for more; null: that was all")


class EvidenceOut(BaseModel):
    """The reading that spoke for a reminder."""

    sensor: str
    quantity: Quantity | None
    value: float | None
    low: float | None
    high: float | None
    trend_per_h: float | None
    since: Moment | None

    @classmethod
    def of(cls, evidence: Evidence) -> "EvidenceOut":
        """Write evidence."""
        return cls(
            sensor=evidence.sensor,
            quantity=evidence.quantity,
            value=evidence.value,
            low=evidence.low,
            high=evidence.high,
            trend_per_h=significant(evidence.trend_per_h),
            since=evidence.since,
        )


class ReminderOut(BaseModel):
    """A reminder as it stands."""

    id: int
    chamber: str
    call: Call
    subject: str
    state: State
    active: bool
    priority: str
    episode: int
    since: Moment | None
    moved: Moment | None
    told: Moment | None
    shelved_until: Moment | None
    out_until: Moment | None
    out_by: str
    out_why: str
    evidence: EvidenceOut | None

    @classmethod
    def fields_of(cls, reminder: Reminder) -> dict[str, Any]:
        """Return its fields, for this shape and the one below."""
        evidence = reminder.evidence
        return {
            "id": reminder.id,
            "chamber": reminder.chamber,
            "call": reminder.call,
            "subject": reminder.subject,
            "state": reminder.state,
            "active": reminder.active,
            "priority": reminder.priority.word,
            "episode": reminder.episode,
            "since": reminder.since,
            "moved": reminder.moved,
            "told": reminder.told,
            "shelved_until": reminder.shelved_until,
            "out_until": reminder.out_until,
            "out_by": reminder.out_by,
            "out_why": reminder.out_why,
            "evidence": EvidenceOut.of(evidence) if evidence else None,
        }

    @classmethod
    def of(cls, reminder: Reminder) -> "ReminderOut":
        """Write a reminder."""
        return cls(**cls.fields_of(reminder))


class ReminderNowOut(ReminderOut):
    """A reminder with the words of this moment."""

    title: str
    body: str

    @classmethod
    def with_words(cls, shown: ReminderNow) -> "ReminderNowOut":
        """Write a reminder with its words."""
        return cls(**cls.fields_of(shown.reminder), title=shown.title, body=shown.body)


class MoveOut(BaseModel):
    """One step in the life of a reminder."""

    id: int
    reminder: int
    episode: int
    event: Event
    before: State
    after: State
    time: Moment
    cause: str
    evidence: EvidenceOut | None

    @classmethod
    def of(cls, number: int, move: Move) -> "MoveOut":
        """Write a move with its own id."""
        return cls(
            id=number,
            reminder=move.reminder,
            episode=move.episode,
            event=move.event,
            before=move.before,
            after=move.after,
            time=move.time,
            cause=move.cause,
            evidence=EvidenceOut.of(move.evidence) if move.evidence else None,
        )


class ActionOut(BaseModel):
    """What a person did."""

    id: int
    chamber: str
    kind: Deed
    at: Moment
    note: str
    recorded: Moment
    via: str
    into_air_g: float | None
    standing_g: float | None
    vent_minutes: float | None
    advised: bool = Field(description="the amounts are those that were advised")
    corrects: int | None = Field(description="id of the deed that this one stands in for")
    withdrawn: bool = Field(description="what it stands in for did not happen")

    @classmethod
    def of(cls, action: Action) -> "ActionOut":
        """Write an action."""
        return cls(
            id=action.id,
            chamber=action.chamber,
            kind=action.deed,
            at=action.at,
            note=action.note,
            recorded=action.recorded,
            via=action.via,
            into_air_g=tenths(action.amount) if action.deed is Deed.MISTED else None,
            standing_g=tenths(action.standing_g),
            vent_minutes=tenths(action.amount) if action.deed is Deed.VENTED else None,
            advised=action.advised,
            corrects=action.corrects,
            withdrawn=action.withdrawn,
        )


class RejectOut(BaseModel):
    """A message that could not be taken in."""

    topic: str
    time: Moment
    reason: str
    excerpt: str

    @classmethod
    def of(cls, reject: Reject) -> "RejectOut":
        """Write a reject."""
        return cls(
            topic=reject.topic, time=reject.time, reason=reject.reason, excerpt=reject.excerpt
        )


class ChambersOut(BaseModel):
    """All chambers and rooms."""

    chambers: list[ChamberOut]


class RemindersOut(BaseModel):
    """Reminders by id."""

    reminders: list[ReminderNowOut]


class MovesOut(BaseModel):
    """Moves, oldest first; ask again with `after` = the last id."""

    moves: list[MoveOut]


class RejectsOut(BaseModel):
    """How many there ever were, and the newest."""

    count: int
    rejects: list[RejectOut]


class FaultOut(BaseModel):
    """One fault of a request: a JSON pointer into its body, or the parameter."""

    detail: str
    pointer: str | None = None
    parameter: str | None = None
    in_: str | None = Field(default=None, alias="in")


class ProblemOut(BaseModel):
    """An error (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    instance: str
    errors: list[FaultOut] | None = None


def json_of(shape: BaseModel) -> dict[str, Any]:
    """Return a shape as it is written."""
    return shape.model_dump(mode="json", by_alias=True)
