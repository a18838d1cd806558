"""What is said of a fault in the settings file: where it stands, what stands there, the cure."""

import difflib
import json
from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, get_args

from pydantic import BaseModel

from chamberwatch.core.errors import Fault
from chamberwatch.core.sentence import plain
from chamberwatch.core.shown_in import TemperatureUnit, WeightUnit
from chamberwatch.core.watch.device import Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.settings.chambers import StatedStage
from chamberwatch.settings.models import Settings, zones
from chamberwatch.settings.patience import AskedPriority
from chamberwatch.settings.salvage import Found
from chamberwatch.settings.speaking import SpeakingSettings

LONGEST: Final = 60
_QUANTITIES: Final = tuple(q.value for q in Quantity)
_LISTS: Final = ("chamber", "sensor", "notify", "device", "wired", "rotation")
_IN_LISTS: Final = {
    "shelves": '["top", "bottom"]',
    "visits": '["07:30", "18:00"]',
    "windows": '["07:00-22:00"]',
    "when": '[{ days = "mon-fri", hours = "07:00-08:30" }]',
    "away": '[{ from = "2026-12-20", until = "2026-12-28" }]',
}
"""Examples of what is a list of values."""

_WORDS: Final[Mapping[str, type[StrEnum]]] = {
    "kind": Kind,
    "priority": AskedPriority,
    "temperature": TemperatureUnit,
    "weight": WeightUnit,
}
"""Keys that take one of a few words."""

_NO_SECRETS: Final = tuple((key,) for key in ("name", *SpeakingSettings.model_fields))
"""Keys of an address that may be shown; any other may be the address itself, misspelt."""

_WITH_PASSWORD: Final = ("mqtt", "database")
"""Sections in which somebody may have written a password."""

CURES: Final[dict[str, str]] = {
    "missing": "Add it; it is needed.",
    "bool_type": "Write true or false.",
    "string_type": "Write a text in quotation marks.",
    "float_type": "Write a number.",
    "finite_number": "Write a number.",
    "float_parsing": "Write a number.",
    "int_type": "Write a whole number.",
    "int_parsing": "Write a whole number.",
    "int_parsing_size": "Write a smaller number.",
    "int_from_float": "Write a whole number.",
    "string_too_short": "It can't be empty.",
    "string_too_long": "Write no more than {max_length} characters.",
    "too_short": "Name at least one, as in [sensor.reads.humidity].",
    "too_long": "Name no more than {max_length}.",
    "greater_than": "Give more than {gt:g}.",
    "greater_than_equal": "Give {ge:g} or more.",
    "less_than_equal": "Give {le:g} or less.",
}
_SHAPES: Final = ("model_type", "dict_type", "tuple_type")


def fault_of(path: Path, raw: Mapping[str, Any], found: Found) -> Fault:
    """Put a fault into words."""
    value = "" if _kept_back(found) else shown(found.given)
    return Fault(str(path), key_words(raw, found.where), value, one_line(_cure(found)))


def one_line(cure: str) -> str:
    """Write a cure on one line: a text of the file that is quoted in it may hold a line break."""
    return " ".join(cure.split())


def shown(value: object) -> str:
    """Write a value on one line as it stands in the file; a section is not shown."""
    if isinstance(value, dict):
        return ""
    # JSON writes texts, truths and lists as TOML does, but not the number that is none.
    as_is = isinstance(value, float)
    text = str(value) if as_is else json.dumps(value, ensure_ascii=False, default=str)
    # What turns the direction of writing would turn the rest of the line, too.
    text = "".join(c if plain(c) == c else f"\\u{ord(c):04x}" for c in text)
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def _kept_back(found: Found) -> bool:
    """Tell whether a value must not be shown: it says nothing, or it may be a secret."""
    where = found.where
    says_nothing = found.kind == "missing" or where[-1:] == (found.given,)
    in_notify = where[0] == "notify" and where[2:3] not in _NO_SECRETS
    in_address = where[0] == "sign_of_life" and where[1:] != ("every",)
    misspelt = found.kind == "extra_forbidden" and (len(where) == 1 or where[0] in _WITH_PASSWORD)
    whole = where[0] in _WITH_PASSWORD and len(where) == 1
    no_text = where == ("database", "url") and not isinstance(found.given, str)
    secret = in_notify or in_address or misspelt or whole or no_text
    return says_nothing or secret


def _cure(found: Found) -> str:
    where, kind = found.where, found.kind
    given = str(found.given)
    if kind == "extra_forbidden":
        return "There is no such key; take it out." + near(str(where[-1]), _keys_beside(where))
    if kind == "enum":
        known = _choices(where)
        return f"Write one of {', '.join(known)}." + near(given, known)
    if kind == "literal_error":
        return f"Write one of {found.context['expected']}.".replace("'", '"')
    if kind in _SHAPES:
        return _shape(where)
    cure = CURES[kind].format(**found.context) if kind in CURES else found.message
    if where[-1] == "timezone":
        cure += near(given, sorted(zones()))
    return cure


def _choices(where: Sequence[int | str]) -> tuple[str, ...]:
    """Return the words that one of must stand there."""
    if "reads" in where:
        return _QUANTITIES
    known = _WORDS.get(str(where[-1]), StatedStage)
    return tuple(word.value for word in known)


def _shape(where: Sequence[int | str]) -> str:
    """Say how a section or a list is written."""
    if where[0] in _LISTS and len(where) <= 2:
        return f"Write each as a section of its own that begins with [[{where[0]}]]."
    in_list = next((part for part in where[-1:-3:-1] if part in _IN_LISTS), None)
    if in_list is not None:
        return f"Write a list, such as {_IN_LISTS[str(in_list)]}."
    return f"Write it as a section, [{'.'.join(p for p in where if isinstance(p, str))}]."


def key_words(raw: Any, where: Sequence[int | str]) -> str:  # noqa: ANN401 - any TOML value
    """Write a place in the file, naming entries of a list by their own name."""
    words, here = "", raw
    for part in where:
        here = _inside(here, part)
        if isinstance(part, int):
            name = here.get("name") if isinstance(here, dict) else None
            words += f"[{part + 1}]" + (f" {shown(name)}" if isinstance(name, str) else "")
        else:
            words += f".{_bare(part)}" if words else _bare(part)
    return words


def _bare(key: str) -> str:
    """Write a key as TOML does: in quotation marks where it is not a plain word."""
    plain = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if plain else shown(key)


def _inside(here: Any, part: int | str) -> Any:  # noqa: ANN401 - any TOML value
    try:
        return here[part]
    except (KeyError, IndexError, TypeError):
        return None


def _keys_beside(where: Sequence[int | str]) -> list[str]:
    """Return the keys that would have been right in that place."""
    model: type[BaseModel] = Settings
    for part in where[:-1]:
        # Numbers of entries, and what stands below `reads`, are no fields of a model.
        field = model.model_fields.get(str(part))
        inner = _model_in(field.annotation) if field else None
        model = inner or model
    known = ((field.alias or name) for name, field in model.model_fields.items())
    return [name for name in known if not name.endswith("password")]


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - a type expression
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(argument) for argument in get_args(annotation))
    return next((model for model in found if model is not None), None)


def near(given: str, known: Sequence[str], alike: float = 0.6) -> str:
    """Ask whether the known word that is most like it was meant; say nothing where none is."""
    close = difflib.get_close_matches(given, known, n=1, cutoff=alike)
    return f" Did you mean {close[0]}?" if close else ""
