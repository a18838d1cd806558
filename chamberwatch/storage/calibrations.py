"""Corrections of sensors. Only ever added to: a newer one takes the place of an older."""

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import Connection, func, insert, select

from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.storage.tables import CALIBRATIONS


class SqlCalibrations:
    """Corrections of sensors, with who made them, when and how."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, calibration: Calibration) -> Calibration:
        """Keep it; return it with its id."""
        fresh = insert(CALIBRATIONS).values(
            sensor=calibration.sensor,
            quantity=calibration.quantity.value,
            slope=calibration.slope,
            offset=calibration.offset,
            at=calibration.at,
            who=calibration.who,
            how=calibration.how,
            recorded=calibration.recorded,
        )
        number = self._connection.execute(fresh.returning(CALIBRATIONS.c.id)).scalar_one()
        return replace(calibration, id=number)

    def all(self) -> Sequence[Calibration]:
        """Return all in the order in which they hold: by `at`, then by id."""
        asked = select(CALIBRATIONS).order_by(CALIBRATIONS.c.at, CALIBRATIONS.c.id)
        return [
            Calibration(
                row.id,
                row.sensor,
                Quantity(row.quantity),
                row.slope,
                row.offset,
                row.at,
                row.who,
                row.how,
                row.recorded,
            )
            for row in self._connection.execute(asked)
        ]

    def newest_id(self) -> int:
        """Return the id of the one told last, 0 if there is none; cheap enough for any commit."""
        return self._connection.scalar(select(func.max(CALIBRATIONS.c.id))) or 0
