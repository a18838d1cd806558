"""Who is told, how well each can be reached, and a test message."""

from typing import Annotated

from fastapi import APIRouter, Request
from fastapi import Path as InPath
from pydantic import BaseModel, Field

from chamberwatch.web.desk import addresses_of, desk_of
from chamberwatch.web.shapes import Moment

router = APIRouter()


class AddressOut(BaseModel):
    """One address; what it is made of is a secret and is not told."""

    name: str
    links: bool = Field(description="messages to it carry links")
    pictures: bool = Field(description="messages to it can carry a picture")
    last_went: Moment | None
    last_failed: Moment | None
    why_failed: str | None
    failing_since: Moment | None = Field(
        description="when the first failed since the last that went out; null: it is well"
    )
    waiting: int = Field(description="messages that wait because it can't be reached")
    away_until: Moment | None = Field(description="nobody is there until then; null: somebody is")


class AddressesOut(BaseModel):
    """All addresses."""

    addresses: list[AddressOut]


class TriedOut(BaseModel):
    """How a test message went."""

    address: str
    went: bool
    reason: str | None = Field(description="why it did not go; null: it went")
    picture: bool = Field(description="it carried a picture")


Name = Annotated[str, InPath(max_length=200, description="name of the address")]


@router.get("/addresses", response_model=AddressesOut)
def addresses(request: Request) -> AddressesOut:
    """List who is told, and how well each can be reached."""
    desk = desk_of(request)
    known = desk.addresses.all() if desk.addresses is not None else ()
    return AddressesOut(
        addresses=[
            AddressOut(
                name=each.name,
                links=each.links,
                pictures=each.pictures,
                last_went=each.went,
                last_failed=each.failed,
                why_failed=each.reason or None,
                failing_since=each.failing_since,
                waiting=each.waiting,
                away_until=each.away_until,
            )
            for each in known
        ]
    )


@router.post("/addresses/{name}/try", response_model=TriedOut)
def try_address(request: Request, name: Name) -> TriedOut:
    """Send a test message now; the answer says whether it went, and comes once that is known.

    Each request sends one: a test message may be asked for as often as one likes.
    """
    tried = addresses_of(desk_of(request)).send(name)
    return TriedOut(
        address=tried.address, went=tried.ok, reason=tried.reason or None, picture=tried.picture
    )
