"""What the settings say against a change, beside the fields of a form; and what stands in them."""

import re
from collections.abc import Mapping
from typing import Any, Final

from chamberwatch.core.errors import RefusedError, SettingsError, UnknownNameError
from chamberwatch.web.tells import Editing

WHOLE: Final = ""
"""What is wrong with an entry as a whole, or elsewhere in the file."""


def cures(
    error: SettingsError | RefusedError, section: str, name: str | None = None
) -> dict[str, str]:
    """Return cures by the key they belong to; those of no key of it under `WHOLE`.

    Args:
        error: what a change of the settings raised.
        section: that was changed, such as site; of a list the kind of its entries, such as sensor.
        name: of the entry; None: the section is no list.
    """
    if isinstance(error, RefusedError):
        return {WHOLE: str(error)}
    entry = "" if name is None else rf'\[\d+\](?: "{re.escape(name)}")?'
    pattern = re.compile(rf"{re.escape(section)}{entry}\.([a-z0-9_]+)")
    found: dict[str, list[str]] = {}
    for fault in error.faults:
        match = pattern.match(fault.key)
        where = match[1] if match else WHOLE
        words = fault.cure if match or not fault.key else f"{fault.key}: {fault.cure}"
        found.setdefault(where, []).append(words)
    return {field: " ".join(said) for field, said in found.items()}


def in_one(error: SettingsError | RefusedError) -> str:
    """Return what is wrong in one piece, for a page with no fields."""
    if isinstance(error, RefusedError):
        return str(error)
    return " ".join(fault.cure for fault in error.faults)


def written(editing: Editing, section: str, name: str, missing: str) -> Mapping[str, Any]:
    """Return what the settings file says of one entry of a list.

    Args:
        editing: the file.
        section: the list.
        name: of the entry.
        missing: what is said where there is none.

    Raises:
        UnknownNameError: there is none.
    """
    for entry in editing.content().get(section, ()):
        if entry.get("name") == name:
            return dict(entry)
    raise UnknownNameError(missing)
