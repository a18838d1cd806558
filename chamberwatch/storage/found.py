"""Mistings and ventings found in the readings, and air changes fitted to them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.service.books import Span
from chamberwatch.storage.tables import EXCHANGES, FOUND


class SqlFound:
    """Mistings and ventings."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, found: Found) -> Found:
        """Keep it; return it with its id."""
        fresh = insert(FOUND).values(**_columns(found))
        number = self._connection.execute(fresh.returning(FOUND.c.id)).scalar_one()
        return replace(found, id=number)

    def save(self, found: Found) -> None:
        """Keep its new state."""
        self._connection.execute(
            update(FOUND).where(FOUND.c.id == found.id).values(**_columns(found))
        )

    def get(self, number: int) -> Found | None:
        """Return one by its id."""
        row = self._connection.execute(select(FOUND).where(FOUND.c.id == number)).first()
        return None if row is None else found_of(row)

    def within(self, chamber: str, span: Span) -> Sequence[Found]:
        """Return what began within a span, oldest first."""
        asked = (
            select(FOUND)
            .where(
                FOUND.c.chamber == chamber,
                FOUND.c.start >= span.start,
                FOUND.c.start < span.end,
            )
            .order_by(FOUND.c.start, FOUND.c.id)
        )
        return [found_of(row) for row in self._connection.execute(asked)]


class SqlExchanges:
    """Air changes over stretches of time."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, exchange: Exchange) -> Exchange:
        """Keep it; return it with its id."""
        fresh = insert(EXCHANGES).values(
            chamber=exchange.chamber,
            start=exchange.start,
            end=exchange.end,
            vented=exchange.vented,
            per_h=exchange.per_h,
            low=exchange.low,
            high=exchange.high,
            r2=exchange.r2,
            end_ppm=exchange.end_ppm,
            inlet_ppm=exchange.inlet_ppm,
            inlet_measured=exchange.inlet_measured,
            source_g_per_h=exchange.source_g_per_h,
            refusal=exchange.refusal,
        )
        number = self._connection.execute(fresh.returning(EXCHANGES.c.id)).scalar_one()
        return replace(exchange, id=number)

    def within(self, chamber: str, span: Span) -> Sequence[Exchange]:
        """Return stretches that began within a span, oldest first."""
        asked = (
            select(EXCHANGES)
            .where(
                EXCHANGES.c.chamber == chamber,
                EXCHANGES.c.start >= span.start,
                EXCHANGES.c.start < span.end,
            )
            .order_by(EXCHANGES.c.start, EXCHANGES.c.id)
        )
        return [_exchange(row) for row in self._connection.execute(asked)]


def _columns(found: Found) -> dict[str, Any]:
    return {
        "chamber": found.chamber,
        "kind": found.kind.value,
        "start": found.start,
        "end": found.end,
        "action": found.action,
        "confirmed": found.confirmed,
        "humidity_before_pct": found.humidity_before_pct,
        "humidity_after_pct": found.humidity_after_pct,
        "vapour_gain_g_per_m3": found.vapour_gain_g_per_m3,
        "co2_before_ppm": found.co2_before_ppm,
        "co2_after_ppm": found.co2_after_ppm,
        "held_s": None if found.held is None else found.held.total_seconds(),
        "amount": found.amount,
    }


def found_of(row: Row[Any]) -> Found:
    """Return a row as what was found."""
    return Found(
        row.id,
        row.chamber,
        Kind(row.kind),
        row.start,
        row.end,
        row.action,
        row.confirmed,
        row.humidity_before_pct,
        row.humidity_after_pct,
        row.vapour_gain_g_per_m3,
        row.co2_before_ppm,
        row.co2_after_ppm,
        None if row.held_s is None else timedelta(seconds=row.held_s),
        row.amount,
    )


def _exchange(row: Row[Any]) -> Exchange:
    return Exchange(
        row.id,
        row.chamber,
        row.start,
        row.end,
        row.vented,
        row.per_h,
        row.low,
        row.high,
        row.r2,
        row.end_ppm,
        row.inlet_ppm,
        row.inlet_measured,
        row.source_g_per_h,
        row.refusal,
    )
