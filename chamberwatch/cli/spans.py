"""A stretch of time as it is typed: --from, --to, --week."""

from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from chamberwatch.service.books import Span

LAST: Final = "last"
_DAY_CHARS: Final = len("2026-11-20")


def span_of(begins: str, ends: str, week: str, now: datetime, zone: ZoneInfo) -> "Span":
    """Return the stretch that was typed; all time where nothing was.

    Args:
        begins: a day, from its first moment on, or a time, local where it names no zone.
        ends: a day, with all of it, or a time, which is the first that is left out.
        week: such as 2026-W47, or last.
        now: the time.
        zone: of the site.

    Raises:
        RefusedError: it can't be read, or ends before it begins.
    """
    from chamberwatch.core.review import week as weeks
    from chamberwatch.service.books import Span
    from chamberwatch.service.exporting import EVER

    if week and (begins or ends):
        raise RefusedError("Give --week, or --from and --to; not both.")
    if week:
        asked = (
            weeks.of_moment(now, zone).later(-1)
            if week.strip().lower() == LAST
            else weeks.read(week)
        )
        return Span(asked.start(zone), asked.end(zone))
    start = _moment("--from", begins, zone, days=0) if begins else EVER.start
    end = _moment("--to", ends, zone, days=1) if ends else EVER.end
    if end <= start:
        raise RefusedError(f"--to {ends} lies before --from {begins}; turn them round.")
    return Span(start, end)


def _moment(option: str, text: str, zone: ZoneInfo, days: int) -> datetime:
    """Return the moment; of a day its first one, so many days later."""
    try:
        said = datetime.fromisoformat(text.strip())
        if len(text.strip()) > _DAY_CHARS:
            return (said if said.tzinfo else said.replace(tzinfo=zone)).astimezone(UTC)
        return datetime.combine(said.date() + timedelta(days), time(), zone).astimezone(UTC)
    except ValueError:
        raise RefusedError(
            f"{option} {text} can't be read; write a day such as 2026-11-20, or a time such as "
            "“2026-11-20 18:30”."
        ) from None
    except OverflowError:
        raise RefusedError(
            f"{option} {text} is no time that we can mean; look at the year."
        ) from None
