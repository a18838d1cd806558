"""The questions about a chamber, and what their answers are in the settings."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.web.language import _, chosen_from, marked
from chamberwatch.web.pages.form import Field, Typed, nameable, plain_number

KINDS: Final = (
    ("fruiting", marked("for fruiting: what stands in it is open")),
    ("colonisation", marked("for colonisation: closed bags and jars")),
    ("room", marked("a room that chambers stand in; nothing grows in its own air")),
    ("outdoors", marked("outdoors: a balcony, a shed with open windows")),
)
ROOMS: Final = ("room", "outdoors")
INSIDE: Final = "in:"
"""What the field of a chamber begins with that may stand in a new room."""
SIDES: Final = ("length_cm", "width_cm", "height_cm")
NUMBERS: Final = (
    "squeeze_g",
    "shelf_holds",
    "open_at_most",
    "air_changes_per_h",
    "vent_air_changes_per_h",
    "wet_area_m2",
    "cover_u_w_per_m2k",
)
LENGTHS: Final = ("early", "wet_at_most")
LONGEST_TITLE: Final = 60
CM3_PER_L: Final = 1000


def asked(rooms: Sequence[Chamber]) -> dict[str, tuple[Field, ...]]:
    """Return the questions in groups.

    Args:
        rooms: that it can stand in.
    """
    standing = (("", _("nowhere that is measured")), *((room.name, room.title) for room in rooms))
    return {
        "what": (
            Field("title", _("What you call it"), most=LONGEST_TITLE, optional=False),
            Field("kind", _("What it is for"), kind="choice", options=chosen_from(KINDS)),
        ),
        "sides": (
            Field("length_cm", _("Length, cm"), kind="number"),
            Field("width_cm", _("Width, cm"), kind="number"),
            Field("height_cm", _("Height, cm"), kind="number"),
        ),
        "inside": (
            Field(
                "volume_l",
                _("or free air, litres"),
                _(
                    "Length x width x height in cm, divided by 1000, less what "
                    "stands in it. Without it no amounts can be told: how much to "
                    "mist, how long to vent."
                ),
                "number",
            ),
            Field(
                "shelves",
                _("Shelves, one a line, the top one first"),
                _("Such as top, middle, bottom. May stay empty."),
                "lines",
            ),
            Field(
                "surrounding",
                _("The room it stands in"),
                _(
                    "Its air is what comes in when you vent. A room that isn't there yet is added "
                    "afterwards."
                ),
                "choice",
                standing,
            ),
            Field(
                "living_space", _("People live around it, and no duct leads outside"), kind="tick"
            ),
        ),
        "habits": (
            Field(
                "visits",
                _("When you usually come by"),
                _(
                    "Local times, such as 07:30, 18:00, 22:00: what you do has to "
                    "hold until the next one. These hold where it stays empty."
                ),
            ),
            Field(
                "squeeze_g",
                _("Water of one squeeze of your spray bottle, grams"),
                _(
                    "Weigh it before and after twenty squeezes, and divide by "
                    "twenty. 1 where it stays empty."
                ),
                "number",
            ),
            Field("shelf_holds", _("Batches that a shelf takes"), kind="number"),
            Field("open_at_most", _("Open batches at once"), kind="number"),
        ),
        "more": _more(),
    }


def asked_of_room(chambers: Sequence[Chamber]) -> dict[str, tuple[Field, ...]]:
    """Return the questions about a room that isn't there yet, in groups.

    Args:
        chambers: that may stand in it.
    """
    kinds = (("room", marked("a room of the house")), KINDS[-1])
    return {
        "what": (
            Field("title", _("What you call it"), most=LONGEST_TITLE, optional=False),
            Field("kind", _("What it is"), kind="choice", options=chosen_from(kinds)),
        ),
        "holds": tuple(
            Field(f"{INSIDE}{each.name}", each.title, kind="tick") for each in chambers
        ),
    }


def held(told: Typed) -> tuple[str, ...]:
    """Return the names of the chambers that were said to stand in a new room."""
    return tuple(
        name.removeprefix(INSIDE)
        for name, value in told.items()
        if name.startswith(INSIDE) and value
    )


def _more() -> tuple[Field, ...]:
    return (
        Field(
            "early",
            _("Tell me so long before a limit is reached"),
            _("Such as 30 min; from 5 min to 3 h. Only once forecasts have proved right here."),
        ),
        Field(
            "wet_at_most",
            _("Surfaces may stay wet for"),
            _("Such as 6 h, which holds where it stays empty."),
        ),
        Field(
            "air_changes_per_h",
            _("Air changes an hour while closed"),
            _("Found from the record where it stays empty; so are the next two."),
            "number",
        ),
        Field("vent_air_changes_per_h", _("Air changes an hour while vented"), kind="number"),
        Field("wet_area_m2", _("Walls, floor and trays that can stand wet, m²"), kind="number"),
        Field(
            "cover_u_w_per_m2k",
            _("How well the cover lets heat through, W/(m² K)"),
            _(
                "Thin film 3.8, which holds where it stays empty; two sheets "
                "with air between: less."
            ),
            "number",
        ),
    )


def told_of(entry: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in the settings as somebody would have typed it."""
    told = {
        key: f"{value:g}" if isinstance(value, float) else str(value)
        for key, value in entry.items()
        if isinstance(value, str | int | float) and not isinstance(value, bool)
    }
    told["title"] = str(entry.get("title") or entry.get("name", ""))
    told["kind"] = "outdoors" if entry.get("outdoors") else str(entry.get("stage", "room"))
    told["shelves"] = "\n".join(map(str, entry.get("shelves", ())))
    told["visits"] = ", ".join(_time(each) for each in entry.get("visits", ()))
    told["living_space"] = "yes" if entry.get("living_space") else ""
    return told


def _time(given: Any) -> str:  # noqa: ANN401 - a text, or a time of day of TOML
    return given if isinstance(given, str) else f"{given:%H:%M}"


def answers(told: Typed, now: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is to stand in the settings; None: nothing.

    Args:
        told: what was typed.
        now: what stands there.
    """
    kind = told.get("kind", "")
    said: dict[str, Any] = {
        "title": told.get("title", "")[:LONGEST_TITLE],
        "stage": None if kind in ROOMS else kind,
        "outdoors": kind == "outdoors" or None,
        "volume_l": _volume(told),
        "shelves": [nameable(each) or each for each in _split(told, "shelves", r"[\n]+")] or None,
        "surrounding": told.get("surrounding") or None,
        "living_space": bool(told.get("living_space")) or None,
        "visits": _split(told, "visits", r"[\s,;]+") or None,
    }
    said |= {key: plain_number(told[key]) if told.get(key) else None for key in NUMBERS}
    said |= {key: told.get(key) or None for key in LENGTHS}
    # What a file states though it holds anyway is left as it stands.
    stated = {key for key in ("outdoors", "living_space") if now.get(key) is False}
    return {key: value for key, value in said.items() if value is not None or key not in stated}


def _volume(told: Typed) -> float | str | None:
    sides = [plain_number(told[side]) for side in SIDES if told.get(side)]
    if len(sides) == len(SIDES):
        litres = 1.0
        for side in sides:
            if isinstance(side, str):
                return side
            litres *= side
        return plain_number(f"{litres / CM3_PER_L:.1f}")
    return plain_number(told["volume_l"]) if told.get("volume_l") else None


def _split(told: Typed, name: str, by: str) -> list[str]:
    parts: Iterable[str] = re.split(by, told.get(name, ""))
    return [each.strip() for each in parts if each.strip()]
