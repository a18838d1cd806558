"""Numbers, ages and times as a page writes them."""

from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.watch.judgement import Judgement, Standing
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.language import _, marked, ngettext

GAP: Final = "\N{NO-BREAK SPACE}"
MINUS: Final = "\N{MINUS SIGN}"

_NAMES: Final[dict[Quantity, str]] = {
    Quantity.TEMPERATURE: marked("temperature"),
    Quantity.HUMIDITY: marked("humidity"),
    Quantity.CO2: "CO₂",
    Quantity.PRESSURE: marked("air pressure"),
    Quantity.BATTERY: marked("battery"),
}

# quantity -> (unit on a page, divisor from the kept unit, decimals). No finer than a sensor can
# honestly say.
SHOWN: Final[dict[Quantity, tuple[str, float, int]]] = {
    Quantity.TEMPERATURE: ("°C", 1.0, 1),
    Quantity.HUMIDITY: ("%", 1.0, 0),
    Quantity.CO2: ("ppm", 1.0, 0),
    Quantity.PRESSURE: ("kPa", 1000.0, 1),
    Quantity.BATTERY: ("V", 1.0, 2),
}

WEEKDAYS: Final = (
    *(marked("Monday"), marked("Tuesday"), marked("Wednesday"), marked("Thursday")),
    *(marked("Friday"), marked("Saturday"), marked("Sunday")),
)
WEEKDAYS_SHORT: Final = (
    *(marked("Mon"), marked("Tue"), marked("Wed"), marked("Thu")),
    *(marked("Fri"), marked("Sat"), marked("Sun")),
)
MONTHS: Final = (
    *(marked("January"), marked("February"), marked("March"), marked("April")),
    *(marked("May"), marked("June"), marked("July"), marked("August")),
    *(marked("September"), marked("October"), marked("November"), marked("December")),
)
MONTHS_SHORT: Final = (
    *(marked("Jan"), marked("Feb"), marked("Mar"), marked("Apr"), marked("May"), marked("Jun")),
    *(marked("Jul"), marked("Aug"), marked("Sep"), marked("Oct"), marked("Nov"), marked("Dec")),
)

MINUTE: Final = 60
HOUR: Final = 60 * MINUTE
DAY: Final = 24 * HOUR


def named(quantity: Quantity) -> str:
    """Name a quantity."""
    return _(_NAMES[quantity])


def weekday(day: date) -> str:
    """Name the day of the week."""
    return _(WEEKDAYS[day.weekday()])


def weekday_short(day: date) -> str:
    """Name the day of the week where there is little room."""
    return _(WEEKDAYS_SHORT[day.weekday()])


def month(day: date) -> str:
    """Name the month."""
    return _(MONTHS[day.month - 1])


def month_short(day: date) -> str:
    """Name the month where there is little room."""
    return _(MONTHS_SHORT[day.month - 1])


def number(value: float, decimals: int) -> str:
    """Write a number with a true minus sign, and never “minus nothing”."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return text.replace("-", MINUS)


def amount(quantity: Quantity, value: float, finer: int = 0) -> str:
    """Write a value with its unit, `finer` decimals more than usual."""
    unit, divisor, decimals = SHOWN[quantity]
    return f"{number(value / divisor, decimals + finer)}{GAP}{unit}"


def bare(quantity: Quantity, value: float) -> str:
    """Write a limit of a band: no unit, no empty decimals."""
    _, divisor, _ = SHOWN[quantity]
    return f"{value / divisor:g}".replace("-", MINUS)


def finer_for(judgement: Judgement) -> int:
    """Return the decimals needed so that a value just outside doesn't read as the limit."""
    if judgement.standing is Standing.WITHIN:
        return 0
    _, divisor, decimals = SHOWN[judgement.reading.quantity]
    return int(judgement.by / divisor < 0.5 * 10.0**-decimals)


def standing(judgement: Judgement) -> str:
    """Say where a value stands against its band, and by how much."""
    quantity = judgement.reading.quantity
    only_harm = judgement.band.low is None and judgement.band.high is None
    if judgement.standing is Standing.WITHIN:
        return _("clear of the harm limit") if only_harm else _("inside the band")
    by = amount(quantity, judgement.by, finer_for(judgement))
    match judgement.standing, only_harm:
        case Standing.BELOW, True:
            return _("below the harm limit by %(by)s", by=by)
        case Standing.BELOW, False:
            return _("below the band by %(by)s", by=by)
        case _, True:
            return _("above the harm limit by %(by)s", by=by)
        case _:
            return _("above the band by %(by)s", by=by)


def standing_short(judgement: Judgement) -> str:
    """Say the same where there is little room, and that it is harmful where it is."""
    if not judgement.harm or judgement.standing is Standing.WITHIN:
        return standing(judgement)
    by = amount(judgement.reading.quantity, judgement.by, finer_for(judgement))
    if judgement.standing is Standing.BELOW:
        return _("harm: below by %(by)s", by=by)
    return _("harm: above by %(by)s", by=by)


def band_words(judgement: Judgement) -> str:
    """Write the band itself."""
    band, quantity = judgement.band, judgement.reading.quantity
    unit = SHOWN[quantity][0]
    parts = []
    match band.low, band.high:
        case float() | int() as low, float() | int() as high:
            parts.append(
                _(
                    "%(low)s to %(high)s",
                    low=bare(quantity, low),
                    high=f"{bare(quantity, high)}{GAP}{unit}",
                )
            )
        case None, float() | int() as high:
            parts.append(_("up to %(high)s", high=f"{bare(quantity, high)}{GAP}{unit}"))
        case float() | int() as low, None:
            parts.append(_("from %(low)s", low=f"{bare(quantity, low)}{GAP}{unit}"))
        case _:
            pass
    if band.harm_low is not None:
        parts.append(_("harm below %(low)s", low=f"{bare(quantity, band.harm_low)}{GAP}{unit}"))
    if band.harm_high is not None:
        parts.append(_("harm above %(high)s", high=f"{bare(quantity, band.harm_high)}{GAP}{unit}"))
    return ", ".join(parts)


def span(length: timedelta) -> str:
    """Write a length of time in its largest fitting unit."""
    seconds = max(0, int(length.total_seconds()))
    if seconds < 2 * MINUTE:
        return f"{seconds}{GAP}s"
    if seconds < 2 * HOUR:
        return f"{seconds // MINUTE}{GAP}min"
    if seconds < 2 * DAY:
        return f"{seconds // HOUR}{GAP}h"
    return ngettext(
        "%(num)s\N{NO-BREAK SPACE}day", "%(num)s\N{NO-BREAK SPACE}days", seconds // DAY
    )


def moment(when: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Write a time as a person nearby would say it."""
    local, today = when.astimezone(zone), now.astimezone(zone)
    clock = f"{local:%H:%M}"
    days = (today.date() - local.date()).days
    if days == 0:
        return clock
    if abs(days) < 7:
        return f"{weekday(local)} {clock}"
    return (
        f"{local.day} {month(local)} {clock}"
        if local.year == today.year
        else f"{local:%Y-%m-%d} {clock}"
    )


def both_ends(text: str, most: int) -> str:
    """Cut the middle of a name: names of shelves and sensors often differ in their last letters.

    The full one stands in its title.
    """
    if len(text) <= most:
        return text
    tail = (most - 1) // 2
    return text[: most - 1 - tail].rstrip() + "…" + text[len(text) - tail :].lstrip()


def shortened(text: str, most: int) -> str:
    """Cut a name that has no room in the drawing; the full one stands in its title."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
