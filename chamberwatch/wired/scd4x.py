"""The SCD4x: CO2, temperature and humidity, a value every 5 s."""

from chamberwatch.core.watch.wired import MAKES, Ill, Measured, WiredKind, WireError
from chamberwatch.wired.bus import Shared, channel, told
from chamberwatch.wired.tuning import Tuning, given_pressure_pa


class Scd4x:
    """One SCD4x, by the maker's driver.

    What is set here the sensor forgets when its power goes, on purpose: its memory takes 2,000
    writings, and it is set up anew whenever it was away.
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
            from sensirion_i2c_scd4x.device import Scd4xDevice

            device = Scd4xDevice(channel(self._bus, self._address))
            device.wake_up()  # not confirmed, as the data sheet says
            device.stop_periodic_measurement()
            serial = int(device.get_serial_number())
            if self._tuning.self_heating_k is not None:
                device.set_temperature_offset(self._tuning.self_heating_k)
            wanted = int(self._tuning.self_calibration)
            device.set_automatic_self_calibration_enabled(wanted)
            if device.get_automatic_self_calibration_enabled() != wanted:
                raise WireError(Ill.GARBLED, "its self-calibration can't be set")
            device.set_ambient_pressure(
                given_pressure_pa(MAKES[WiredKind.SCD4X], self._tuning.pressure_pa)
            )
            device.start_periodic_measurement()
            self._device = device
        return f"{serial:012x}"

    def read(self) -> Measured | None:
        """Return its newest values; None where it has none that were not read yet.

        Raises:
            WireError: it can't be read.
        """
        with told():
            if not self._device.get_data_ready_status():
                return None
            co2, temperature, humidity = self._device.read_measurement()
            return Measured(temperature.value, humidity.value, float(co2.value))
