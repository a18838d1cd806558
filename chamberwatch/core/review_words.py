"""What is said about a week that was looked back on, and about what would make the next calmer."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from chamberwatch.core.review.calming import Setting, Suggestion, Tiring
from chamberwatch.core.review.quality import (
    A_DAY,
    CHATTERS,
    FLEETS_WITHIN,
    FLOOD_ABOVE,
    MOST_FREQUENT_SHARE,
    SPLIT,
    Cause,
    Quality,
)
from chamberwatch.core.review.record import Kind
from chamberwatch.core.review.week import Week
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.core.watch.reminder import Call, Priority, Reminder

_MINUTE: Final = 60
_HOUR: Final = 60 * _MINUTE
_DAY: Final = 24 * _HOUR

_FEW: Final = 5
"""Shares of fewer messages than this say nothing."""

_KINDS: Final[Mapping[Kind, str]] = {
    Kind.REMINDER: "several things at once",
    Kind.RETURNED: "back to normal",
    Kind.SUMMARY: "summary",
    Kind.FORECAST: "forecast",
    Kind.EARLY: "early notice",
}

# Where the cause is real no patience helps; this does.
_INSTEAD: Final[Mapping[Call, str]] = {
    Call.MIST: "The chamber dries faster than a misting holds. More wet surface (walls, a tray, "
    "cloths that stay wet), a closer cover or less venting would calm it.",
    Call.VENT: "Carbon dioxide gathers faster than a venting lasts. More fresh air all the time "
    "(larger openings, a small fan on a timer) or fewer blocks at once would calm it.",
    Call.WARM: "A warmer room, a mat outside the cover or less venting would calm it.",
    Call.COOL: "Shade, a cooler room or more room between the blocks would calm it.",
    Call.DRY_OFF: "Less water at a time, none in the last hours of the day and a little more "
    "fresh air would calm it.",
    Call.CHECK_SENSOR: "A fresh battery, a shorter way to the router, or another sensor in its "
    "place would calm it.",
    Call.CHECK_ALL: "A steadier router, another plug for it, or what hands messages on nearer to "
    "the sensors would calm it.",
    Call.AIR_ROOM: "Airing the room at fixed times, or fewer blocks at once in it, would calm it.",
    Call.REFILL: "A larger dish or tray would calm it.",
}


def length(lasted: timedelta) -> str:
    """Write a length of time, no finer than it matters."""
    seconds = max(0, round(lasted.total_seconds()))
    if seconds < 2 * _MINUTE:
        return f"{seconds} s"
    if seconds < 2 * _HOUR:
        return f"{seconds // _MINUTE} min"
    return f"{seconds // _HOUR} h" if seconds < 2 * _DAY else f"{seconds // _DAY} days"


def counted(number: int, one: str, more: str = "") -> str:
    """Write how many of something there are."""
    return f"{number} {one}" if number == 1 else f"{number} {more or one + 's'}"


def lasted(time: timedelta) -> str:
    """Write how long something was: 45 min, 3 h 10 min, 2 days 4 h."""
    minutes = round(time.total_seconds() / 60.0)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(hours, 24)
    named = counted(days, "day")
    return f"{named} {hours} h" if hours else named


def title(reminder: Reminder, chamber: str) -> str:
    """Name a reminder.

    Args:
        reminder: which.
        chamber: title of its chamber; empty for none.
    """
    asked = f"{reminder.call} {reminder.subject}".strip()
    return f"{chamber}: {asked}" if chamber else asked


def about(cause: Cause, chamber: str) -> str:
    """Say what messages were about.

    Args:
        cause: of the messages.
        chamber: title of its chamber; empty for none.
    """
    said = _KINDS[cause.kind]
    if cause.call is not None:
        asked = f"{cause.call} {cause.subject}".strip()
        said = asked if cause.kind is Kind.REMINDER else f"{asked}, {said}"
    return f"{chamber}: {said}" if chamber else said


# ---------------------------------------------------------------------- the week


def a_day(found: Quality) -> str:
    """Hold the messages a day against what one person bears."""
    few, many = A_DAY
    said = f"{found.per_day:.1f} a day"
    if found.per_day <= few:
        return f"{said}, which is calm: up to {few:g} are easily borne"
    if found.per_day <= many:
        return f"{said}, which is bearable: {few:g} to {many:g} is as much as one person wants"
    return f"{said}, which is too many: {few:g} to {many:g} is as much as one person wants"


def _share(share: float) -> str:
    return f"{share * 100.0:.0f} %"


def split(found: Quality) -> str:
    """Write how the priorities are spread, beside how they should be; empty for a few messages."""
    if found.messages < _FEW:
        return ""
    shares = ", ".join(
        f"{priority.word} {_share(found.by_priority[priority] / found.messages)}"
        f" (about {_share(SPLIT[priority])})"
        for priority in Priority
    )
    return f"{shares}; in brackets how alarm practice would have them"


def acknowledged(found: Quality) -> str:
    """Write how much of what was told people said they know of."""
    share = found.acknowledged_share
    if share is None:
        return "nothing about the air or a sensor was told"
    return f"{found.acknowledged} of {found.told} that a message told of ({_share(share)})"


def to_action(found: Quality) -> str:
    """Write how long it took until somebody acted."""
    if found.median_to_action is None:
        return (
            "no answer (one within a day counts)" if found.told else "there was nothing to answer"
        )
    half = "half of the answers" if found.answered > 1 else "the one answer"
    return f"{length(found.median_to_action)} ({half} came sooner or by then)"


def close(found: Quality) -> str:
    """Write how many raises came close upon each other."""
    if not found.chattering:
        return "none; 3 raises of one reminder within an hour would be"
    strictly = found.chattering_strictly or "none"
    return (
        f"{counted(found.chattering, 'raise')} in rows of {CHATTERS} or more within an hour, "
        f"{strictly} of them within a minute"
    )


def over_at_once(found: Quality) -> str:
    """Write how many were over before anybody could act."""
    if not found.fleeting:
        return "none"
    return f"{found.fleeting} within {length(FLEETS_WITHIN)}, before anyone could act"


def stale(found: Quality, titles: Mapping[int, str]) -> str:
    """Write what was on for over a day.

    Args:
        found: the figures.
        titles: of the reminders.
    """
    each = (f"{titles[s.reminder]}, for {length(s.lasted)}" for s in found.stale)
    return "; ".join(each) or "none"


def floods(found: Quality) -> str:
    """Write how often more came at once than a person can take in; empty where it never did."""
    if not found.floods:
        return ""
    times = counted(len(found.floods), "time")
    most = max(flood.messages for flood in found.floods)
    return f"{times} more than {FLOOD_ABOVE} in 10 min, at most {most} together"


def most_frequent(found: Quality) -> str:
    """Write what the ten most frequent make; empty where no more than ten spoke."""
    if found.most_frequent_share is None:
        return ""
    least, most = MOST_FREQUENT_SHARE
    share = _share(found.most_frequent_share)
    return f"{share} of all (in a plant {_share(least)} to {_share(most)})"


def not_sent(found: Quality) -> str:
    """Write what else became of messages; empty where all went out."""
    return ", ".join(f"{number} {fate}" for fate, number in sorted(found.not_sent.items()))


def figures(found: Quality, titles: Mapping[int, str]) -> tuple[tuple[str, str], ...]:
    """Return the figures of a week as labels and words; those that say nothing are left out.

    Args:
        found: the figures.
        titles: of the reminders.
    """
    lines = (
        ("messages", f"{found.messages}: {a_day(found)}"),
        ("by priority", split(found)),
        ("not gone out", not_sent(found)),
        ("known of", acknowledged(found)),
        ("until acted on", to_action(found)),
        ("close in a row", close(found)),
        ("over at once", over_at_once(found)),
        ("on over a day", stale(found, titles)),
        ("all at once", floods(found)),
        ("ten loudest", most_frequent(found)),
    )
    return tuple((label, words) for label, words in lines if words)


def days(week: Week) -> str:
    """Write from which day to which a week is."""
    first = week.monday()
    last = first + timedelta(days=6)
    month = "" if (first.year, first.month) == (last.year, last.month) else f" {first:%B}"
    year = "" if first.year == last.year else f" {first.year}"
    return f"{first.day}{month}{year} to {last.day} {last:%B} {last.year}"


def silent(found: Quality) -> bool:
    """Tell whether a week left nothing to look back on."""
    return not (found.messages or found.episodes or found.stale or found.not_sent)


# ---------------------------------------------------------------------- what tires


def tires(found: Tiring) -> str:
    """Say how a reminder tires."""
    parts = [counted(found.messages, "message")]
    if found.chattering:
        parts.append(f"{counted(found.chattering, 'raise')} close upon each other")
    if found.fleeting:
        parts.append(f"{found.fleeting} over before anyone could act")
    return f"{', '.join(parts)}."


def calmed(found: Tiring, reminder: Reminder) -> str:
    """Say what would calm a reminder: a setting where one would, else what to do.

    Args:
        found: how it tires.
        reminder: which.
    """
    if found.suggestion is not None:
        return f"{key(found.suggestion, reminder)}: {_effect(found.suggestion)}"
    return f"{_why_none(found)} {_INSTEAD[reminder.call]}"


def key(option: Suggestion, reminder: Reminder) -> str:
    """Name a setting and its value, as it is written into the settings file."""
    if option.setting is Setting.UNHEARD_AFTER:
        return f"For the sensor “{reminder.subject}” set {written(option)} (now {_was(option)})"
    return f"For the chamber “{reminder.chamber}” set {written(option)} (now {_was(option)})"


def written(option: Suggestion) -> str:
    """Write a setting as it stands in the settings file."""
    value = f"{option.value:g}" if _bare(option) else f'"{option.value:g} min"'
    return f"{setting_name(option)} = {value}"


def setting_name(option: Suggestion) -> str:
    """Name a setting as it is named within its chamber or sensor."""
    if option.quantity is None:
        return option.setting.value
    return f"patience.{option.quantity}.{option.setting}"


def _bare(option: Suggestion) -> bool:
    return option.setting is Setting.DEADBAND


def _was(option: Suggestion) -> str:
    unit = UNITS[option.quantity] if _bare(option) and option.quantity else "min"
    return f"{option.was:g} {unit}"


def _effect(option: Suggestion) -> str:
    if option.spared == option.raises:
        some = f"all of its {option.raises} raises"
    else:
        some = f"at least {option.spared} of its {option.raises} raises"
    if option.setting is Setting.ON_DELAY:
        return (
            f"{some} were over by themselves before that; what lasts is told "
            f"{option.value - option.was:g} min later."
        )
    if option.setting is Setting.UNHEARD_AFTER:
        return f"{some} were silences shorter than that; a sensor that fails is told later."
    if option.setting is Setting.OFF_DELAY:
        return f"{some} followed so soon that they would have been one with the raise before."
    return (
        f"before {some} the {_within(option.quantity)} had not come that far back inside; they "
        "would have been one with the raise before."
    )


def _within(quantity: Quantity | None) -> str:
    return "CO2" if quantity is Quantity.CO2 else f"{quantity}"


def _why_none(found: Tiring) -> str:
    if not found.raises:
        return "It was raised before this week and went on, so no setting would have helped."
    if found.needed == found.raises == 1:
        return (
            "No setting would help: its one raise wanted a hand, was harmful or lasted for over "
            "half an hour."
        )
    if found.needed * 2 >= found.raises:
        return (
            f"No setting would help: {found.needed} of its {counted(found.raises, 'raise')} "
            "wanted a hand, were harmful or lasted for over half an hour."
        )
    return f"No setting would have spared enough of its {counted(found.raises, 'raise')}."
