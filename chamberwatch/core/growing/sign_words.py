"""What is said of a sign that was seen: its likely causes, and what the air did before."""

from collections.abc import Mapping
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.growing.signs import Finding, Gauge, Heard, Seen, Side, Speaks
from chamberwatch.core.growing.species import UNSAID, Mark
from chamberwatch.core.sentence import within

NOTE_CHARS: Final = 1500

NO_SENSOR: Final = "No sensor tells this; look yourself."
NO_LIMIT: Final = "In this stage there is no limit to hold it against."

_NAMES: Final[Mapping[Gauge, str]] = {
    Gauge.TEMPERATURE: "Temperature",
    Gauge.HUMIDITY: "Humidity",
    Gauge.CO2: "CO2",
    Gauge.VPD: "The drying power of the air (vapour-pressure deficit)",
}

_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven")

_DAY: Final = timedelta(days=1)
_HOUR: Final = timedelta(hours=1)

# So many hours may lack before “the last five days” would claim too much.
_NEARLY_ALL: Final = 0.9

# First hour of each part of the day.
_PARTS: Final = (
    (22, "late in the evening of"),
    (18, "on the evening of"),
    (14, "on the afternoon of"),
    (11, "around noon of"),
    (6, "on the morning of"),
    (0, "in the early hours of"),
)


def finding_words(finding: Finding, zone: tzinfo) -> str:
    """Say what the air has to say to a cause.

    Args:
        finding: the cause and what was heard.
        zone: for days and parts of the day.
    """
    heard = finding.heard
    if heard is None:
        return NO_SENSOR
    if heard.clue.gauge is Gauge.WAIT:
        return _waiting(heard)
    return _measured(heard, zone) if finding.speaks is not Speaks.UNHEARD else _unheard(heard)


def source_words(source: str, mark: Mark) -> str:
    """Name a source and how well it is known; common practice where there is none."""
    if not source:
        return mark.value
    return source if mark in UNSAID else f"{source}; {mark.value}"


def note(seen: Seen) -> str:
    """Write what is kept of a sign in the record, in at most `NOTE_CHARS` characters.

    Args:
        seen: with its findings in words.
    """
    shares = (
        ("The air speaks for: ", Speaks.FOR),
        ("Not for: ", Speaks.AGAINST),
        ("Can't be told from the air: ", Speaks.UNHEARD),
    )
    parts = [f"{seen.sign.title}."]
    for opening, speaks in shares:
        found = [finding for finding in seen.findings if finding.speaks is speaks]
        if found:
            parts.append(opening + _listed(found, speaks))
    return _cut(" ".join(parts))


def _listed(found: list[Finding], speaks: Speaks) -> str:
    if speaks is Speaks.UNHEARD:
        return ", ".join(map(_untold, found)) + "."
    said = (f"{within(each.cause.title)} ({each.words.rstrip('.')})" for each in found)
    return ", ".join(said) + "."


def _untold(finding: Finding) -> str:
    """Name a cause, and which sensor is missing where one could tell."""
    title = within(finding.cause.title)
    return title if finding.heard is None else f"{title} ({finding.words.rstrip('.')})"


def _cut(text: str) -> str:
    return text if len(text) <= NOTE_CHARS else f"{text[: NOTE_CHARS - 1].rstrip()}…"


def _unheard(heard: Heard) -> str:
    if heard.silence:
        return heard.silence
    if heard.limit is None:
        return NO_LIMIT
    return f"{_NAMES[heard.clue.gauge]} was measured in {_hours(heard.hours)} only; too little."


def _measured(heard: Heard, zone: tzinfo) -> str:
    gauge, limit, extreme = heard.clue.gauge, heard.limit or 0.0, heard.extreme or 0.0
    superlative = "most" if heard.clue.side is Side.ABOVE else "least"
    beyond = f"{heard.clue.side.value} {_amount(gauge, limit)}"
    when = part_of_day(heard.extreme_at or heard.until, zone)
    return (
        f"{_NAMES[gauge]} was {_how_often(heard, beyond, _stretch(heard, zone))}, {superlative} "
        f"{_amount(gauge, extreme)} {when}."
    )


def _how_often(heard: Heard, beyond: str, stretch: str) -> str:
    if not heard.beyond:
        return f"at no hour {beyond} in {stretch}"
    percent = heard.share * 100.0
    share = f"{percent:.0f} %" if percent >= 1.0 else "less than 1 %"
    return f"{beyond} for {share} of {stretch}"


def _stretch(heard: Heard, zone: tzinfo) -> str:
    """Name the stretch; “the last five days” only where nearly all of them was measured."""
    days = round((heard.until - heard.since) / _DAY)
    whole = abs((heard.until - heard.since) - timedelta(days=days)) < _HOUR
    if whole and days and heard.hours >= days * 24 * _NEARLY_ALL:
        ended = " before it ended" if heard.ended else ""
        return "the last day" + ended if days == 1 else f"the last {_number(days)} days{ended}"
    since = heard.since.astimezone(zone)
    return f"the {_hours(heard.hours)} measured since {since:%-d %B}"


def part_of_day(time: datetime, zone: tzinfo) -> str:
    """Name a part of a day, such as “on the evening of Tuesday 13 January”."""
    local = time.astimezone(zone)
    words = next(words for hour, words in _PARTS if local.hour >= hour)
    return f"{words} {local:%A %-d %B}"


def _waiting(heard: Heard) -> str:
    window, waited = heard.window, heard.waited_days
    if window is None or window.high is None or waited is None:
        return "No source says how long that takes."
    low = "" if window.low is None or window.low == window.high else f"{window.low:g} to "
    source = source_words(window.used.source, window.used.mark)
    return f"It has waited for {_days(waited)}; {low}{window.high:g} days are usual ({source})."


def _days(days: float) -> str:
    whole = int(days)
    return "less than a day" if whole < 1 else f"{_number(whole)} day{'s' * (whole > 1)}"


def _hours(hours: int) -> str:
    return "1 hour" if hours == 1 else f"{hours} hours"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _amount(gauge: Gauge, value: float) -> str:
    """Write a value with its unit, no finer than a home sensor can tell."""
    if gauge is Gauge.VPD:
        return f"{value / 1000.0:.2f} kPa"
    if gauge is Gauge.TEMPERATURE:
        return f"{value:.1f} °C"
    return f"{value:.0f} {'%' if gauge is Gauge.HUMIDITY else 'ppm'}"
