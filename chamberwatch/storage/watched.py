"""How far each rule has come."""

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, select

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Level, Side, Watched
from chamberwatch.storage.dialects import insert
from chamberwatch.storage.tables import WATCHED


class SqlWatched:
    """The timers of the on- and off-delays."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def load(self) -> Sequence[Watched]:
        """Return all."""
        asked = select(WATCHED).order_by(*WATCHED.primary_key.columns)
        return [
            Watched(
                row.sensor,
                Quantity(row.quantity),
                Side(row.side),
                Level(row.level),
                row.active,
                row.turning_since,
            )
            for row in self._connection.execute(asked)
        ]

    def save(self, watched: Iterable[Watched]) -> None:
        """Keep these in place of what was kept of them."""
        rows = [
            {
                "sensor": item.sensor,
                "quantity": item.quantity.value,
                "side": item.side.value,
                "level": item.level.value,
                "active": item.active,
                "turning_since": item.turning_since,
            }
            for item in watched
        ]
        if not rows:
            return
        fresh = insert(self._connection, WATCHED)
        kept = {name: fresh.excluded[name] for name in ("active", "turning_since")}
        key = list(WATCHED.primary_key.columns)
        self._connection.execute(fresh.on_conflict_do_update(index_elements=key, set_=kept), rows)
