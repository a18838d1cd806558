"""Numbers as people type them into forms: the one place where they are read."""

import re
from typing import Final

LONGEST: Final = 40

_BLANKS: Final = re.compile(r"(?<=\d)[ \u00a0\u202f](?=\d{3}(?!\d))")
"""Between groups of three, as pages of ours write thousands."""
_WRITTEN: Final = re.compile(r"[-+\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+)", re.ASCII)
_WHOLE: Final = re.compile(r"\d{1,9}", re.ASCII)


def number_typed(text: str) -> float | None:
    """Return a number as it was typed; None: it is none.

    A comma may stand for the point whatever the browser speaks, the typographic sign for a
    minus, and blanks between thousands. Nothing else that a programming language takes for a
    number is one here: no exponent, no underscore, no name.
    """
    plain = text.strip()
    if len(plain) > LONGEST:
        return None
    plain = _BLANKS.sub("", plain)
    if _WRITTEN.fullmatch(plain) is None:
        return None
    return float(plain.replace(",", ".").replace("\N{MINUS SIGN}", "-"))


def whole_typed(text: str) -> int | None:
    """Return a count of at most nine digits as it was typed; None: it is none."""
    plain = text.strip()
    return int(plain) if _WHOLE.fullmatch(plain) else None
