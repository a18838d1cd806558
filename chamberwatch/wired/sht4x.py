"""The SHT4x: temperature and humidity, measured when it is asked.

Its two commands are spoken through the maker's common driver. The maker's own package for it can
not be installed beside those for the CO2 sensors, and the three belong together in one tent.
"""

from typing import Final

from chamberwatch.core.watch.wired import Measured
from chamberwatch.wired.bus import Shared, ask

MEASURE: Final = b"\xfd"
"""With the highest repeatability, and without heating it."""
SERIAL: Final = b"\x89"
TAKES_S: Final = 0.01
"""The longest measurement takes 8.3 ms."""


class Sht4x:
    """One SHT4x. Source of its commands and figures: data sheet SHT4x (2023), section 4.5."""

    def __init__(self, bus: Shared, address: int) -> None:
        """Prepare; nothing is said to the sensor yet."""
        self._bus, self._address = bus, address

    def begin(self) -> str:
        """Return its serial number; there is nothing to set.

        Raises:
            WireError: it doesn't answer.
        """
        (serial,) = ask(self._bus, self._address, SERIAL, ">I", TAKES_S)
        return f"{serial:08x}"

    def read(self) -> Measured:
        """Measure.

        Raises:
            WireError: it can't be read.
        """
        temperature, humidity = ask(self._bus, self._address, MEASURE, ">HH", TAKES_S)
        # Near the ends its humidity may come out beyond them, and is to be cut off there.
        humidity_pct = min(max(-6.0 + 125.0 * humidity / 65535.0, 0.0), 100.0)
        return Measured(-45.0 + 175.0 * temperature / 65535.0, humidity_pct)
