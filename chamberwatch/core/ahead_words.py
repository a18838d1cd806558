"""What is said of a limit that is yet to be reached, and of how good such forecasts were."""

from collections.abc import Mapping
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.amount_words import when
from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.foretold import LEAST, Foreseen, Foretold, TrackRecord
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.wording import NAMES, Message, amount, lower

_WHY_NOW: Final[Mapping[Call, str]] = {
    Call.MIST: "A misting now saves a dash later.",
    Call.VENT: "A venting now saves a dash later.",
    Call.WARM: "There is time yet to see to its warmth.",
    Call.COOL: "There is time yet to give it shade or a cooler room.",
}


def early(
    chamber: Chamber, foreseen: Foreseen, record: TrackRecord, now: datetime, zone: tzinfo
) -> Message:
    """Write that a limit is near.

    Args:
        chamber: which.
        foreseen: of the limit.
        record: how such forecasts went here.
        now: the time.
        zone: for times of day.
    """
    told = foreseen.foretold
    quantity = told.quantity
    return Message(
        f"{chamber.title}: about {_minutes(told.likely - now)} until {_limit(told)}",
        f"{NAMES[quantity]} is {amount(quantity, foreseen.value)} and {_going(told)}; it is at "
        f"{_limit(told)} at about {_times(told, now, zone)}. "
        f"{_WHY_NOW[CALLS[quantity, told.side]]} "
        f"(Right {record.right} of {record.counted} times here.)",
    )


def _minutes(ahead: timedelta) -> str:
    """Write how long, to five minutes beyond twenty: it is known no better."""
    minutes = ahead / timedelta(minutes=1)
    return f"{round(minutes) if minutes < 20 else 5 * round(minutes / 5)} min"


def _limit(foretold: Foretold) -> str:
    return f"{foretold.limit:g} {UNITS[foretold.quantity]}"


def _going(foretold: Foretold) -> str:
    return "falling" if foretold.side.value == "low" else "rising"


def _times(foretold: Foretold, now: datetime, zone: tzinfo) -> str:
    """Write the likely time, and between which times."""
    likely = when(_to_five(foretold.likely), now, zone)
    earliest = when(foretold.earliest, now, zone)
    if foretold.latest is None:
        return f"{likely} (not before {earliest}, and perhaps never)"
    return f"{likely} ({earliest} to {when(foretold.latest, now, zone)})"


def _to_five(time: datetime) -> datetime:
    """Return the nearest full five minutes."""
    over = timedelta(minutes=time.minute % 5, seconds=time.second, microseconds=time.microsecond)
    up = over >= timedelta(minutes=2, seconds=30)
    return time - over + (timedelta(minutes=5) if up else timedelta())


RATHER_THAN_A_GUESS: Final = (
    "This follows the readings. “Will it hold?” reckons with a leak that is only assumed so far: "
    "where they differ, go by this."
)


def coming(foreseen: Foreseen, now: datetime, zone: tzinfo) -> str:
    """Say when a limit will be reached, for the page."""
    told = foreseen.foretold
    reaches = "falls to" if told.side.value == "low" else "rises to"
    return f"{NAMES[told.quantity]} {reaches} {_limit(told)} at about {_times(told, now, zone)}."


def how_good(quantity: Quantity, record: TrackRecord) -> str:
    """Say how forecasts of a quantity went in a chamber."""
    if record.counted < LEAST:
        return (
            f"How good forecasts of the {lower(quantity)} are here can't be told yet: "
            f"{record.counted} of the {LEAST} it takes have come out."
        )
    said = (
        f"Of the last {record.counted} forecasts of the {lower(quantity)} here {record.right} "
        f"were right within 10 min, {record.inside} within the times they named."
    )
    return said if record.good else f"{said} That is too few to send early notices."
