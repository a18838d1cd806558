"""Tokens for programs: listed, made, revoked.

No `Idempotency-Key` here: the answer to it would be kept, and the secret must not be.
"""

from fastapi import APIRouter, Request

from chamberwatch.web import token_shapes as shapes
from chamberwatch.web.gate import Came, how_came, keeper_of
from chamberwatch.web.given import Id
from chamberwatch.web.problems import ProblemError

router = APIRouter()


@router.get("/tokens", response_model=shapes.TokensOut)
def tokens(request: Request) -> shapes.TokensOut:
    """List all there ever were, without their secrets."""
    return shapes.TokensOut.of(keeper_of(request).tokens.all())


@router.post("/tokens", status_code=201, response_model=shapes.NewTokenOut)
def make(request: Request, given: shapes.TokenIn) -> shapes.NewTokenOut:
    """Make a token; its secret is in this answer and in no other. Needs a session."""
    if how_came(request) is Came.TOKEN:
        # Else revoking one that got into wrong hands would not help: it may have made more.
        raise ProblemError(
            403,
            "refused",
            "A token can't make tokens. Log in, or use chamberwatch token new on the machine.",
        )
    return shapes.NewTokenOut.made_now(*keeper_of(request).tokens.make(given.name))


@router.delete("/tokens/{number}", response_model=shapes.TokenOut)
def revoke(request: Request, number: Id) -> shapes.TokenOut:
    """Let a token open nothing from now on; it stays in the list, with when that was."""
    return shapes.TokenOut.of(keeper_of(request).tokens.revoke(number))
