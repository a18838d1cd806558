"""Sentences of messages in which several findings share one cause, and of the room."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.sentence import listed
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.joint import Joint
from chamberwatch.core.watch.opened import Opening
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence
from chamberwatch.core.wording import Message, amount, clock_words, named

JOINT_TITLES: Final[Mapping[tuple[Call, ...], str]] = {
    (Call.COOL, Call.VENT, Call.MIST): "cool and vent it, then mist",
    (Call.COOL, Call.VENT): "cool and vent it",
    (Call.COOL, Call.MIST): "cool it, then mist",
}
"""Where it isn't that of the first alone; vent, then mist has words of its own."""

_BESIDE: Final[Mapping[tuple[Call, Call], str]] = {
    (Call.COOL, Call.VENT): "It is stale as well, and the same fresh air helps both.",
    (Call.COOL, Call.MIST): "It is dry as well, since warm air dries faster: mist once it is "
    "cooler.",
    (Call.WARM, Call.DRY_OFF): "It is too damp as well; the same air is drier once it is warmer.",
    (Call.VENT, Call.DRY_OFF): "It is too damp as well, and the same fresh air dries it.",
}


def joint(said: Message, together: Joint, title: str) -> Message:
    """Add what follows from the same cause to the message of what is done first.

    Args:
        said: of what leads.
        together: what leads, and what follows.
        title: of the chamber.
    """
    beside = [
        _BESIDE[key] for each in together.followers if (key := (together.lead, each)) in _BESIDE
    ]
    first = JOINT_TITLES.get(together.calls)
    titled = said.title if first is None else _titled(said, title, first)
    return Message(titled, " ".join([said.body, *beside]))


def _titled(said: Message, title: str, asks: str) -> str:
    """Return another title that still says what is at stake: by night a phone shows it alone."""
    _, bracket, at_stake = said.title.removeprefix(title).partition(" (")
    return f"{title}: {asks}{bracket}{at_stake}"


def opened(said: Message, chamber: Chamber, seen: Opening, now: datetime) -> Message:
    """Write that a chamber seems to stand open.

    Args:
        said: the message about the dry air, in whose place this is said.
        chamber: which.
        seen: what shows it.
        now: the time.
    """
    minutes = max(round((now - seen.since).total_seconds() / 60.0), 1)
    what = said.body.partition(". ")[0]
    return Message(
        _titled(said, chamber.title, "does it stand open?"),
        f"{what}. Humidity fell by {amount(Quantity.HUMIDITY, seen.humidity_pct)} and CO2 by "
        f"{amount(Quantity.CO2, seen.co2_ppm)} within {minutes} min, as when a front or a lid is "
        f"open. Close it; if the air stays dry after that, mist.",
    )


# ------------------------------------------------------------------ the room


def room(house: House, chamber: Chamber, evidence: Evidence) -> Message:
    """Write that the air of a room is not as it should be where people live."""
    quantity, value = evidence.quantity, evidence.value
    if quantity is Quantity.CO2 and value is not None:
        return Message(
            f"{chamber.title}: leave it and air it",
            f"{named(house, evidence, quantity)} is at {amount(quantity, value)}, and "
            f"{amount(quantity, evidence.high or 0.0)} is what a workplace may have for a day. "
            "Open a window, go out, and stay out until it has fallen. Look for what it comes "
            "from: many colonising bags in a small closed room can do that. This is no safety "
            "device; do not sleep in that room.",
        )
    shown = amount(Quantity.HUMIDITY, value) if value is not None else "high"
    return Message(
        f"{chamber.title}: air the room",
        f"Humidity has been above {amount(Quantity.HUMIDITY, evidence.high or 0.0)} for hours "
        f"({shown} now): mould likes that. Air it for ten minutes with the window wide open, "
        "wipe what is wet, and keep the chamber off the outside wall. If it stays so, let less "
        "damp air out of the chamber.",
    )


def room_over(house: House, chamber: Chamber, evidence: Evidence) -> Message:
    """Write that the air of a room is as it should be again; `evidence` is its newest reading."""
    quantity, value = evidence.quantity or Quantity.HUMIDITY, evidence.value
    now = (
        ""
        if value is None
        else f" {named(house, evidence, quantity)} is {amount(quantity, value)} now."
    )
    what = "damp" if quantity is Quantity.HUMIDITY else "full of CO2"
    return Message(f"{chamber.title}: it was {what}, and that is over", f"It is over.{now}")


# ------------------------------------------------------------------ silence


def silent_together(
    titles: Sequence[str],
    sensors: Sequence[str],
    since: datetime | None,
    now: datetime,
    zone: tzinfo,
) -> Message:
    """Write that several sensors went quiet together.

    Args:
        titles: of the chambers they hang in, each once.
        sensors: their names.
        since: when the first of them was last heard; None: never.
        now: the time.
        zone: for times of day.
    """
    where = f"{titles[0]}: " if len(titles) == 1 else ""
    heard = "yet" if since is None else f"since {clock_words(since, now, zone)}"
    return Message(
        f"{where}{'l' if where else 'L'}ook at {len(sensors)} sensors",
        f"Nothing has been heard from {listed(sensors)} {heard}, while others are heard. Look at "
        "what they share: a plug, a router, the distance to it. Until they speak again, look at "
        "the chamber yourself.",
    )


def everything_silent(since: datetime | None, now: datetime, zone: tzinfo) -> Message:
    """Write that nothing at all is heard any more.

    Args:
        since: when any sensor was last heard; None: never.
        now: the time.
        zone: for times of day.
    """
    heard = "yet" if since is None else f"since {clock_words(since, now, zone)}"
    return Message(
        "Nothing is heard from any sensor",
        f"Nothing has been heard {heard}. Is the power on, does the broker run, does the network "
        "stand? Until it speaks again nobody watches the air: look at the chambers yourself.",
    )


def everything_heard(since: datetime | None, now: datetime, zone: tzinfo) -> Message:
    """Write that sensors are heard again after all were silent."""
    quiet = "" if since is None else f" Nothing had come after {clock_words(since, now, zone)}."
    return Message("Sensors are heard again", f"It is over.{quiet}")


# ------------------------------------------------------------------ told again


def again(said: Message, since: datetime | None, now: datetime, zone: tzinfo) -> Message:
    """Say that it has been going on, in front of what is told again."""
    if since is None:
        return said
    return replace(said, body=f"Still so, since {clock_words(since, now, zone)}. {said.body}")
