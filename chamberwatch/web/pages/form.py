"""Forms of the set-up pages: what is asked, what was typed, and what is wrong with it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import parse_qsl

from fastapi import Request

from chamberwatch.web.pages.typed_numbers import number_typed

MOST_FIELDS: Final = 400
LONGEST: Final = 4000
NOT_NAMEABLE: Final = re.compile(r"[^a-z0-9]+")
LONGEST_NAME: Final = 41

Typed = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Field:
    """One question of a form.

    Attributes:
        name: of the field, and of its key in the settings.
        label: the question.
        hint: what helps to answer it; empty: nothing.
        kind: text, number, time, date, lines (of a longer text), tick, or choice.
        options: of a choice: value and words of each.
        optional: it may stay empty.
        most: characters at the most.
        value: what stands in it.
        error: what is wrong with it; empty while nothing is.
    """

    name: str
    label: str
    hint: str = ""
    kind: str = "text"
    options: tuple[tuple[str, str], ...] = ()
    optional: bool = True
    most: int = 80
    value: str = ""
    error: str = ""


def typed(request: Request) -> dict[str, str]:
    """Return what was typed into a form, whatever fields it has; the first of each name."""
    body: bytes = request.state.body
    try:
        pairs = parse_qsl(
            body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=MOST_FIELDS
        )
    except ValueError:
        return {}
    found: dict[str, str] = {}
    for name, value in pairs:
        found.setdefault(name, value.strip()[:LONGEST])
    return found


def filled(
    fields: Sequence[Field], told: Typed, errors: Mapping[str, str] | None = None
) -> tuple[Field, ...]:
    """Return fields with what stands in them, and with what is wrong."""
    wrong = errors or {}
    return tuple(
        replace(each, value=told.get(each.name, ""), error=wrong.get(each.name, ""))
        for each in fields
    )


def elsewhere(fields: Sequence[Field], errors: Mapping[str, str]) -> tuple[str, ...]:
    """Return what is wrong that belongs to none of the fields."""
    names = {each.name for each in fields}
    return tuple(words for name, words in errors.items() if name not in names)


def nameable(text: str) -> str:
    """Return a short name such as the settings take, made of what somebody calls a thing."""
    return NOT_NAMEABLE.sub("-", text.lower()).strip("-")[:LONGEST_NAME].strip("-")


def free_name(text: str, otherwise: str, taken: Sequence[str]) -> str:
    """Return such a name that nothing has yet."""
    stem = nameable(text) or otherwise
    names = [stem, *(f"{stem[: LONGEST_NAME - 3]}-{n}" for n in range(2, 100))]
    return next(name for name in names if name not in taken)


def plain_number(text: str) -> float | str:
    """Return a number; what is none is returned as it was typed, to be found at fault."""
    value = number_typed(text)
    if value is None:
        return text
    return int(value) if value.is_integer() else value
