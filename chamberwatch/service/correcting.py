"""What readings are worth, kept in memory for every thread.

The table is replaced as a whole and never changed, so a reading costs a look into a dict. It is
renewed when a calibration is recorded here, and with the next commit of the intake when the
command line recorded one in the same database.
"""

import threading

from chamberwatch.core.watch.calibrated import Corrections
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Reading
from chamberwatch.service.books import Book


class Corrector:
    """Makes of what a sensor sent what counts. Safe from any thread."""

    def __init__(self, house: House) -> None:
        """Begin with what the settings alone say; `catch_up` brings the calibrations."""
        self._house = house
        self._lock = threading.Lock()
        self._newest_id = 0
        self.table = Corrections.of(house, ())

    def catch_up(self, book: Book) -> bool:
        """Take over calibrations that are new in the book; tell whether there were any.

        Call it with a book in which none was added: what is rolled back must not stay here.
        """
        newest = book.calibrations.newest_id()
        # Two threads may come with books of different age: the newer one must stay.
        with self._lock:
            if newest <= self._newest_id:
                return False
            self.table = Corrections.of(self._house, book.calibrations.all())
            self._newest_id = newest
            return True

    def corrected(self, reading: Reading) -> Reading:
        """Return a reading as it counts, with what the sensor sent kept as `raw`."""
        return self.table.corrected(reading)
