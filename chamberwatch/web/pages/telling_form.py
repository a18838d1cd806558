"""The questions about an address, and what their answers are in the settings."""

import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

from chamberwatch.web.language import _, chosen_from, marked
from chamberwatch.web.pages.form import Field, Typed, plain_number

MOST_ROWS: Final = 24
SPARE: Final = 2
"""Empty rows that a form offers."""

DAYS: Final = (
    ("", marked("not used")),
    ("daily", marked("every day")),
    ("mon-fri", marked("Monday to Friday")),
    ("sat,sun", marked("Saturday and Sunday")),
    ("mon", marked("Mondays")),
    ("tue", marked("Tuesdays")),
    ("wed", marked("Wednesdays")),
    ("thu", marked("Thursdays")),
    ("fri", marked("Fridays")),
    ("sat", marked("Saturdays")),
    ("sun", marked("Sundays")),
)
LEAST_THEN: Final = (("", marked("all there is")), ("medium", marked("medium priority only")))
LEAST: Final = (
    ("", marked("everything")),
    ("medium", marked("medium and high priority")),
    ("high", marked("high priority alone")),
)
WAKE: Final = (
    ("", marked("unless it was told at bedtime")),
    ("always", marked("always")),
    ("never", marked("never")),
)
TIMES: Final = ("summary", "bedtime", "leaving")
PLAIN: Final = ("least", "wake", *TIMES)
NONE_HINT: Final = marked("A local time such as {}, or none. {}")

DATE: Final = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)

Rows = tuple[tuple[Field, ...], ...]


def asked() -> dict[str, tuple[Field, ...]]:
    """Return the questions in groups; windows and days away are rows of their own."""
    return {
        "what": (
            Field("least", _("What goes there"), kind="choice", options=chosen_from(LEAST)),
            Field(
                "wake",
                _("Does high priority go through in quiet hours?"),
                kind="choice",
                options=chosen_from(WAKE),
            ),
        ),
        "more": (
            Field(
                "most_per_hour",
                _("Messages in any hour, at most"),
                _(
                    "High priority apart; what is more comes later, in one. 6 where "
                    "it stays empty."
                ),
                "number",
            ),
            Field(
                "summary",
                _("Summary of the day at"),
                _(NONE_HINT).format("07:30", _("Empty: when the first quiet hours of a day end.")),
            ),
            Field(
                "bedtime",
                _("Bedtime: a night that will not hold is told at"),
                _(NONE_HINT).format("22:00", _("Empty: at your last visit.")),
            ),
            Field(
                "leaving",
                _("Leaving: what will not hold by day is told at"),
                _(NONE_HINT).format("07:15", _("Empty: a little before your first visit.")),
            ),
            Field("pictures", _("Send the last six hours as a picture"), kind="tick"),
        ),
    }


def windows(told: Typed) -> Rows:
    """Return the rows of windows: those there are, and some to spare."""
    return tuple(
        (
            Field(f"days_{n}", _("Days"), kind="choice", options=_days(told.get(f"days_{n}", ""))),
            Field(f"from_{n}", "from", kind="time"),
            Field(f"until_{n}", "until", kind="time"),
            Field(f"least_{n}", _("what"), kind="choice", options=chosen_from(LEAST_THEN)),
        )
        for n in range(_count(told, "days_"))
    )


def aways(told: Typed) -> Rows:
    """Return the rows of days away."""
    return tuple(
        (
            _date(f"away_{n}", "from", told),
            _date(f"back_{n}", _("until (back that day)"), told),
        )
        for n in range(_count(told, "away_"))
    )


def _date(name: str, label: str, told: Typed) -> Field:
    """Return the question for a day; what a file says to the hour is asked for as a text."""
    value = told.get(name, "")
    return Field(name, label, kind="date" if not value or DATE.fullmatch(value) else "text")


def _days(stands: str) -> tuple[tuple[str, str], ...]:
    """Return the choices of days; what a file says in its own way is one more."""
    known = stands in {value for value, __ in DAYS}
    days = chosen_from(DAYS)
    return days if known else (*days, (stands, stands))


def _count(told: Typed, stem: str) -> int:
    used = [int(key.removeprefix(stem)) for key in told if _numbered(key, stem) and told[key]]
    return min(MOST_ROWS, max(used, default=-1) + 1 + SPARE)


def _numbered(key: str, stem: str) -> bool:
    number = key.removeprefix(stem)
    return key.startswith(stem) and number.isascii() and number.isdecimal() and len(number) < 3


def told_of(entry: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in the settings as somebody would have typed it."""
    told = {key: _shown(entry[key]) for key in (*PLAIN, "most_per_hour") if key in entry}
    told |= {key: "" for key in ("least", "wake") if told.get(key) in ("low", "foretold")}
    told["pictures"] = "yes" if entry.get("pictures", True) else ""
    for number, window in enumerate(entry.get("when", ())):
        start, _, end = str(window.get("hours", "")).replace("\N{EN DASH}", "-").partition("-")
        told[f"days_{number}"] = str(window.get("days", "daily"))
        told[f"from_{number}"], told[f"until_{number}"] = _clock(start), _clock(end)
        least = window.get("least", "low")
        told[f"least_{number}"] = "" if least == "low" else str(least)
    for number, away in enumerate(entry.get("away", ())):
        told[f"away_{number}"] = _shown(away.get("from", ""))
        told[f"back_{number}"] = _shown(away.get("until", ""))
    return told


def _clock(text: str) -> str:
    """Write a time as the field of a browser takes it."""
    said = text.strip().zfill(len("00:00"))
    return "00:00" if said == "24:00" else said


def _shown(value: Any) -> str:  # noqa: ANN401 - any TOML value
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def answers(told: Typed, now: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is to stand in the settings; None: nothing.

    Args:
        told: what was typed.
        now: what stands there.
    """
    said: dict[str, Any] = {key: told.get(key) or None for key in PLAIN}
    most = told.get("most_per_hour", "")
    said["most_per_hour"] = plain_number(most) if most else None
    said["pictures"] = None if told.get("pictures") else False
    said["when"] = [_window(told, n) for n in range(MOST_ROWS) if told.get(f"days_{n}")] or None
    said["away"] = [
        {"from": told.get(f"away_{n}", ""), "until": told.get(f"back_{n}", "")}
        for n in range(MOST_ROWS)
        if told.get(f"away_{n}") or told.get(f"back_{n}")
    ] or None
    return {key: value for key, value in said.items() if not _as_it_was(key, value, now)}


def _window(told: Typed, number: int) -> dict[str, str]:
    end = told.get(f"until_{number}", "")
    start = told.get(f"from_{number}", "")
    # A clock has no 24:00; a window that ends at midnight does.
    hours = f"{start}-{'24:00' if end == '00:00' else end}"
    least = told.get(f"least_{number}")
    window = {"days": told[f"days_{number}"], "hours": hours}
    return window | ({"least": least} if least else {})


def _as_it_was(key: str, value: object, now: Mapping[str, Any]) -> bool:
    """Tell whether an answer says what stands there already, perhaps in other words."""
    before = now.get(key)
    if value is None:
        return before in (None, "low", "foretold", True)
    if key == "when" and isinstance(before, list):
        return told_of({"when": before}) == told_of({"when": value})
    if key == "away" and isinstance(before, list):
        return told_of({"away": before}) == told_of({"away": value})
    return False
