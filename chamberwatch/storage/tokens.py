"""Tokens for programs. Never removed: a revoked one stays, with when it was revoked."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from chamberwatch.service.small_books import Token
from chamberwatch.storage.tables import TOKENS


class SqlTokens:
    """Tokens, by what is kept of them."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, name: str, digest: str, made: datetime) -> Token:
        """Keep a new one; return it with its id."""
        fresh = insert(TOKENS).values(name=name, digest=digest, made=made)
        return _token(self._connection.execute(fresh.returning(TOKENS)).one())

    def all(self) -> Sequence[Token]:
        """Return all, by id."""
        found = self._connection.execute(select(TOKENS).order_by(TOKENS.c.id))
        return [_token(row) for row in found]

    def of_digest(self, digest: str) -> Token | None:
        """Return the one with this digest."""
        row = self._connection.execute(select(TOKENS).where(TOKENS.c.digest == digest)).first()
        return None if row is None else _token(row)

    def use(self, number: int, now: datetime) -> None:
        """Keep when it was last used."""
        self._connection.execute(update(TOKENS).where(TOKENS.c.id == number).values(used=now))

    def revoke(self, number: int, now: datetime) -> Token | None:
        """Revoke it, if it wasn't yet; return it, None if there is no such token."""
        one = TOKENS.c.id == number
        self._connection.execute(
            update(TOKENS).where(one, TOKENS.c.revoked.is_(None)).values(revoked=now)
        )
        row = self._connection.execute(select(TOKENS).where(one)).first()
        return None if row is None else _token(row)


def _token(row: Row[Any]) -> Token:
    return Token(row.id, row.name, row.made, row.used, row.revoked)
