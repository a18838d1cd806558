"""Tokens as the API takes and gives them."""

from collections.abc import Sequence

from pydantic import BaseModel, Field

from chamberwatch.service.small_books import Token
from chamberwatch.service.tokens import LONGEST_NAME
from chamberwatch.web.given import Given
from chamberwatch.web.shapes import Moment


class TokenIn(Given):
    """A token that is wanted."""

    name: str = Field(min_length=1, max_length=LONGEST_NAME, description="of the program")


class TokenOut(BaseModel):
    """One token, without its secret."""

    id: int
    name: str
    made: Moment
    used: Moment | None = Field(description="when it last opened something, to the hour")
    revoked: Moment | None = Field(description="from when on it opens nothing")

    @classmethod
    def of(cls, token: Token) -> "TokenOut":
        """Write a token."""
        return cls.model_validate(token, from_attributes=True)


class NewTokenOut(TokenOut):
    """One that was made just now."""

    token: str = Field(description="the secret; shown this once")

    @classmethod
    def made_now(cls, token: Token, secret: str) -> "NewTokenOut":
        """Write a token with its secret."""
        return cls(**TokenOut.of(token).model_dump(), token=secret)


class TokensOut(BaseModel):
    """All tokens, by number."""

    tokens: list[TokenOut]

    @classmethod
    def of(cls, tokens: Sequence[Token]) -> "TokensOut":
        """Write tokens."""
        return cls(tokens=[TokenOut.of(token) for token in tokens])
