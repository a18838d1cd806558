"""A bus of this machine, and what its errors mean.

The maker's drivers speak to a *transceiver*, an object that can do one thing: `transceive`, write
to an address, wait, and read from it. On this machine that is the maker's own for Linux, behind
a lock of ours: a look at the bus and the process that measures must not read each other's answers,
which carry right checksums too. Tests put another in its place.
"""

import errno
import fcntl
import os
import struct
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final, Protocol

from chamberwatch.core.watch.wired import Ill, WireError
from chamberwatch.service.ports import Clock

LOCK_LOOK_S: Final = 0.05
LOCK_PATIENCE_S: Final = 5.0

Answer = tuple[int, object, bytes]
"""Status (0: fine), error, and the bytes that were read."""


class Transceiver(Protocol):
    """What the maker's drivers need of a bus, by the maker's own interface, version 1."""

    API_VERSION: int

    @property
    def channel_count(self) -> None:
        """None: one bus and not several at once."""
        ...

    def transceive(
        self,
        slave_address: int,
        tx_data: bytes | None,
        rx_length: int | None,
        read_delay: float,
        timeout: float,
    ) -> Answer:
        """Write to an address, wait, and read from it."""
        ...


Opener = Callable[[str], Transceiver]
"""Opens a bus by the name of its file."""


class LockedBus:
    """The maker's transceiver for Linux, one conversation at a time on this machine."""

    API_VERSION = 1
    channel_count = None

    def __init__(self, device: str, clock: Clock) -> None:
        """Open a bus.

        Args:
            device: its file, such as /dev/i2c-1.
            clock: waits for another program that has the bus.

        Raises:
            WireError: it isn't there, or may not be opened, or the driver is not installed.
        """
        self._clock = clock
        self._never = threading.Event()
        with told():
            from sensirion_i2c_driver import LinuxI2cTransceiver

            self._bus = LinuxI2cTransceiver(device)
            try:
                self._lock = os.open(device, os.O_RDWR)
            except OSError:
                self._bus.close()
                raise

    def close(self) -> None:
        """Give the bus back."""
        with suppress(OSError):
            self._bus.close()
        with suppress(OSError):
            os.close(self._lock)

    def transceive(
        self,
        slave_address: int,
        tx_data: bytes | None,
        rx_length: int | None,
        read_delay: float,
        timeout: float,
    ) -> Answer:
        """Write to an address, wait, and read from it, while nobody else does."""
        self._have()
        try:
            answer: Answer = self._bus.transceive(
                slave_address, tx_data, rx_length, read_delay, timeout
            )
            return answer
        finally:
            fcntl.flock(self._lock, fcntl.LOCK_UN)

    def _have(self) -> None:
        """Take the lock.

        Raises:
            OSError: another program has it for too long.
        """
        end_s = self._clock.monotonic() + LOCK_PATIENCE_S
        while True:
            try:
                fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if self._clock.monotonic() >= end_s:
                    raise OSError(errno.EBUSY, "another program has the bus") from None
                self._clock.wait(self._never, LOCK_LOOK_S)
            else:
                return


class Shared:
    """A bus for all its sensors: opened when it is first needed, and anew when its file went."""

    API_VERSION = 1
    channel_count = None

    def __init__(self, device: str, opener: Opener) -> None:
        """Prepare; nothing is opened yet."""
        self.device = device
        self._opener = opener
        self._open: Transceiver | None = None

    def transceive(
        self,
        slave_address: int,
        tx_data: bytes | None,
        rx_length: int | None,
        read_delay: float,
        timeout: float,
    ) -> Answer:
        """Write to an address, wait, and read from it.

        Raises:
            WireError: the bus can't be opened.
            OSError: the system has no such address for us.
        """
        if self._open is None:
            self._open = self._opener(self.device)
        answer = self._open.transceive(slave_address, tx_data, rx_length, read_delay, timeout)
        error = answer[1]
        if isinstance(error, OSError) and error.errno in (errno.ENODEV, errno.EBADF):
            self.close()
        return answer

    def close(self) -> None:
        """Close it, if it is open."""
        former, self._open = self._open, None
        close = getattr(former, "close", None)
        if close is not None:
            close()


def channel(bus: Transceiver, address: int) -> Any:  # noqa: ANN401 - untyped
    """Return the maker's channel to one sensor, with its checksums.

    Source of the checksum (polynomial 0x31, begun with 0xff, after every two bytes): data sheets
    of the three, such as SHT4x section 4.4.

    Raises:
        WireError: the driver is not installed.
    """
    with told():
        from sensirion_driver_adapters.i2c_adapter.i2c_channel import I2cChannel
        from sensirion_i2c_driver import CrcCalculator, I2cConnection

        class Connection(I2cConnection):  # type: ignore[misc]  # untyped
            """Leaves waiting to the transceiver, which has waited by then."""

            def execute(self, slave_address: int, command: object) -> object:
                return super().execute(slave_address, command, wait_post_process=False)

        crc = CrcCalculator(8, 0x31, 0xFF, 0x00)
        return I2cChannel(Connection(bus), slave_address=address, crc=crc)


def ask(
    bus: Transceiver, address: int, command: bytes, answer: str, takes_s: float
) -> tuple[Any, ...]:
    """Say a command without anything to it, and return what is answered.

    Args:
        bus: the bus.
        address: of the sensor.
        command: one or two bytes.
        answer: its shape, as `struct` writes it; one `s` field comes as text.
        takes_s: how long the sensor needs for it. [s]

    Raises:
        WireError: it can't be asked, or its answer can't be read.
    """
    with told():
        from sensirion_driver_adapters.rx_tx_data import RxData

        found: tuple[Any, ...] = channel(bus, address).write_read(
            command, len(command), RxData(answer), device_busy_delay=takes_s
        )
        return found


# ------------------------------------------------------------------ what errors mean

_MEANS: Final[Mapping[int, Ill]] = {
    **dict.fromkeys((errno.ENOENT, errno.ENODEV, errno.ENOTDIR), Ill.NO_BUS),
    **dict.fromkeys((errno.EACCES, errno.EPERM), Ill.NO_RIGHT),
    errno.EBUSY: Ill.IN_USE,
    # The two that drivers of buses use for "not acknowledged"; EIO is what some say instead.
    **dict.fromkeys((errno.ENXIO, errno.EREMOTEIO, errno.EIO), Ill.NO_ANSWER),
    **dict.fromkeys((errno.ETIMEDOUT, errno.ETIME, errno.EAGAIN), Ill.HUNG),
}
"""Source: Linux kernel documentation, I2C/SMBUS Fault Codes."""


@contextmanager
def told() -> Iterator[None]:
    """Turn what the system and the maker's drivers raise into what is wrong.

    Raises:
        WireError: something was raised.
    """
    try:
        yield
    except ImportError as error:
        raise WireError(Ill.NO_DRIVER, str(error)) from error
    except OSError as error:  # the drivers' own errors are of this kind too
        raise _of_system(error) from error
    except (ValueError, TypeError, AssertionError, struct.error) as error:
        # An answer that is too short or holds letters that are none.
        raise WireError(Ill.GARBLED, str(error) or "an answer without sense") from error


def _of_system(error: OSError) -> WireError:
    cause = getattr(error, "transceiver_error", None)
    name = type(error).__name__
    if name == "I2cChecksumError":
        received = getattr(error, "received_checksum", 0)
        expected = getattr(error, "expected_checksum", 0)
        return WireError(Ill.WRONG_SUM, f"0x{received:02x} in place of 0x{expected:02x}")
    if name in ("I2cNackError", "I2cTimeoutError"):
        return WireError(Ill.NO_ANSWER if name == "I2cNackError" else Ill.HUNG, str(error))
    told_by = cause if isinstance(cause, OSError) else error
    number = told_by.errno
    ill = Ill.GARBLED if number is None else _MEANS.get(number, Ill.GARBLED)
    return WireError(ill, told_by.strerror or str(told_by))


def buses(folder: Path = Path("/dev")) -> list[int]:
    """Return the numbers of the buses of this machine."""
    found = (path.name.removeprefix("i2c-") for path in folder.glob("i2c-*"))
    return sorted(int(number) for number in found if number.isdecimal())
