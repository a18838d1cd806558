"""What the faces ask for: the parts of the desk that answer and change nothing."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.reminder import Move, State
from chamberwatch.service.books import Span
from chamberwatch.service.chart import Chart
from chamberwatch.service.chronicle import PAGE, Asked, Page
from chamberwatch.service.climate import ClimateWeek
from chamberwatch.service.foreseeing import AheadNow
from chamberwatch.service.log_lines import Line, Place
from chamberwatch.service.lookback import AirChanges, Mistings, Shown
from chamberwatch.service.reviewing import WeekReview
from chamberwatch.service.views import (
    ChamberNow,
    DeedDone,
    Health,
    HoldNow,
    ReminderNow,
    SeriesPage,
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


class Foreseeing(Protocol):
    """Answers when limits will be reached."""

    def ahead(self, name: str) -> AheadNow:
        """Return what is known of a chamber's next hours.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...


class Charting(Protocol):
    """Answers what a chart shows."""

    def chart(
        self, chamber: str, quantities: Sequence[str], span: Span, points: int = 1000
    ) -> Chart:
        """Return lines of at most so many points, whatever the span.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such quantity, or an empty span.
        """
        ...


class Strips(Protocol):
    """Answers what the sensors of a chamber said in the last hours."""

    def of(self, chamber: str) -> Mapping[tuple[str, Quantity], Points]:
        """Return a point for every few minutes, of each sensor and quantity, oldest first.

        Raises:
            UnknownNameError: no such chamber.
        """
        ...


class Climates(Protocol):
    """Looks back on the air of weeks."""

    def week(self, chamber: str, name: str = "") -> ClimateWeek:
        """Return a week such as 2026-W47 (empty: the present one) of a chamber.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: that is no week, or it has not begun.
        """
        ...


class Chronicling(Protocol):
    """Reads the log of everything that happened."""

    def page(self, asked: Asked, edge: Place, *, newer: bool = False, limit: int = PAGE) -> Page:
        """Return the lines just before a place in the log, or just after it.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such batch.
        """
        ...

    def all(self, asked: Asked, edge: Place, at_most: int) -> Iterator[Line]:
        """Yield lines from a place back in time."""
        ...

    def batches(self) -> Sequence[int]:
        """Return the numbers of all batches, the newest first."""
        ...
