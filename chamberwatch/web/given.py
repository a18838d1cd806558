"""What the API takes in requests. Fields that are not known are refused."""

from datetime import UTC, datetime, timedelta
from typing import Annotated, Final

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
)

from chamberwatch.core.watch.action import Deed
from chamberwatch.service.out_of_service import WHO_CHARS, WHY_CHARS

BIGGEST_ID: Final = 2**63 - 1
FIRST_YEAR, LAST_YEAR = 1970, 2200


def _in_utc(moment: datetime) -> datetime:
    try:
        utc = moment.astimezone(UTC)
    except OverflowError as exc:
        raise ValueError("give a year between 1970 and 2200") from exc
    if not FIRST_YEAR <= utc.year <= LAST_YEAR:
        raise ValueError("give a year between 1970 and 2200")
    return utc


def _iso_duration(value: object) -> object:
    # pydantic would also take a bare number of seconds; one way to write it is enough.
    if isinstance(value, timedelta) or (isinstance(value, str) and value.startswith("P")):
        return value
    raise ValueError("give an ISO 8601 duration such as PT15M")


def _positive(value: timedelta) -> timedelta:
    if value <= timedelta(0):
        raise ValueError("give a duration longer than nothing")
    return value


GivenMoment = Annotated[AwareDatetime, AfterValidator(_in_utc)]
GivenDuration = Annotated[
    timedelta,
    BeforeValidator(_iso_duration),
    AfterValidator(_positive),
    WithJsonSchema({"type": "string", "format": "duration", "examples": ["PT30M"]}),
]
Id = Annotated[int, Field(ge=1, le=BIGGEST_ID)]


class Given(BaseModel):
    """A body that is sent to us; fields we do not know are refused."""

    model_config = ConfigDict(extra="forbid")


class ShelveIn(Given):
    """How long a reminder shall be quiet."""

    for_: GivenDuration = Field(alias="for", description="ISO 8601 duration, at most PT24H")


class OutOfServiceIn(Given):
    """Why a reminder is taken out of service, by whom, and until when."""

    why: str = Field(
        min_length=1, max_length=WHY_CHARS, description="whoever finds it so will ask"
    )
    who: str = Field(min_length=1, max_length=WHO_CHARS)
    until: GivenMoment | None = Field(
        default=None, description="when it is put back by itself; without it: by a person"
    )


class InServiceIn(Given):
    """Who puts a reminder back in service."""

    who: str = Field(min_length=1, max_length=WHO_CHARS)


class AcknowledgeIn(Given):
    """Which episode was seen; without it, whatever there is."""

    episode: Id | None = None


class ActionIn(Given):
    """A deed."""

    chamber: str = Field(max_length=200)
    kind: Deed
    at: GivenMoment | None = Field(default=None, description="when it was done; default: now")
    note: str = Field(default="", max_length=2000)
    into_air_g: float | None = Field(
        default=None, ge=0, le=5000, description="misted: water sprayed into the air, in g"
    )
    standing_g: float | None = Field(
        default=None, ge=0, le=50000, description="misted: water put onto walls and trays, in g"
    )
    vent_minutes: float | None = Field(
        default=None, gt=0, le=1440, description="vented: how long it was open, in min"
    )
