"""What the API takes about batches. Weights come in g, or as text with a unit."""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Annotated, Final
from zoneinfo import ZoneInfo

from pydantic import (
    AwareDatetime,
    BeforeValidator,
    Field,
    PlainValidator,
    TypeAdapter,
    WithJsonSchema,
)

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.core.growing.weights import grams
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling, on_day
from chamberwatch.web.given import FIRST_YEAR, LAST_YEAR, Given, Id
from chamberwatch.web.problems import ProblemError

_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MOMENT: Final = TypeAdapter(AwareDatetime)
WHEN_WORDS: Final = (
    "give a day such as 2026-01-20, or a time with its zone such as 2026-01-20T18:00:00Z"
)


def _when(value: object) -> datetime | date:
    try:
        said = _read(value)
    except (TypeError, ValueError, OverflowError) as exc:
        raise ValueError(WHEN_WORDS) from exc
    if not FIRST_YEAR <= said.year <= LAST_YEAR:
        raise ValueError("give a year between 1970 and 2200")
    return said


def _read(value: object) -> datetime | date:
    if isinstance(value, str) and _DAY.fullmatch(value):
        return date.fromisoformat(value)
    return _MOMENT.validate_python(value).astimezone(UTC)


When = Annotated[
    date,  # a datetime is one, too
    PlainValidator(_when),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "format": "date-time"},
                {"type": "string", "format": "date"},
            ]
        }
    ),
]
HEAVIEST_G: Final = 1e7
Grams = Annotated[float, Field(gt=0.0, le=HEAVIEST_G, allow_inf_nan=False)]
WeightText = Annotated[
    str, Field(max_length=60, description="with its unit: 620 g, 0.62 kg, 22 oz, 1 lb 6 oz")
]
Note = Annotated[str, Field(max_length=2000)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
Words = Annotated[str, Field(max_length=200)]


def _container(value: object) -> object:
    """Take the short name of a container, too, as it is typed elsewhere."""
    return next((each for each in Container if each.name.lower() == value), value)


InContainer = Annotated[Container, BeforeValidator(_container)]
Flush = Annotated[int, Field(ge=1, le=1000)]
Count = Annotated[int, Field(ge=1, le=100_000)]
AT: Final = "when it happened: a day (then noon, local time) or a time with zone; default: now"


def moment(said: date | None, now: datetime, zone: ZoneInfo) -> datetime | None:
    """Return when something happened: a day stands for its noon, today for now until then."""
    if said is None or isinstance(said, datetime):
        return said
    return on_day(said, now, zone)


def beginning(said: date | None, zone: ZoneInfo) -> datetime | None:
    """Return a time that bounds a stretch: a day stands for its beginning, local time."""
    if said is None or isinstance(said, datetime):
        return said
    return datetime.combine(said, time(0, 0), zone).astimezone(UTC)


def one_weight(weight_g: float | None, text: str | None, name: str) -> float | None:
    """Return a weight that was given in g or as text. [g].

    Raises:
        ProblemError: it was given twice.
        RefusedError: the text is no weight.
    """
    if text is None:
        return weight_g
    if weight_g is not None:
        raise ProblemError(422, "not-valid", f"Give {name}_g or {name}, not both.")
    said_g = grams(text)
    if not 0.0 < said_g <= HEAVIEST_G:
        raise ProblemError(422, "not-valid", f"{name}: give more than nothing, at most 10 t.")
    return said_g


class StartIn(Given):
    """A batch that was started."""

    species: Name = Field(description="its name in the species table")
    container: InContainer
    count: Count = Field(default=1, description="how many bags, jars, buckets, trays or logs")
    substrate: Words = ""
    strain: Words = ""
    spawn: Words = Field(default="", description="where the spawn came from")
    wet_g: Grams | None = Field(default=None, description="filled, all of them together, in g")
    wet: WeightText | None = None
    dry_g: Grams | None = Field(default=None, description="dry substrate in all of them, in g")
    dry: WeightText | None = None
    moisture_pct: float | None = Field(default=None, gt=0.0, lt=100.0)
    parent: Id | None = Field(default=None, description="batch that the spawn was taken from")
    chamber: Name | None = Field(default=None, description="null: in none, outdoors")
    shelf: Name | None = None
    at: When | None = Field(default=None, description=AT)
    note: Note = ""

    def start(self) -> Start:
        """Return what was started.

        Raises:
            ProblemError: a weight was given twice.
            RefusedError: a weight that is none.
        """
        return Start(
            species=self.species,
            container=self.container,
            count=self.count,
            substrate=self.substrate.strip(),
            strain=self.strain.strip(),
            spawn=self.spawn.strip(),
            wet_g=one_weight(self.wet_g, self.wet, "wet"),
            dry_g=one_weight(self.dry_g, self.dry, "dry"),
            moisture_pct=self.moisture_pct,
            parent=self.parent,
        )

    def place(self) -> Place:
        """Return where it stands.

        Raises:
            ProblemError: a shelf without a chamber.
        """
        return place_of(self.chamber, self.shelf)


def place_of(chamber: str | None, shelf: str | None) -> Place:
    """Return a place.

    Raises:
        ProblemError: a shelf without a chamber.
    """
    if chamber is None and shelf is not None:
        raise ProblemError(422, "not-valid", "A shelf is in a chamber. Give the chamber too.")
    return Place(chamber, shelf)


ELSEWHERE: Final[Mapping[EntryKind, str]] = {
    EntryKind.STARTED: "Start a batch with POST /batches.",
    EntryKind.SPLIT: "Split it with POST /batches/{number}/split.",
    EntryKind.WITHDRAWN: "Withdraw an entry with POST /entries/{number}/withdraw.",
}
NEEDS_PLACE: Final = (
    "Give the chamber that it was moved to, or null where it stands in none, such as outdoors."
)


class TellIn(Given):
    """What happened to a batch; which fields belong to which kind, the kind says."""

    kind: EntryKind
    at: When | None = Field(default=None, description=AT)
    note: Note = ""
    chamber: Name | None = Field(default=None, description="moved: where to; null: outdoors")
    shelf: Name | None = Field(default=None, description="moved: the shelf there")
    weight_g: Grams | None = Field(default=None, description="harvested: fresh weight, in g")
    weight: WeightText | None = None
    flush: Flush | None = Field(default=None, description="harvested, stage set: of which flush")
    stage: Stage | None = Field(default=None, description="stage set: which")
    sign: Words = Field(default="", description="looked at: name of the sign that was seen")

    def telling(self, at: datetime | None) -> Telling:
        """Return it as the record takes it.

        Raises:
            ProblemError: it isn't told this way, or something is missing or given twice.
            RefusedError: a weight that is none.
        """
        if self.kind in ELSEWHERE:
            raise ProblemError(422, "not-valid", ELSEWHERE[self.kind])
        if self.kind is EntryKind.MOVED and "chamber" not in self.model_fields_set:
            raise ProblemError(422, "not-valid", NEEDS_PLACE)
        return Telling(
            kind=self.kind,
            at=at,
            note=self.note.strip(),
            chamber=self.chamber,
            shelf=self.shelf,
            weight_g=one_weight(self.weight_g, self.weight, "weight"),
            stage=self.stage,
            flush=self.flush,
            sign=self.sign.strip(),
        )


class HarvestIn(Given):
    """A weighing."""

    batch: Id
    weight_g: Grams | None = Field(default=None, description="fresh weight, in g")
    weight: WeightText | None = None
    at: When | None = Field(default=None, description=AT)
    flush: Flush | None = Field(default=None, description="default: the one under way")
    note: Note = ""

    def told(self) -> TellIn:
        """Return it as an entry of its batch."""
        said = {name: getattr(self, name) for name in self.model_fields_set - {"batch"}}
        return TellIn.model_construct(kind=EntryKind.HARVESTED, **said)


class SplitIn(Given):
    """Some of a batch that go their own way from now on."""

    count: Count = Field(description="how many are taken out")
    chamber: Name | None = Field(
        default=None, description="where they go; null: outdoors; not given: they stay beside it"
    )
    shelf: Name | None = None
    at: When | None = Field(default=None, description=AT)
    note: Note = ""

    def place(self) -> Place | None:
        """Return where they go, None: they stay beside the others.

        Raises:
            ProblemError: a shelf without a chamber.
        """
        given = {"chamber", "shelf"} & self.model_fields_set
        return place_of(self.chamber, self.shelf) if given else None


class SignIn(Given):
    """Something that was seen on a batch."""

    sign: Name = Field(description="name of the sign, from GET /signs")
    at: When | None = Field(default=None, description=AT)
    note: str = Field(default="", max_length=400)


class WithdrawIn(Given):
    """Why an entry did not happen."""

    note: Note = ""


class CautionSeenIn(Given):
    """Who has seen a caution."""

    who: str = Field(min_length=1, max_length=100)
