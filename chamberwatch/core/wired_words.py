"""What is said of sensors on wires: what is wrong, what to do, and that it is over."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.wired import LOOKED_BACK, MAKES, Ill, WiredKind

SLOWER: Final = (
    "put dtparam=i2c_arm_baudrate=10000 into /boot/firmware/config.txt and restart the machine"
)
LOOK: Final = "chamberwatch wired --look lists what answers"

_UNIT: Final = {Quantity.TEMPERATURE: "°C", Quantity.HUMIDITY: "%", Quantity.CO2: "ppm CO2"}


@dataclass(frozen=True, slots=True)
class Whose:
    """The sensor that is spoken of.

    Attributes:
        name: its name in the settings.
        kind: what it is.
        bus: number of its bus.
        address: on that bus.
    """

    name: str
    kind: WiredKind
    bus: int
    address: int

    @property
    def device(self) -> str:
        """The file of its bus."""
        return device_of(self.bus)

    def __str__(self) -> str:
        """Read as its name and what it is."""
        return f"{self.name} ({MAKES[self.kind].title} at 0x{self.address:02x})"


def device_of(bus: int) -> str:
    """Return the file of a bus."""
    return f"/dev/i2c-{bus}"


def value_in_words(quantity: Quantity, value: float) -> str:
    """Return a value with its unit."""
    return f"{value:g} {_UNIT[quantity]}"


def no_bus(device: str) -> str:
    """Say that there is no such bus, and what to do."""
    return (
        f"there is no {device}. I2C is not switched on: sudo raspi-config nonint do_i2c 0, then "
        "restart the machine; or correct bus in [[wired]]."
    )


def no_right(device: str) -> str:
    """Say that a bus may not be opened, and what to do."""
    return (
        f"{device} may not be opened. Our user has to be in the group i2c: sudo adduser $USER "
        "i2c, then log in again. The installed service may use bus 1; for another: sudo systemctl "
        f"edit chamberwatch-wired, [Service], DeviceAllow={device} rw."
    )


def of_a_bus(device: str, ill: Ill, detail: str) -> str:
    """Say why a whole bus can't be looked at, and what to do."""
    match ill:
        case Ill.NO_BUS:
            return f"{device}: {no_bus(device)}"
        case Ill.NO_RIGHT:
            return no_right(device)
        case Ill.NO_DRIVER:
            return (
                f"{device}: no driver is installed ({detail}). Install chamberwatch with the "
                "extra of your sensor, scd4x, scd30 or sht4x: pip install 'chamberwatch[scd4x]'."
            )
        case _:
            return (
                f"{device} can't be looked at ({detail}). Take the power off the sensors for ten "
                "seconds, and look for a wet plug or a short circuit meanwhile."
            )


def begins(whose: Whose, ill: Ill, detail: str) -> str:
    """Say that something is wrong with a sensor, and what to do.

    Args:
        whose: the sensor.
        ill: what is wrong.
        detail: what the system or the sensor said.
    """
    device, kind = whose.device, whose.kind
    match ill:
        case Ill.NO_DRIVER:
            words = (
                "its driver is not installed. Install chamberwatch with the extra "
                f"“{kind}”: pip install 'chamberwatch[{kind}]'."
            )
        case Ill.NO_BUS:
            words = no_bus(device)
        case Ill.NO_RIGHT:
            words = no_right(device)
        case _:
            words = _of_wires(whose, ill, detail)
    return f"{whose}: {words}"


def _of_wires(whose: Whose, ill: Ill, detail: str) -> str:
    """Say what is wrong on the wires."""
    device = whose.device
    stretches = (
        f" An SCD30 holds the bus for up to 150 ms, longer than a Pi waits for it: {SLOWER}."
    )
    return {
        Ill.IN_USE: (
            f"another program or a driver of the system has {device} or this address. End it, or "
            "take its dtoverlay line out of /boot/firmware/config.txt."
        ),
        Ill.NO_ANSWER: (
            f"nothing answers there on {device}. Switch off, then look at the plug and at all "
            f"four wires (3.3 V, ground, SDA, SCL); {LOOK}."
        ),
        Ill.WRONG_SUM: (
            f"what it says comes with wrong checksums ({detail}). The wires are too long, loose, "
            "or too near to a pump or a mains cable: keep them under half a metre, or slow the "
            f"bus down: {SLOWER}."
        ),
        Ill.HUNG: (
            f"{device} hangs; one of its lines is held down. Take the power off the sensors for "
            "ten seconds, and look for a wet plug or a short circuit meanwhile."
            + (stretches if whose.kind is WiredKind.SCD30 else "")
        ),
        Ill.GARBLED: (
            f"what it says can't be read ({detail}). Look whether that address belongs to a "
            f"sensor of this kind; {LOOK}."
        ),
        Ill.IMPOSSIBLE: (
            f"it says {detail}, which can't be; nothing of it is passed on. Take its power off "
            "for ten seconds; if it goes on so, let it dry, or replace it."
        ),
        Ill.STUCK: (
            "it has said the same to the last digit for too long to be alive; nothing of it is "
            "passed on. Take its power off for ten seconds; if it goes on so, replace it."
        ),
        Ill.NOTHING_NEW: (
            "it answers but has nothing new to say; it is set up anew. If this comes again, its "
            "power is too weak: look at the 3.3 V wire."
        ),
        Ill.OFTEN: (
            f"many of the last {LOOKED_BACK} attempts to read it failed, at the last {detail}. "
            "The wires are too long, loose, or too near to a pump or a mains cable: keep them "
            f"under half a metre, or slow the bus down: {SLOWER}."
        ),
    }[ill]


def over(whose: Whose, lasted_s: float) -> str:
    """Say that a sensor is well again.

    Args:
        whose: the sensor.
        lasted_s: how long it was not. [s]
    """
    return f"{whose}: measures again, after {lasting(lasted_s)}."


def lasting(seconds: float) -> str:
    """Return a length of time in words."""
    minutes = round(seconds / 60.0)
    if minutes < 2:
        return f"{seconds:.0f} s"
    return f"{minutes} min" if minutes < 120 else f"{minutes / 60.0:.0f} h"


def begun(whose: Whose, topic: str, serial: str) -> str:
    """Say that a sensor has been set up."""
    return f"{whose}: serial number {serial}; speaks on {topic}."


def blocked(device: str, for_s: float) -> str:
    """Say that a bus does not come back from a call to the system."""
    return (
        f"{device} has not answered for {for_s:.0f} s and blocks its sensors. Look for a wet plug "
        "or a short circuit, and take the power off the sensors for ten seconds."
    )


def unblocked(device: str) -> str:
    """Say that a bus answers again."""
    return f"{device} answers again."


def dropping(at_most: int) -> str:
    """Say that more waits for the broker than is kept."""
    return (
        f"{at_most} readings wait to be handed over, and no more are kept: the oldest go. Bring "
        "the broker back, or let the clock be set."
    )


def dropped(lost: int) -> str:
    """Say how many readings were lost."""
    return f"Readings are handed over again; {readings(lost)} had to go."


def unsent(left: int) -> str:
    """Say how many readings are lost because this is the end."""
    return f"{readings(left).capitalize()} could not be handed over before the end."


def readings(count: int) -> str:
    """Return a number of readings."""
    return "one reading" if count == 1 else f"{count} readings"


def waits_for_clock() -> str:
    """Say that readings wait until it is known when they were taken."""
    return (
        "The clock of this machine is not set yet. What is measured now is passed on without a "
        "time; what had to wait for the broker goes on waiting until the clock is set."
    )
