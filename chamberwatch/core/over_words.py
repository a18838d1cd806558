"""What is said of a reminder that is over: what it was, and how it is now."""

from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.sentence import within
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reminder import Call, Evidence
from chamberwatch.core.wording import (
    NAMES,
    Message,
    amount,
    band_words,
    clock_words,
    inside,
    lower,
    named,
    of_core,
)

_WAS: Final[dict[Call, str]] = {
    Call.MIST: "was too dry",
    Call.VENT: "was stale",
    Call.WARM: "was too cold",
    Call.COOL: "was too warm",
    Call.DRY_OFF: "was too humid",
}


def over(
    house: House, chamber: Chamber, call: Call, said: tuple[Evidence, Evidence], when: str
) -> Message:
    """Write that a reminder about the air is over, and what it was.

    Args:
        house: to name places.
        chamber: which.
        call: what was asked.
        said: the reading that spoke for it, and the newest one of that sensor.
        when: time of day of the first; empty where it isn't known.
    """
    was, newest = said
    what = "a block" if of_core(house, was) else "it"
    title = f"{chamber.title}: {what} {_WAS[call]}, and that is over"
    quantity, value, now = was.quantity, was.value, newest.value
    if quantity is None or value is None or now is None:
        return Message(title, "It is over.")
    name = named(house, was, quantity)
    then = f"It was {amount(quantity, value)}" + (f" at {when}." if when else " before.")
    if newest.since == was.since:
        return Message(title, f"It is over. {name}: {within(then)}")
    if inside(newest):
        back = name.replace(NAMES[quantity], lower(quantity))
        return Message(
            title,
            f"It is over: {back} is back inside its band ({amount(quantity, now)}). {then}",
        )
    return Message(
        title,
        f"It is over. {name}: {within(then)} It is {amount(quantity, now)} now, "
        f"{band_words(quantity, newest.low, newest.high)}; if it stays so, you will be told anew.",
    )


def heard_again(
    chamber: Chamber, sensor: str, heard: datetime | None, now: datetime, zone: tzinfo
) -> Message:
    """Write that a sensor was quiet, and is not any more."""
    last = f" after {clock_words(heard, now, zone)}" if heard is not None else ""
    return Message(
        f"{chamber.title}: sensor {sensor} was quiet, and that is over",
        f"It is over: {sensor} is heard again. Nothing had come from it{last} for too long. If "
        f"this happens often, look at its battery or plug and its distance to the router.",
    )
