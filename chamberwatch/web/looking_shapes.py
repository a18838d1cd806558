"""What the API gives of signs and cautions: likely causes, what to do, and who says so."""

from collections.abc import Iterable

from pydantic import BaseModel, Field

from chamberwatch.core.growing.sign_words import source_words
from chamberwatch.core.growing.signs import Cause, Finding, Heard, Seen, Sign, Speaks
from chamberwatch.core.growing.spores import Caution
from chamberwatch.web.shapes import Moment, significant


class CauseOut(BaseModel):
    """What a sign may come from."""

    title: str
    why: str
    do: str = Field(description="what to do about it")
    source: str = Field(description="who says so, and how that was read")
    only: list[str] = Field(description="species in which it is a cause; empty: in all")

    @classmethod
    def of(cls, cause: Cause) -> "CauseOut":
        """Write a cause."""
        return cls(
            title=cause.title,
            why=cause.why,
            do=cause.do,
            source=source_words(cause.source, cause.mark),
            only=sorted(cause.only),
        )


class SignOut(BaseModel):
    """Something one can see on a crop."""

    name: str
    title: str
    contamination: bool = Field(description="it looks like a growth that was not spawned")
    only: list[str] = Field(description="species that can show it; empty: all")
    causes: list[CauseOut] = Field(description="likely ones first")

    @classmethod
    def of(cls, sign: Sign) -> "SignOut":
        """Write a sign."""
        return cls(
            name=sign.name,
            title=sign.title,
            contamination=sign.contamination,
            only=sorted(sign.only),
            causes=[CauseOut.of(cause) for cause in sign.causes],
        )


class SignsOut(BaseModel):
    """What may be seen."""

    signs: list[SignOut]

    @classmethod
    def of(cls, signs: Iterable[Sign]) -> "SignsOut":
        """Write signs in their order."""
        return cls(signs=[SignOut.of(sign) for sign in signs])


class HeardOut(BaseModel):
    """What was measured in the days before."""

    gauge: str
    side: str = Field(description="on which side of the limit it would speak for the cause")
    limit: float | None
    since: Moment
    until: Moment
    hours: int = Field(description="that were measured")
    beyond: int = Field(description="of these, beyond the limit")
    extreme: float | None

    @classmethod
    def of(cls, heard: Heard | None) -> "HeardOut | None":
        """Write what was heard, null where no sensor could tell."""
        if heard is None:
            return None
        return cls(
            gauge=heard.clue.gauge,
            side=heard.clue.side,
            limit=significant(heard.limit),
            since=heard.since,
            until=heard.until,
            hours=heard.hours,
            beyond=heard.beyond,
            extreme=significant(heard.extreme),
        )


class FindingOut(BaseModel):
    """A cause, and what the air has to say to it."""

    cause: CauseOut
    speaks: Speaks
    words: str = Field(description="what the air did, in a sentence")
    heard: HeardOut | None = Field(description="null: no sensor could tell")

    @classmethod
    def of(cls, finding: Finding) -> "FindingOut":
        """Write a finding."""
        return cls(
            cause=CauseOut.of(finding.cause),
            speaks=finding.speaks,
            words=finding.words,
            heard=HeardOut.of(finding.heard),
        )


class SeenOut(BaseModel):
    """A sign that was seen, joined to what the air did in the days before."""

    entry: int = Field(description="id under which it is kept in the record")
    batch: int
    sign: str
    title: str
    contamination: bool
    at: Moment
    findings: list[FindingOut] = Field(description="first those that the air speaks for")
    kept: str = Field(description="what stands in the record")

    @classmethod
    def of(cls, seen: Seen, entry: int, kept: str) -> "SeenOut":
        """Write what was seen."""
        return cls(
            entry=entry,
            batch=seen.batch,
            sign=seen.sign.name,
            title=seen.sign.title,
            contamination=seen.sign.contamination,
            at=seen.at,
            findings=[FindingOut.of(finding) for finding in seen.findings],
            kept=kept,
        )


class CautionOut(BaseModel):
    """Something to be minded, until somebody has seen it and given a name."""

    id: str
    chamber: str | None = Field(description="null: it is about a batch that stands in none")
    batch: int | None = Field(description="null: it is about a chamber")
    title: str
    body: str = Field(description="what it means, and what to do")
    sources: list[str]
    since: Moment

    @classmethod
    def of(cls, caution: Caution) -> "CautionOut":
        """Write a caution."""
        return cls(
            id=caution.id,
            chamber=caution.chamber,
            batch=caution.batch,
            title=caution.title,
            body=caution.body,
            sources=list(caution.sources),
            since=caution.since,
        )


class CautionsOut(BaseModel):
    """The cautions that stand."""

    cautions: list[CautionOut]


class CautionSeenOut(BaseModel):
    """Who has seen a caution."""

    id: str
    who: str
