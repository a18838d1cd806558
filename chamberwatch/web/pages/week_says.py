"""Words that the page Week and its script share; the script is handed them with the page."""

from typing import Final

from chamberwatch.web.language import _, found, marked
from chamberwatch.web.words import MONTHS, MONTHS_SHORT, WEEKDAYS, WEEKDAYS_SHORT

SAYS: Final[dict[str, str]] = {
    "day": marked("%(weekday)s %(day)s %(month)s %(year)s"),
    "date": marked("%(day)s %(month)s"),
    "dated": marked("%(day)s %(month)s %(year)s"),
    "within": marked("%(day)s, %(since)s to %(until)s"),
    "span": marked("%(since)s to %(until)s"),
    "dayBefore": marked("the day before"),
    "weekBefore": marked("the week before"),
    "weeksBefore": marked("%(weeks)s weeks before"),
    "harmBelow": marked("harm below"),
    "harmAbove": marked("harm above"),
    "many": marked("%(number)s in this time; come closer to see them"),
    "notRead": marked("%(quantity)s not read"),
    "below": marked("%(value)s, below"),
    "above": marked("%(value)s, above"),
    "between": marked("(%(low)s to %(high)s)"),
    "more": marked("%(marks)s; %(number)s more"),
    "nothing": marked("Nothing was read in this time."),
    "unreached": marked(
        "The server can't be reached, or has refused; what is drawn may be old. It is tried again "
        "within a minute."
    ),
}
"""By the name the script calls them; it puts the values in itself."""


def says() -> dict[str, object]:
    """Return the words of the script in the language spoken, values not yet put in."""
    return {
        **{name: found(text) for name, text in SAYS.items()},
        "weekdays": [_(name) for name in WEEKDAYS],
        "weekdaysShort": [_(name) for name in WEEKDAYS_SHORT],
        "months": [_(name) for name in MONTHS],
        "monthsShort": [_(name) for name in MONTHS_SHORT],
    }
