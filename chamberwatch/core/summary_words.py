"""What is said when several things are said in one message, at bedtime, and when harm is over."""

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core import amount_words
from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.outlook import HoldAnswer
from chamberwatch.core.watch.reading import Reading
from chamberwatch.core.watch.reminder import Call, Evidence, Reminder
from chamberwatch.core.wording import Message, amount, band_words, lower, named

SAID_IN_FULL: Final = 6
"""More than so many in one message nobody reads on a phone; the rest stands on the page."""

SENTENCES: Final = 2
"""Of each thing in one message: what it is, and what to do first."""

_WAS: Final[dict[Call, str]] = {
    Call.MIST: "too dry",
    Call.VENT: "stale",
    Call.WARM: "too cold",
    Call.COOL: "too warm",
    Call.DRY_OFF: "too humid",
}


ALL_WELL: Final = "All well"

ALL_OVER: Final = "Nothing to do: all is back in order"
ITSELF: Final = "chamberwatch itself is not well: "
"""How a line about the watcher begins."""

_UNHEARD: Final = ": nothing was heard since"


def summary(
    waited: Sequence[Message],
    over: Sequence[str],
    night: Sequence[str],
    still: Sequence[str] = (),
) -> Message:
    """Write one message of all that waited, what is over, and what the night was like.

    Args:
        waited: what is still to be seen to, the gravest first.
        over: what is back in order, each as one phrase.
        night: a line for each chamber, and what `itself` makes of what ails the watcher.
        still: titles of what was told before and isn't over.
    """
    lines = [f"{each.title}. {short(each.body)}" for each in waited[:SAID_IN_FULL]]
    more = len(waited) - SAID_IN_FULL
    if more > 0:
        lines.append(f"And {more} more; they stand on the page.")
    if still:
        lines.append(f"Told before and not over yet: {'; '.join(still)}.")
    title = _title(len(waited), len(over), len(still))
    if title == ALL_WELL and any(_UNHEARD in line for line in night):
        title = "Nobody knows how it is: look at the sensors"
    elif title in {ALL_WELL, ALL_OVER} and any(line.startswith(ITSELF) for line in night):
        title = "chamberwatch itself is not well"
    return Message(title, "\n".join([*lines, *beside(over, night)]))


def itself(ailing: Sequence[str]) -> list[str]:
    """Return a line for each thing that ails the watcher."""
    return [f"{ITSELF}{words}" for words in ailing]


def _title(waited: int, over: int, still: int) -> str:
    if waited:
        return f"{waited} things wait for you" if waited > 1 else "One thing waits for you"
    if still:
        things = f"{still} things aren't" if still > 1 else "one thing isn't"
        return f"Nothing new, but {things} over yet"
    return ALL_OVER if over else ALL_WELL


def beside(over: Sequence[str], night: Sequence[str]) -> list[str]:
    """Write what stands below the things to see to: what is over, and the night."""
    lines = []
    if over:
        told = list(over[:SAID_IN_FULL])
        if len(over) > SAID_IN_FULL:
            told.append(f"and {len(over) - SAID_IN_FULL} more")
        lines.append(f"Back in order: {'; '.join(told)}.")
    return [*lines, *night]


def short(body: str) -> str:
    """Return the first sentences of a message."""
    # Figures have their point before a digit, never before a space.
    sentences = body.split("\n", 1)[0].split(". ")
    kept = ". ".join(sentences[:SENTENCES])
    return kept if kept.endswith((".", "!", "?")) or not kept else f"{kept}."


def over_since(
    chamber: Chamber, reminder: Reminder, span: tuple[datetime, datetime], times: int, zone: tzinfo
) -> str:
    """Write that something is back in order, as one phrase.

    Args:
        chamber: which.
        reminder: which.
        span: when it was raised the last time, and when it returned.
        times: how often it returned.
        zone: for times of day.
    """
    begun_at, ended_at = (each.astimezone(zone) for each in span)
    often = f", {times} times, last" if times > 1 else ""
    return (
        f"{chamber.title} {_what_was(reminder)}{often} from {begun_at:%H:%M} to {ended_at:%H:%M}"
    )


def _what_was(reminder: Reminder) -> str:
    if reminder.call is Call.CHECK_SENSOR:
        return f"sensor {reminder.subject} silent or in doubt"
    if reminder.subject:
        return f"{reminder.subject} wet"
    return _WAS.get(reminder.call, reminder.call.value)


def night(
    chamber: Chamber,
    since: datetime,
    ranges: Sequence[tuple[float, float, Reading | None]],
    zone: tzinfo,
) -> str:
    """Write what the air of a chamber was like.

    Args:
        chamber: which.
        since: from when on.
        ranges: least, most and newest of each quantity; the newest says which quantity it is.
        zone: for times of day.
    """
    said = []
    for least, most, newest in ranges:
        if newest is None:
            continue
        quantity = newest.quantity
        low, unit = amount(quantity, least).split(" ", 1)
        high = amount(quantity, most).split(" ", 1)[0]
        now = amount(quantity, newest.value)
        spread = f"{low} to {high} {unit}" if low != high else f"{low} {unit}"
        said.append(f"{lower(quantity)} {spread}" + (f", now {now}" if now != spread else ""))
    if not said:
        return f"{chamber.title}{_UNHEARD} {since.astimezone(zone):%H:%M}."
    return f"{chamber.title} since {since.astimezone(zone):%H:%M}: {'; '.join(said)}."


def forecast(
    chamber: Chamber, answer: HoldAnswer, now: datetime, zone: tzinfo, *, hushed: bool
) -> Message:
    """Write that the hours ahead won't hold, until when they do, and what would make them.

    Args:
        chamber: which.
        answer: until somebody comes by again.
        now: the time.
        zone: for times of day.
        hushed: for what is said here nobody is woken.
    """
    said = begun(amount_words.hold(answer, now, zone).removeprefix("No, "))
    tail = " You won't be woken for that." if hushed else ""
    ends = answer.asked_until.astimezone(zone)
    night = ends.date() > now.astimezone(zone).date()
    till = "morning" if night else f"{ends:%H:%M}"
    return Message(f"{chamber.title}: it won't hold till {till}", said + tail)


def returned(house: House, chamber: Chamber, was: Evidence, newest: Reading | None) -> Message:
    """Write that what was harmful is over.

    Args:
        house: to name places.
        chamber: which.
        was: what spoke for it.
        newest: of that sensor; None: not heard.
    """
    if was.quantity is None or newest is None:
        return Message(f"{chamber.title}: it is over", "It is back in order.")
    what = named(house, was, was.quantity)
    value = amount(was.quantity, newest.value)
    return Message(
        f"{chamber.title}: {lower(was.quantity)} is back inside its band",
        f"{what} {value}, {band_words(was.quantity, was.low, was.high)}. Nothing more to do.",
    )
