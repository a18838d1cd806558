"""Summaries of readings, as the service sees them: what is asked, and how they come about."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from chamberwatch.core.review.summary import Columns, Level, Reckoned, Rules, Summary, Unsummed
from chamberwatch.service.span import Span


class SummariesBook(Protocol):
    """What readings came to; exact at any moment, summed up already or not.

    Quantities go by the names that the API has for them; derived ones are reckoned per sample.
    """

    def within(
        self, sensors: Sequence[str], quantity: str, level: Level, span: Span
    ) -> Sequence[Summary]:
        """Return what the samples of a span came to, oldest first, empty stretches left out.

        Several sensors count together. A stretch that lies only partly in the span counts those of
        its samples that lie in it.
        """
        ...

    def columns(
        self,
        sensors: Sequence[str],
        quantities: Sequence[str],
        step_s: int,
        span: Span,
        *,
        judged: bool = True,
        raw_at_most: timedelta | None = None,
    ) -> Mapping[str, Columns]:
        """Return the same for several quantities at once, in steps of whole minutes. [s].

        Where it need not be `judged`, nothing is said of the band, and it is answered sooner.
        With `raw_at_most` what is not summed up yet is answered for so long only, the newest of
        it, to the full day; what is older is left out, as if nothing had been heard.
        """
        ...

    def left_out(self, span: Span, raw_at_most: timedelta) -> Span | None:
        """Return from when to when `columns` leaves something out; None: it leaves out nothing.

        That is of lines that are not `judged`, with the same `raw_at_most`.
        """
        ...


class SummingBook(Protocol):
    """Sums readings up, in small steps that each stand for themselves."""

    def follow(self, rules: Rules) -> bool:
        """Hold readings against these from now on, those of the past too.

        What was held against something else is reckoned anew. Returns whether anything was.
        """
        ...

    def reach_on(self, now: datetime) -> bool:
        """Take what is over and settled since into what is summed up; tell whether any was."""
        ...

    def reach_back(self) -> bool:
        """Take a day of before into what is summed up; tell whether there was one."""
        ...

    def waiting(self, limit: int) -> Sequence[Unsummed]:
        """Return quarter-hours that are to be reckoned, the newest first."""
        ...

    def reckon(self, quarters: Sequence[Unsummed]) -> Reckoned:
        """Return what the readings of quarter-hours came to; changes nothing."""
        ...

    def keep(self, reckoned: Reckoned) -> None:
        """Keep it in place of what was kept of these quarter-hours.

        One that was touched since it was looked up stays to be reckoned.
        """
        ...

    def drop_before(self, before: datetime) -> datetime:
        """Let summaries of before a day stay for ever: its readings may be dropped now.

        What comes for that time later is added to them. Call it before the readings are dropped,
        and drop only those of before what is returned: the rest is not all summed up yet.
        """
        ...

    def dropped_before(self) -> datetime | None:
        """Return before which day readings were dropped, None: none ever were."""
        ...

    def add_late(self) -> int:
        """Add what came for a time whose readings were dropped; return how many samples."""
        ...
