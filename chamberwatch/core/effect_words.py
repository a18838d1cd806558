"""What came of a deed, in words; and what to look at where nothing came of it."""

from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.amount_words import held_words
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.effect import Effect, Outcome
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.core.watch.reminder import Call, Evidence
from chamberwatch.core.wording import Message, amount, clock_words, lower

_VERBS: Final[dict[Call, tuple[str, str]]] = {
    Call.MIST: ("rose", "risen"),
    Call.VENT: ("fell", "fallen"),
    Call.DRY_OFF: ("fell", "fallen"),
}

_DEEDS: Final[dict[Call, tuple[str, str]]] = {
    Call.MIST: ("misted", "misting"),
    Call.VENT: ("vented", "venting"),
    Call.DRY_OFF: ("vented", "venting"),
}

_LOOK: Final[dict[Call, str]] = {
    Call.MIST: "is the bottle empty, is the cover open, and does the mist reach the air around "
    "the sensor?",
    Call.VENT: "was it open wide and for long enough, does the fan run with a free inlet, and is "
    "the air of the room as stale?",
    Call.DRY_OFF: "is the air of the room as damp, does water stand on walls and tray, and is the "
    "sensor itself wet?",
}

SILENT_ON: Final = frozenset({Outcome.PENDING, Outcome.UNKNOWN})


def said(effect: Effect) -> str:
    """Say what came of a deed, to follow its name; empty where that can't be told."""
    name = lower(effect.quantity)
    if effect.outcome in SILENT_ON or effect.change is None:
        return ""
    verb, done = _VERBS[effect.call]
    if not effect.clear:
        return f"{name} has not {done}"
    words = f"{name} {verb} {_size(effect.quantity, effect.change)}"
    if effect.minutes is not None:
        words += f" in {max(round(effect.minutes), 1)} min"
    return f"{words}, {held_words(effect.held)}" if effect.held is not None else words


def _size(quantity: Quantity, change: float) -> str:
    size = abs(change)
    if quantity is Quantity.CO2:
        return f"{10 * round(size / 10)} {UNITS[quantity]}"
    return amount(quantity, size)


def no_effect(
    chamber: Chamber,
    effect: Effect,
    at: datetime,
    evidence: Evidence,
    when: tuple[datetime, tzinfo],
) -> Message:
    """Say that a deed had no effect, and what to look at, instead of asking for it again.

    Args:
        chamber: which.
        effect: that did not come.
        at: when the deed was done.
        evidence: the newest reading that asks for it.
        when: the time, and the zone for times of day.
    """
    deed, naming = _DEEDS[effect.call]
    done = _VERBS[effect.call][1]
    name = lower(effect.quantity)
    clock = clock_words(at, *when)
    return Message(
        f"{chamber.title}: the {naming} had no effect",
        f"You {deed} at {clock} and {name} has not {done}{_still(effect, evidence)}. Look: "
        f"{_LOOK[effect.call]}",
    )


def _still(effect: Effect, evidence: Evidence) -> str:
    """Write the value of this moment, and whether it is what it was before."""
    if evidence.value is None or evidence.quantity is not effect.quantity:
        return ""
    value = amount(effect.quantity, evidence.value)
    same = effect.before is not None and abs(evidence.value - effect.before) < effect.least
    return f" (still {value})" if same else f" ({value} now)"


def refill(chamber: Chamber, holds_min: float, held_min: float) -> Message:
    """Say that mistings hold ever shorter.

    Args:
        chamber: which.
        holds_min: how long the last ones held. [min]
        held_min: how long they held before. [min]
    """
    return Message(
        _refill_title(chamber),
        f"Mistings held {_minutes(held_min)} before and {_minutes(holds_min)} the last three "
        "times: the water that stood there is used up, and more mist alone won't hold. Fill the "
        "tray and wet the walls with fresh water; change what stands there daily.",
    )


def refilled(chamber: Chamber, holds_min: float) -> Message:
    """Say that mistings held ever shorter, and that it is over."""
    return Message(
        _refill_title(chamber),
        f"The last mistings had held {_minutes(holds_min)} only; that is over. If it happens "
        "often, a larger tray lasts longer.",
    )


def _refill_title(chamber: Chamber) -> str:
    return f"{chamber.title}: refill the tray and wet the walls"


def _minutes(minutes: float) -> str:
    if minutes < 1.5:
        return "hardly a minute"
    if minutes < 90.0:
        return f"about {round(minutes)} min"
    return f"about {round(minutes / 30.0) / 2:g} hours"
