"""What the web room is given to work with. It has no SQL and no rules of its own."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol, cast
from zoneinfo import ZoneInfo

from fastapi import Request

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Reject
from chamberwatch.core.watch.reminder import Move, Reminder, State
from chamberwatch.service.books import Books, Span
from chamberwatch.service.calibrating import Recorded, SensorCalibrations, Told
from chamberwatch.service.foreseeing import AheadNow
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.lookback import AirChanges, Mistings, Shown
from chamberwatch.service.out_of_service import Reason
from chamberwatch.service.ports import Clock
from chamberwatch.service.reviewing import WeekReview
from chamberwatch.service.views import (
    AddressNow,
    ChamberNow,
    DeedDone,
    Health,
    HoldNow,
    ReminderNow,
    SeriesPage,
    Tried,
)


class History(Protocol):
    """Answers every question the faces ask."""

    def chambers(self) -> Sequence[Chamber]:
        """Return the chambers and rooms in the order they were declared."""
        ...

    def now(self, name: str) -> ChamberNow:
        """Return one chamber at this moment.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def hold(self, name: str, until: datetime | None) -> HoldNow:
        """Answer “will it hold until then?”, until the next visit for None.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: it can't be reckoned; the text says what is missing.
        """
        ...

    def why_no_counsel(self, name: str) -> str:
        """Say why nothing can be reckoned of a chamber, and what to do about it.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def series(
        self, chamber: str, quantity: str, span: Span, step: timedelta | None, limit: int
    ) -> SeriesPage:
        """Return readings (or buckets of `step`) of one quantity, oldest first.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such quantity, or a step that can't be had.
        """
        ...

    def actions(self, chamber: str | None, limit: int) -> Sequence[DeedDone]:
        """Return the newest deeds first, of all chambers for None, and what came of each.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def reminders(self, states: frozenset[State] | None) -> Sequence[ReminderNow]:
        """Return reminders in these states, in any state for None."""
        ...

    def moves(self, number: int | None, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        """Return moves of one reminder (of all for None) with their ids, oldest first."""
        ...

    def rejects(self, limit: int) -> Sequence[Reject]:
        """Return the messages last refused, newest first."""
        ...

    def reject_count(self) -> int:
        """Return how many messages were ever refused."""
        ...

    def health(self) -> Health:
        """Return how the watcher itself is doing."""
        ...

    def pulse(self) -> int:
        """Return a number that changes whenever something to show has changed."""
        ...


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


class Lookback(Protocol):
    """Answers what was found in the record, and takes in whether it is right."""

    def mistings(self, chamber: str, span: Span, limit: int) -> Mistings:
        """Return the newest mistings of a span.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def air_changes(self, chamber: str, span: Span, limit: int) -> AirChanges:
        """Return the newest air changes and ventings of a span.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def questions(self, chamber: str, span: Span, limit: int) -> Sequence[Shown]:
        """Return the newest of a span that nobody recorded or answered for, newest first.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def confirmed(self, chamber: str, span: Span, limit: int) -> Sequence[Found]:
        """Return the newest of a span that the grower said yes to and nobody recorded.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...

    def answer(self, chamber: str, kind: Kind, number: int, *, was_it: bool) -> Shown:
        """Keep what the grower says to “was it?”.

        Raises:
            UnknownNameError: no such chamber, or no such event in it.
        """
        ...


class Reviewing(Protocol):
    """Looks back on weeks."""

    def weeks(self, last: str = "", count: int = 1) -> tuple[WeekReview, ...]:
        """Return weeks up to one such as 2026-W47 (empty: the present one), the newest first.

        Raises:
            RefusedError: that is no week, or it has not begun.
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


class Foreseeing(Protocol):
    """Answers when limits will be reached."""

    def ahead(self, name: str) -> AheadNow:
        """Return what is known of a chamber's next hours.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...


@dataclass(frozen=True, slots=True)
class Desk:
    """Everything the faces stand on.

    Attributes:
        history: what is asked.
        logbook: what is told.
        clock: the time.
        books: only for answers kept under an `Idempotency-Key`, links already used, and who may
            come in.
        zone: in which the pages write times.
        address: where a phone reaches the pages, without a slash at the end; None: it can't.
        calibrating: takes in checks of sensors; None: they can't be told here.
        lookback: what was found in the record; None: nobody looks.
        growing: the growing record and what follows from it; None: it is not kept here.
        serving: takes reminders out of service; None: it can't be told here.
        reviewing: looks back on weeks; None: nobody does.
        addresses: who is told; None: nobody is told from here.
        names: of this machine in its home network.
        foreseeing: when limits will be reached; None: nobody looks ahead.
    """

    history: History
    logbook: Logbook
    clock: Clock
    books: Books
    zone: ZoneInfo
    address: str | None
    calibrating: Calibrating | None = None
    lookback: Lookback | None = None
    growing: Growing | None = None
    serving: Serving | None = None
    reviewing: Reviewing | None = None
    addresses: Addresses | None = None
    names: frozenset[str] = frozenset()
    foreseeing: Foreseeing | None = None


def desk_of(request: Request) -> Desk:
    """Return the desk this application was made with."""
    return cast(Desk, request.app.state.desk)


def addresses_of(desk: Desk) -> Addresses:
    """Return who is told.

    Raises:
        RefusedError: nobody is told from here.
    """
    if desk.addresses is None:
        raise RefusedError("Nobody is told from here. Ask the daemon that takes readings.")
    return desk.addresses


def growing_of(request: Request) -> Growing:
    """Return the growing record.

    Raises:
        RefusedError: it is not kept here.
    """
    growing = desk_of(request).growing
    if growing is None:
        raise RefusedError("No growing record is kept here. Ask the daemon that takes readings.")
    return growing


def serving_of(request: Request) -> Serving:
    """Return what takes reminders out of service.

    Raises:
        RefusedError: nothing here does.
    """
    serving = desk_of(request).serving
    if serving is None:
        raise RefusedError("Nothing is taken out of service here. Ask the daemon that judges.")
    return serving


def reviewing_of(desk: Desk) -> Reviewing:
    """Return what looks back on weeks.

    Raises:
        RefusedError: nobody does here.
    """
    if desk.reviewing is None:
        raise RefusedError("Nobody looks back on weeks here. Ask the daemon that takes readings.")
    return desk.reviewing
