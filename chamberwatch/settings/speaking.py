"""[[notify]]: when an address may be spoken to, and how often."""

import re
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, tzinfo
from typing import Annotated, Final, Self

from pydantic import BeforeValidator, Field, StrictBool, field_validator
from pydantic import model_validator as checked_whole

from chamberwatch.core.watch.hours import EVERY_DAY, WAKING, Hours, Manner, Wake, moment
from chamberwatch.core.watch.hours import Window as CoreWindow
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.settings.values import TIME_OF_DAY, Part, Whole

DAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAILY: Final = "daily"
NONE: Final = "none"
WHOLE_DAY: Final = (time(0), time(0))
DASH: Final = re.compile(r"\s*[-\N{EN DASH}]\s*")

DAYS_CURE: Final = 'Write days such as "mon-fri", "sat,sun" or "daily".'
HOURS_CURE: Final = 'Write from and to, such as "07:00-08:30"; the whole day is "00:00-24:00".'
AWAY_CURE: Final = (
    'Write a day such as "2026-12-20", which stands for its first moment, or a local time such as '
    '"2026-12-20 18:00".'
)
PRIORITY_CURE: Final = "Write low, medium or high."
NO_HIGH_CURE: Final = "Write low or medium: high priority needs no window."
WAKE_CURE: Final = "Write foretold, always or never."
TIME_CURE: Final = 'Write a local time such as "07:30", or "none".'


def _days(text: object) -> frozenset[int]:
    if isinstance(text, frozenset):
        return text
    if not isinstance(text, str):
        raise ValueError(DAYS_CURE)  # noqa: TRY004 - the settings want a ValueError
    said = text.strip().lower()
    if said == DAILY:
        return EVERY_DAY
    return frozenset(day for part in said.split(",") for day in _run(part.strip()))


def _run(part: str) -> Iterator[int]:
    """Yield the days of “mon” or “fri-mon”."""
    ends = DASH.split(part)
    if len(ends) > 2 or any(end not in DAYS for end in ends):
        raise ValueError(DAYS_CURE)
    first, last = DAYS.index(ends[0]), DAYS.index(ends[-1])
    yield from ((first + step) % 7 for step in range((last - first) % 7 + 1))


def _hours(text: object) -> tuple[time, time]:
    if isinstance(text, tuple):
        return text
    parts = DASH.split(text.strip()) if isinstance(text, str) else []
    if parts == ["00:00", "24:00"]:
        return WHOLE_DAY
    ends = [time(0) if part == "24:00" else _clock(part) for part in parts]
    if len(ends) != 2 or None in ends or ends[0] == ends[1] or parts[0] == "24:00":
        raise ValueError(HOURS_CURE)
    start, end = (end or time(0) for end in ends)
    return start, end


def _clock(text: str) -> time | None:
    match = TIME_OF_DAY.fullmatch(text)
    return time(int(match[1]), int(match[2])) if match else None


def _priority(text: object) -> Priority:
    if isinstance(text, Priority):
        return text
    known = {priority.word: priority for priority in Priority}
    if not isinstance(text, str) or text not in known:
        raise ValueError(PRIORITY_CURE)
    return known[text]


def _window_priority(text: object) -> Priority:
    priority = _priority(text)
    if priority is Priority.HIGH:
        raise ValueError(NO_HIGH_CURE)
    return priority


def _wake(text: object) -> Wake:
    if not isinstance(text, str) or text not in list(Wake):
        raise ValueError(WAKE_CURE)
    return Wake(text)


def _time_or_none(text: object) -> time | None:
    """Return a time of day; None for “none”."""
    if text is None or isinstance(text, time):
        return text
    at = _clock(text) if isinstance(text, str) else None
    if at is None and text != NONE:
        raise ValueError(TIME_CURE)
    return at


def _local(given: object) -> datetime:
    """Return a local time without its zone, which stands elsewhere in the file."""
    if isinstance(given, str):
        try:
            given = datetime.fromisoformat(given.strip())
        except ValueError:
            raise ValueError(AWAY_CURE) from None
    if isinstance(given, datetime) and given.tzinfo is None:
        return given
    if isinstance(given, date) and not isinstance(given, datetime):
        return datetime.combine(given, time(0))
    raise ValueError(AWAY_CURE)


Days = Annotated[frozenset[int], BeforeValidator(_days)]
OpenHours = Annotated[tuple[time, time], BeforeValidator(_hours)]
Least = Annotated[Priority, BeforeValidator(_priority)]
WindowLeast = Annotated[Priority, BeforeValidator(_window_priority)]
Waking = Annotated[Wake, BeforeValidator(_wake)]
TimeOrNone = Annotated[time | None, BeforeValidator(_time_or_none)]
Local = Annotated[datetime, BeforeValidator(_local)]


class WindowSettings(Part):
    """One window of the week."""

    hours: OpenHours
    days: Days = EVERY_DAY
    least: WindowLeast = Priority.LOW

    def window(self) -> CoreWindow:
        """Return it in the words of the core."""
        return CoreWindow(*self.hours, self.days, self.least)


class AwaySettings(Part):
    """Away from .. until, local time."""

    from_: Local = Field(alias="from")
    until: Local

    @checked_whole(mode="after")
    def _in_order(self) -> Self:
        if self.until <= self.from_:
            raise ValueError("until is not after from; swap them, or take a later day.")
        return self

    def span(self, zone: tzinfo) -> tuple[datetime, datetime]:
        """Return it as moments. UTC."""
        start, end = (
            moment(at.date(), at.time(), zone).astimezone(UTC) for at in (self.from_, self.until)
        )
        return start, end


class SpeakingSettings(Part):
    """When one address may be spoken to."""

    least: Least = Priority.LOW
    when: tuple[WindowSettings, ...] | None = Field(default=None, max_length=24)
    away: tuple[AwaySettings, ...] = Field(default=(), max_length=100)
    most_per_hour: Whole = Field(default=6, ge=1, le=60)
    summary: TimeOrNone = None
    summary_always: StrictBool | None = None
    bedtime: TimeOrNone = None
    leaving: TimeOrNone = None
    wake: Waking = Wake.FORETOLD

    @field_validator("when")
    @classmethod
    def _at_least_one(
        cls, when: Sequence[WindowSettings] | None
    ) -> Sequence[WindowSettings] | None:
        if when is not None and not when:
            raise ValueError(
                'Name at least one, such as { days = "mon-fri", hours = "07:00-08:30" }; for '
                'high priority alone write least = "high" instead.'
            )
        return when

    def manner(self, zone: tzinfo) -> Manner:
        """Return how it wants to be spoken to, in the words of the core.

        Args:
            zone: of the site.
        """
        stated = "summary" in self.model_fields_set
        windows = WAKING.windows if self.when is None else tuple(w.window() for w in self.when)
        always = self.summary_always
        return Manner(
            hours=Hours(windows, tuple(away.span(zone) for away in self.away)),
            least=self.least,
            most_per_hour=self.most_per_hour,
            summaries=self.summary is not None or not stated,
            summary=self.summary,
            summary_always=stated and self.summary is not None if always is None else always,
            foretells=self.bedtime is not None or "bedtime" not in self.model_fields_set,
            bedtime=self.bedtime,
            wake=self.wake,
            foretells_day=self.leaving is not None or "leaving" not in self.model_fields_set,
            leaves=self.leaving,
        )
