"""What readings are worth, kept in memory for every thread.

The table is replaced as a whole and never changed, so a reading costs a look into a dict. It is
renewed when a calibration is recorded here, and with the next commit of the intake when the
command line recorded one in the same database.
"""

import threading
from collections.abc import Iterable

from chamberwatch.core.watch.calibrated import Calibration, Corrections
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Reading
from chamberwatch.service.board import SETTLING, Board
from chamberwatch.service.books import Book


class Corrector:
    """Makes of what a sensor sent what counts. Safe from any thread."""

    def __init__(self, house: House, board: Board | None = None) -> None:
        """Begin with what the settings alone say; `catch_up` brings the calibrations.

        Args:
            house: what the grower declared.
            board: told which chambers settle, since a sensor in them says something else now.
        """
        self._house = house
        self._board = board
        self._lock = threading.Lock()
        self._newest_id = 0
        self._begun = False
        self.table = Corrections.of(house, ())

    def catch_up(self, book: Book) -> bool:
        """Take over calibrations that are new in the book; tell whether there were any.

        Call it with a book in which none was added: what is rolled back must not stay here.
        """
        newest = book.calibrations.newest_id()
        # Two threads may come with books of different age: the newer one must stay.
        with self._lock:
            begun, self._begun = self._begun, True
            if newest <= self._newest_id:
                return False
            every = book.calibrations.all()
            self.table = Corrections.of(self._house, every)
            before, self._newest_id = self._newest_id, newest
        # At the start nothing has changed: the readings were corrected so before.
        if begun:
            self._settle([each for each in every if each.id > before])
        return True

    def _settle(self, fresh: Iterable[Calibration]) -> None:
        """Leave the chambers in peace whose sensors say something else from now on."""
        for each in fresh:
            sensor = self._house.sensors.get(each.sensor)
            if sensor is not None and self._board is not None:
                begins = each.recorded
                self._board.settle(sensor.chamber, begins, begins + SETTLING)

    def corrected(self, reading: Reading) -> Reading:
        """Return a reading as it counts, with what the sensor sent kept as `raw`."""
        return self.table.corrected(reading)
