"""Tokens for programs: listed, made, revoked.

No `Idempotency-Key` here: the answer to it would be kept, and the secret must not be.
"""

from fastapi import APIRouter, Request

from chamberwatch.web import token_shapes as shapes
from chamberwatch.web.gate import keeper_of, refuse_token
from chamberwatch.web.given import Id

router = APIRouter()


@router.get("/tokens", response_model=shapes.TokensOut)
def tokens(request: Request) -> shapes.TokensOut:
    """List all there ever were, without their secrets."""
    return shapes.TokensOut.of(keeper_of(request).tokens.all())


@router.post("/tokens", status_code=201, response_model=shapes.NewTokenOut)
def make(request: Request, given: shapes.TokenIn) -> shapes.NewTokenOut:
    """Make a token; its secret is in this answer and in no other. Needs a session."""
    # Else revoking one that got into wrong hands would not help: it may have made more.
    refuse_token(
        request, "A token can't make tokens. Log in, or use chamberwatch token new on the machine."
    )
    return shapes.NewTokenOut.made_now(*keeper_of(request).tokens.make(given.name))


@router.delete("/tokens/{number}", response_model=shapes.TokenOut)
def revoke(request: Request, number: Id) -> shapes.TokenOut:
    """Let a token open nothing from now on; it stays in the list. A token revokes only itself."""
    refuse_token(
        request,
        "A token can't revoke another. Log in, or use chamberwatch token revoke on the machine.",
        but=number,
    )
    return shapes.TokenOut.of(keeper_of(request).tokens.revoke(number))
