"""What the faces tell: the parts of the desk that take something in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol

from chamberwatch.core.air.calibration import SaltReading
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Reminder
from chamberwatch.core.watch.settled import Settled
from chamberwatch.service.amending import DeedTold
from chamberwatch.service.calibrating import Recorded, SensorCalibrations, Told
from chamberwatch.service.guided import Begun
from chamberwatch.service.out_of_service import Reason
from chamberwatch.service.views import (
    AddressNow,
    Tried,
)
from chamberwatch.settings import Edit


class Logbook(Protocol):
    """Takes in what people say."""

    def act(
        self,
        chamber: str,
        deed: Deed,
        at: datetime | None,
        note: str,
        via: str,
        amounts: Amounts | None = None,
    ) -> Action:
        """Record a deed, now for `at` None.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: a time that can't be right.
        """
        ...

    def seen(self, number: int, episode: int | None, via: str) -> Reminder:
        """Acknowledge a reminder.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: there is nothing to acknowledge.
        """
        ...

    def shelve(self, number: int, for_: timedelta, via: str) -> Reminder:
        """Keep a reminder quiet for a while.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: longer than 24 h.
        """
        ...


class Serving(Protocol):
    """Takes reminders out of service and puts them back."""

    def take_out(self, number: int, reason: Reason, via: str) -> Reminder:
        """Take one out.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: no reason or no name, or it is out already.
        """
        ...

    def put_back(self, number: int, who: str, via: str) -> Reminder:
        """Put one back.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: no name, or it is in service.
        """
        ...


class Calibrating(Protocol):
    """Takes in checks of sensors."""

    def record(self, told: Told) -> Recorded:
        """Keep what follows from a check.

        Raises:
            UnknownNameError: no such sensor.
            RefusedError: the check can't be right.
        """
        ...

    def of(self, name: str) -> SensorCalibrations:
        """Return what was done to a sensor, and what it sent last.

        Raises:
            UnknownNameError: no such sensor.
        """
        ...


class Addresses(Protocol):
    """Knows who is told, and tries it."""

    def all(self) -> Sequence[AddressNow]:
        """Return every address as it stands."""
        ...

    def send(self, name: str) -> Tried:
        """Send a test message now, and wait for how it went.

        Raises:
            UnknownNameError: no such address.
            RefusedError: one is on its way there already.
        """
        ...


class Amending(Protocol):
    """Puts right what was told of deeds."""

    def deed(self, number: int) -> Action:
        """Return a deed, whether it holds or not.

        Raises:
            UnknownNameError: there is none.
        """
        ...

    def correct(self, number: int, told: DeedTold, via: str) -> Action:
        """Let what is told now stand in place of a deed.

        Raises:
            UnknownNameError: no such deed.
            RefusedError: it holds no more, or it can't have been so.
        """
        ...

    def withdraw(self, number: int, note: str, via: str) -> Action:
        """Say that a deed did not happen.

        Raises:
            UnknownNameError: no such deed.
            RefusedError: it holds no more.
        """
        ...


@dataclass(frozen=True, slots=True)
class SettingsStand:
    """How the settings at work stand to the file.

    Attributes:
        trouble: why what stands in the file was not taken over; empty: it was.
        waits: keys that only hold once chamberwatch is started again, such as web.port.
    """

    trouble: str = ""
    waits: tuple[str, ...] = ()


class Editing(Protocol):
    """Changes the settings file; what was changed holds at once."""

    def content(self) -> dict[str, Any]:
        """Return what stands in it now, as TOML has it, every address with a name.

        Raises:
            SettingsError: it can't be read.
        """
        ...

    def change(self, edits: Sequence[Edit]) -> None:
        """Change it, all at once or not at all.

        Raises:
            SettingsError: what would stand there is at fault; nothing was written.
            RefusedError: it can't be changed or written; the text says what to do.
        """
        ...

    def read_again(self) -> None:
        """Take over what was changed in the file by hand."""
        ...

    def stand(self) -> SettingsStand:
        """Return how the settings at work stand to the file."""
        ...


class Guiding(Protocol):
    """Remembers checks of sensors under way."""

    def rest(self, sensor: str) -> Mapping[Quantity, Settled]:
        """Return how a sensor stands in each quantity that can be checked.

        Raises:
            UnknownNameError: no such sensor.
        """
        ...

    def begin(self, sensor: str, kind: str, first: SaltReading | None = None) -> Begun:
        """Remember that a check begins now.

        Raises:
            UnknownNameError: no such sensor.
        """
        ...

    def begun(self, sensor: str) -> Begun | None:
        """Return the check under way.

        Raises:
            UnknownNameError: no such sensor.
        """
        ...

    def end(self, sensor: str) -> None:
        """Forget the check under way.

        Raises:
            UnknownNameError: no such sensor.
        """
        ...
