"""What the service needs from the edges; each satisfies these by shape. What is kept: `books`."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol

from chamberwatch.core.watch.reading import Quantity

# ------------------------------------------------------------------ time


class Clock(Protocol):
    """The only source of time."""

    boot: str
    """Identity of this boot: monotonic times compare only within one."""

    def now(self) -> datetime:
        """Return the wall clock, aware UTC."""
        ...

    def monotonic(self) -> float:
        """Return seconds that never step, in s."""
        ...

    def synchronised(self) -> bool:
        """Tell whether the kernel holds the wall clock to be set by a time service."""
        ...

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait for the event, at most that long on this clock; return whether it is set."""
        ...


# ------------------------------------------------------------------ messages in


@dataclass(frozen=True, slots=True)
class Arrival:
    """One MQTT message as it came, before anything was understood of it.

    Attributes:
        topic: its topic.
        payload: its bytes.
        retained: whether the broker sent it as last known value.
        mid: packet identifier, for the acknowledgement.
        qos: 0 needs no acknowledgement.
        connection: counts connections; an acknowledgement of an older one is dropped.
        wall: wall clock at arrival, aware UTC.
        monotonic_s: monotonic clock at arrival. [s]
    """

    topic: str
    payload: bytes
    retained: bool
    mid: int
    qos: int
    connection: int
    wall: datetime
    monotonic_s: float


@dataclass(frozen=True, slots=True)
class LinkUp:
    """A connection to the broker stands.

    Attributes:
        connection: its number.
        resumed: the broker kept our session, so what waited comes first.
        end_told: a `CaughtUp` comes behind what waited, as far as that can be known.
    """

    connection: int
    resumed: bool
    end_told: bool = False


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """All that had waited at the broker when the newest connection began has come."""


Incoming = Arrival | LinkUp | CaughtUp
"""What the link to the broker hands over, in order."""


class Acknowledger(Protocol):
    """Tells the broker that messages are safely kept."""

    def acknowledge(self, arrivals: Sequence[Arrival]) -> None:
        """Acknowledge in the order given. Messages of an older connection are left out."""
        ...


@dataclass(frozen=True, slots=True)
class Said:
    """One value read from a message: the sensor, and the time the message gave, if any."""

    sensor: str
    quantity: Quantity
    value: float
    time: datetime | None


class Reader(Protocol):
    """Understands payloads."""

    def read_all(self, arrival: Arrival) -> tuple[Sequence[Said], Sequence[str]]:
        """Return the values it gives, in the units of `core.watch.reading.UNITS`, and reasons.

        A reason says why a part of the message could not be read.

        Raises:
            BadPayloadError: nothing of it can be read; the text is kept as the reason.
        """
        ...


# ------------------------------------------------------------------ messages out


class Answering(StrEnum):
    """What a link in a message does."""

    SEEN = "seen"
    MISTED = "misted"
    VENTED = "vented"
    REFILLED = "refilled"
    LATER = "later"


class Links(Protocol):
    """Makes the signed links of a message."""

    def link(self, reminder: int, episode: int, answering: Answering) -> str:
        """Return a full address that, opened, asks once and then does it."""
        ...


class Trouble(StrEnum):
    """What kind of failure it was: how soon another try is worth it."""

    PASSING = "passing"
    """A network or a service that is down: it may be well in a minute."""
    CROWDED = "crowded"
    """The service asked for fewer messages. By how much it may have said (Retry-After, RFC 9110
    10.2.3), but the notification library doesn't hand that on."""
    LASTING = "lasting"
    """It stays so until somebody changes something: a password, an address."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a delivery went: ok, or the reason in words (never with a secret)."""

    ok: bool
    reason: str = ""
    trouble: Trouble = Trouble.PASSING


class Messenger(Protocol):
    """One address."""

    @property
    def name(self) -> str:
        """Return what it is called; the address itself may hold a secret."""
        ...

    @property
    def links(self) -> Links | None:
        """Return what makes its links; None: the page can't be reached from there."""
        ...

    @property
    def pictures(self) -> bool:
        """Tell whether a picture can go with a message."""
        ...

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        """Hand the message over, with a picture (PNG) where there is one.

        Never raises for what a network may do, and a picture that is not taken is no failure.
        """
        ...


class Outlet(Protocol):
    """Where the state of things is put up for lamps, buzzers and displays."""

    def connection(self) -> int | None:
        """Return the number of the connection that stands, None while there is none."""
        ...

    def publish(self, topic: str, body: str) -> bool:
        """Put up a message in place of the former one; an empty one only takes that away.

        Never waits. Returns False where it was not taken; say it again later.
        """
        ...
