"""The SCD30: CO2, temperature and humidity, a value every 2 s."""

from typing import Final

from chamberwatch.core.watch.wired import MAKES, Ill, Measured, WiredKind, WireError
from chamberwatch.wired.bus import Shared, ask, channel, told
from chamberwatch.wired.tuning import Tuning, given_pressure_pa

INTERVAL_S: Final = 2
TAKES_S: Final = 0.01
SERIAL, FIRMWARE = b"\xd0\x33", b"\xd1\x00"
"""Source: the maker's driver; interface description SCD30 1.0, section 1.4.9."""

PA_PER_MBAR: Final = 100.0


def serial_number(bus: Shared, address: int) -> str:
    """Return its serial number; of an older one, that doesn't tell it, its firmware.

    Raises:
        WireError: nothing answers as one does.
    """
    try:
        (text,) = ask(bus, address, SERIAL, ">32s", TAKES_S)
    except WireError as error:
        if error.ill not in (Ill.NO_ANSWER, Ill.GARBLED):
            raise
        major, minor = ask(bus, address, FIRMWARE, ">BB", TAKES_S)
        return f"unknown (firmware {major}.{minor})"
    return str(text)


class Scd30:
    """One SCD30, by the maker's driver.

    It keeps what is set without power and goes on measuring by itself; so it is asked first and
    told only what differs, for its memory wears.
    """

    def __init__(self, bus: Shared, address: int, tuning: Tuning) -> None:
        """Prepare; nothing is said to the sensor yet."""
        self._bus, self._address, self._tuning = bus, address, tuning

    def begin(self) -> str:
        """Set it up and start it, whatever it is doing now; return its serial number.

        Raises:
            WireError: it can't be.
        """
        with told():
            from sensirion_i2c_scd30.device import Scd30Device

            device = Scd30Device(channel(self._bus, self._address))
            serial = serial_number(self._bus, self._address)
            wanted = int(self._tuning.self_calibration)
            if device.get_auto_calibration_status() != wanted:
                device.activate_auto_calibration(wanted)
            if device.get_measurement_interval() != INTERVAL_S:
                device.set_measurement_interval(INTERVAL_S)
            if self._tuning.self_heating_k is not None:
                hundredths = round(self._tuning.self_heating_k * 100.0)
                if device.get_temperature_offset() != hundredths:
                    device.set_temperature_offset(hundredths)
            pressure_pa = given_pressure_pa(MAKES[WiredKind.SCD30], self._tuning.pressure_pa)
            device.start_periodic_measurement(round(pressure_pa / PA_PER_MBAR))
            self._device = device
        return serial

    def read(self) -> Measured | None:
        """Return its newest values; None where it has none that were not read yet.

        Raises:
            WireError: it can't be read.
        """
        with told():
            if not self._device.get_data_ready():
                return None
            co2_ppm, temperature_c, humidity_pct = self._device.read_measurement_data()
            return Measured(temperature_c, humidity_pct, co2_ppm)
