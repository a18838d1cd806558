"""A look at a bus: which of the sensors that are known here answer on it.

The questions are asked through the maker's common driver, so that a sensor is found before the
extra for it is installed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, assert_never

from chamberwatch.core.watch.wired import MAKES, Ill, WiredKind, WireError
from chamberwatch.wired import scd30, sht4x
from chamberwatch.wired.bus import Shared, ask

GONE: Final = frozenset({Ill.NO_DRIVER, Ill.NO_BUS, Ill.NO_RIGHT, Ill.HUNG})
"""With these the whole bus can't be looked at."""

TAKES_S: Final = 0.01
SCD4X_READY, SCD4X_SERIAL = b"\xe4\xb8", b"\x36\x82"
"""Source: data sheet SCD4x, table 9."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was found at an address.

    Attributes:
        kind: which sensor belongs there.
        address: on the bus.
        serial: its number; None where it can't tell it now, or where `ill` says why.
        ill: what is wrong with it; None: it answers as it should.
        detail: what the system or the sensor said of that.
    """

    kind: WiredKind
    address: int
    serial: str | None
    ill: Ill | None = None
    detail: str = ""


def look_at(bus: Shared) -> Iterator[Seen]:
    """Yield what answers, with harmless questions at the addresses of known sensors only.

    Raises:
        WireError: the bus itself can't be used.
    """
    for kind, make in MAKES.items():
        for address in make.addresses:
            seen = _at(bus, kind, address)
            if seen.ill is not Ill.NO_ANSWER:
                yield seen


def _at(bus: Shared, kind: WiredKind, address: int) -> Seen:
    try:
        return Seen(kind, address, _serial(bus, kind, address))
    except WireError as error:
        if error.ill in GONE:
            raise
        return Seen(kind, address, None, error.ill, error.detail)


def _serial(bus: Shared, kind: WiredKind, address: int) -> str | None:
    """Return a serial number; None where the sensor is at work and can't tell it.

    Raises:
        WireError: nothing answers as one does.
    """
    match kind:
        case WiredKind.SHT4X:
            return sht4x.Sht4x(bus, address).begin()
        case WiredKind.SCD30:
            return scd30.serial_number(bus, address)
        case WiredKind.SCD4X:
            ask(bus, address, SCD4X_READY, ">H", TAKES_S)
            return _of_scd4x(bus, address)
        case _:
            assert_never(kind)


def _of_scd4x(bus: Shared, address: int) -> str | None:
    try:
        words = ask(bus, address, SCD4X_SERIAL, ">HHH", TAKES_S)
    except WireError as error:
        if error.ill is Ill.NO_ANSWER:  # while it measures it answers nothing else
            return None
        raise
    return "".join(f"{word:04x}" for word in words)
