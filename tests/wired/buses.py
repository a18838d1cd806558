"""A bus without wires: sensors that answer byte by byte, with right checksums and with faults.

The checksum is reckoned here once more, so that the maker's driver is held against another hand.
"""

import errno
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

from chamberwatch.wired.bus import Answer, Shared

OK, BROKEN = 0, 4
NOT_THERE: Final = BROKEN, OSError(errno.EREMOTEIO, "Remote I/O error"), b""
WHILE_MEASURING: Final = (0x3F86, 0xEC05, 0xE4B8, 0xE000)
"""Source: data sheet SCD4x 1.3, table 9: all that it knows then."""


def checksum(word: bytes) -> int:
    """Return the CRC-8 of two bytes: polynomial 0x31, begun with 0xff."""
    rest = 0xFF
    for byte in word:
        rest ^= byte
        for _ in range(8):
            rest = ((rest << 1) ^ 0x31 if rest & 0x80 else rest << 1) & 0xFF
    return rest


def framed(plain: bytes) -> bytes:
    """Put its checksum behind every two bytes."""
    words = (plain[at : at + 2] for at in range(0, len(plain), 2))
    return b"".join(word + bytes([checksum(word)]) for word in words)


def words(*numbers: int) -> bytes:
    return framed(struct.pack(f">{len(numbers)}H", *numbers))


class NackError(Exception):
    """The sensor does not acknowledge."""


def _parts(said: bytes) -> tuple[int, int | None]:
    """Return the command, and what it is given, if anything."""
    (command,) = struct.unpack(">H", said[:2])
    return command, struct.unpack(">H", said[2:4])[0] if len(said) == 5 else None


@dataclass
class Sensor:
    """A sensor at the end of its wires; what it was told is kept."""

    told: list[bytes] = field(default_factory=list)

    def answer(self, said: bytes) -> bytes:
        """Return all it has to say, framed.

        Raises:
            NackError: it knows no such command now.
        """
        raise NotImplementedError


@dataclass
class FakeScd4x(Sensor):
    """Measures when it is told so; while it does, it knows only three commands."""

    co2_ppm: int = 500
    ticks: tuple[int, int] = (0x6667, 0x5EB9)
    new: bool = True
    measuring: bool = False
    self_calibration: int = 1  # as it comes from its maker

    def answer(self, said: bytes) -> bytes:
        command, given = _parts(said)
        if self.measuring and command not in WHILE_MEASURING:
            raise NackError
        if command == 0x2416 and given is not None:
            self.self_calibration = given
        elif command in (0x3F86, 0x21B1):
            self.measuring = command == 0x21B1
        elif command not in (0x241D, 0xE000):
            return self._says(command)
        return b""

    def _says(self, command: int) -> bytes:
        match command:
            case 0x2313:
                return words(self.self_calibration)
            case 0x3682:
                return bytes.fromhex("f896319f07c23bbe89")
            case 0xE4B8:
                return words(0x8006 if self.measuring and self.new else 0x8000)
            case 0xEC05 if self.measuring:
                return words(self.co2_ppm, *self.ticks)
            case _:  # waking up, 0x36f6, is never acknowledged
                raise NackError


@dataclass
class FakeScd30(Sensor):
    """Goes on measuring by itself; keeps what it was set to."""

    reading: bytes = bytes.fromhex("43db8c2e41d9e7ff42433a1b")
    new: bool = True
    knows_serial: bool = True
    kept: dict[int, int] = field(
        default_factory=lambda: {0x5306: 1, 0x4600: 2, 0x5403: 0, 0x0010: 0}
    )

    def answer(self, said: bytes) -> bytes:
        command, given = _parts(said)
        if given is not None:
            self.kept[command] = given
            return b""
        answers = {number: words(kept) for number, kept in self.kept.items()} | {
            0xD033: framed(b"3030-1234567890".ljust(32, b"\0")),
            0xD100: words(0x0342),
            0x0202: words(int(self.new)),
            0x0300: framed(self.reading),
        }
        if not self.knows_serial:
            del answers[0xD033]
        if command not in answers:
            raise NackError
        return answers[command]


@dataclass
class FakeSht4x(Sensor):
    """Measures when asked."""

    ticks: tuple[int, int] = (0x6667, 0x8000)
    serial: int = 0x0F4A31C7

    def answer(self, said: bytes) -> bytes:
        match said:
            case b"\xfd":
                return words(*self.ticks)
            case b"\x89":
                return framed(struct.pack(">I", self.serial))
            case _:
                raise NackError


Fault = Callable[[Answer], Answer]
"""Changes what comes back."""


@dataclass
class FakeBus:
    """The other end of `transceive`; `faults` are what happens to the next answers."""

    sensors: dict[int, Sensor] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    always: Fault | None = None
    opened: int = 0
    cannot_open: Exception | None = None
    asked: list[tuple[int, bytes]] = field(default_factory=list)

    API_VERSION = 1
    channel_count = None

    def open(self, _device: str) -> "FakeBus":
        if self.cannot_open is not None:
            raise self.cannot_open
        self.opened += 1
        return self

    def transceive(
        self,
        slave_address: int,
        tx_data: bytes | None,
        rx_length: int | None,
        read_delay: float,
        timeout: float,
    ) -> Answer:
        assert read_delay >= 0.0
        assert timeout >= 0.0
        said = tx_data or b""
        self.asked.append((slave_address, said))
        answer = self._answer(slave_address, said, rx_length or 0)
        if self.faults:
            return self.faults.pop(0)(answer)
        return self.always(answer) if self.always is not None else answer

    def _answer(self, address: int, said: bytes, length: int) -> Answer:
        sensor = self.sensors.get(address)
        if sensor is None:
            return NOT_THERE
        try:
            # What a sensor is told carries a right checksum, or it takes no notice.
            assert len(said) != 5 or checksum(said[2:4]) == said[4]
            sensor.told.append(said)
            return OK, None, sensor.answer(said)[:length]
        except NackError:
            return NOT_THERE


def shared(bus: FakeBus) -> Shared:
    return Shared("/dev/i2c-1", bus.open)


# ------------------------------------------------------------------ faults


def system_error(number: int) -> Fault:
    """Return a fault as the maker's transceiver passes on what the system said."""
    return lambda _answer: (BROKEN, OSError(number, errno.errorcode[number]), b"")


def status(number: int) -> Fault:
    """Return a fault by the maker's own status: 2 not acknowledged, 3 timed out."""
    return lambda _answer: (number, None, b"")


def one_bit_wrong(answer: Answer) -> Answer:
    code, error, read = answer
    return code, error, bytes([read[0] ^ 0x01, *read[1:]]) if read else read


def cut_short(answer: Answer) -> Answer:
    return answer[0], answer[1], answer[2][:3]


def never_mind(answer: Answer) -> Answer:
    return answer


def after(count: int, fault: Fault) -> Sequence[Fault]:
    """Return a fault that comes after so many answers."""
    return [*[never_mind] * count, fault]
